"""Compiled: one target after another, all camera angles.

For a target: the stars of its ring, layer by layer, until whole cells of the circle are surely covered (by the squares
of `guidestar.angles.kernels_places`); where some are left, exact arcs of those stars that touch them, and nothing else.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.kernels import NOUGHT, TURN, add_arcs, compiled, fixed, inlined, merged
from guidestar.angles.kernels_circle import (
    CELLS,
    GAP_END,
    GAP_START,
    RUN_START,
    add_covered,
    all_covered,
    clear,
    cover,
    empty_bits,
    joined,
    range_covered,
    room_for_arcs,
    shared_half_a_turn_away,
    total,
    wanting,
    widest,
)
from guidestar.angles.kernels_light import MOST_POINTS, MOST_SPANS, ON_CIRCLE, lit_spans, needed
from guidestar.angles.kernels_pairs import Rectangle, rectangle_of
from guidestar.angles.kernels_places import LONGEST_INNER, SQUARES, Runs, cells_of, first_cell, run_at
from guidestar.angles.kernels_sure import room_for
from guidestar.maps.kernel_counts import Further, chance_in_gaps, listed_in_disc, stars_by_angle
from guidestar.maps.kernel_field import (
    BLIND,
    CORE_INNER,
    CORE_OUTER,
    EXPECTED,
    FLIP_SAFE,
    IN_OUTER,
    INNER,
    NEED,
    OUT_OUTER,
    OUTER,
    SURE,
    TOUCH_OUTER,
    USABLE,
    Field,
    FloatArray,
    Frame,
    IntArray,
    Vector,
    Wish,
    X,
    Y,
)
from guidestar.maps.kernel_order import OrderedStars
from guidestar.maps.kernel_sure import Crowd, crowd_for, handed_over, in_pairs, most_arcs, touching
from guidestar.maps.kernel_windows import cell_ranges, zone_widths

(_FIRST_ROOM,) = fixed(256)
"""Stars that there is room for at first."""


@inlined
def basis(ra: float, dec: float) -> Frame:
    """Return the unit vectors to a target, and east and north there."""
    sin_ra, cos_ra, sin_dec, cos_dec = math.sin(ra), math.cos(ra), math.sin(dec), math.cos(dec)
    return (
        (cos_dec * cos_ra, cos_dec * sin_ra, sin_dec),
        (-sin_ra, cos_ra, 0.0),
        (-sin_dec * cos_ra, -sin_dec * sin_ra, cos_dec),
    )


@inlined
def in_ring(
    vectors: FloatArray,
    starts: NDArray[np.int32],
    layer: int,
    ranges: IntArray,
    number: int,
    towards: Vector,
    cosines: tuple[float, float],
    chosen: IntArray,
    found: int,
) -> int:
    """Append to `chosen` which stars of a layer lie in the ring; return how many are chosen.

    `chosen` must have room for all stars of the ranges and one more. Written without a branch on a star: about half of
    them are in the ring, and a processor that guesses wrong loses more time than the work takes.
    """
    x, y, z = towards
    for r in range(number):
        for i in range(starts[layer, ranges[r, 0]], starts[layer, ranges[r, 1]]):
            cosine = vectors[i, 0] * x + vectors[i, 1] * y + vectors[i, 2] * z
            chosen[found] = i
            found += (cosine >= cosines[1]) & (cosine <= cosines[0])
    return found


@compiled
def lay_out(
    vectors: FloatArray,
    need: NDArray[np.float32],
    chosen: IntArray,
    found: int,
    frame: Frame,
    focal_mm: float,
    near: FloatArray,
) -> None:
    """Fill `near` with the chosen stars, around a target with this `basis`."""
    t, e, n = frame
    for k in range(found):
        i = chosen[k]
        a, b, c = vectors[i, 0], vectors[i, 1], vectors[i, 2]
        scale = focal_mm / (a * t[0] + b * t[1] + c * t[2])
        near[X, k] = (a * e[0] + b * e[1]) * scale
        near[Y, k] = (a * n[0] + b * n[1] + c * n[2]) * scale
        near[NEED, k] = need[i]


@compiled
def mark_covered(
    runs: Runs,
    scales: tuple[float, float, float],
    vectors: FloatArray,
    need: NDArray[np.float32],
    chosen: IntArray,
    before: int,
    found: int,
    frame: Frame,
    squares: IntArray,
    bits: IntArray,
) -> None:
    """Count the cells that the plain ones of the chosen stars surely cover.

    In two loops, of which the first is free of branches and of memory that it changes and reads again, so that several
    stars are worked on at once. `scales`: squares a mm, focal length and the need of plain stars, as `Field` has them;
    `squares`: to work in, as long as `chosen`.
    """
    t, e, n = frame
    squares_a_tangent, plain_need = scales[0] * scales[1], scales[2]
    for k in range(before, found):
        i = chosen[k]
        a, b, c = vectors[i, 0], vectors[i, 1], vectors[i, 2]
        scale = squares_a_tangent / (a * t[0] + b * t[1] + c * t[2])
        row, column = (a * n[0] + b * n[1] + c * n[2]) * scale, (a * e[0] + b * e[1]) * scale
        squares[k] = int(row + SQUARES / 2) * SQUARES + int(column + SQUARES / 2)
    flat = runs.ravel()
    if bits.shape[0] == 2:
        _mark_once(flat, need, plain_need, chosen, before, found, squares, bits)
        return
    for k in range(before, found):
        run = int(np.int64(flat[squares[k]]))
        cover(bits, first_cell(run), (run >> 8) * int(need[chosen[k]] <= plain_need))


@inlined
def _mark_once(
    flat: Runs,
    need: NDArray[np.float32],
    plain_need: float,
    chosen: IntArray,
    before: int,
    found: int,
    squares: IntArray,
    bits: IntArray,
) -> None:
    """Do as `cover` for many runs where one star is enough, the four words of the circle held in registers."""
    word0, word1, word2, word3 = bits[1, 0], bits[1, 1], bits[1, 2], bits[1, 3]
    for k in range(before, found):
        run = int(np.int64(flat[squares[k]])) * int(need[chosen[k]] <= plain_need)
        word, shift, mask = (run & (CELLS - 1)) >> 6, run & 63, (1 << (run >> 8)) - 1
        here, beyond = mask << shift, (mask >> (63 - shift)) >> 1
        word0 |= (here if word == 0 else 0) | (beyond if word == 3 else 0)
        word1 |= (here if word == 1 else 0) | (beyond if word == 0 else 0)
        word2 |= (here if word == 2 else 0) | (beyond if word == 1 else 0)
        word3 |= (here if word == 3 else 0) | (beyond if word == 2 else 0)
    bits[1, 0], bits[1, 1], bits[1, 2], bits[1, 3] = word0, word1, word2, word3


@inlined
def stars_in(starts: NDArray[np.int32], layer: int, ranges: IntArray, number: int) -> int:
    """Return how many stars of a layer lie in ranges of cells."""
    stars = 0
    for r in range(number):
        stars += starts[layer, ranges[r, 1]] - starts[layer, ranges[r, 0]]
    return stars


@inlined
def phase_of(side: float, mirrored: bool, x: float, y: float) -> float:
    """Return γ of a place in the plane, radians; see `guidestar.angles.acceptance.star_phase_deg`."""
    theta = math.atan2(x, y)
    return (-theta if mirrored else theta) - side


@compiled
def plain_arcs(
    field: Field, table: FloatArray, kind: int, near: FloatArray, found: int, bits: IntArray, arcs: FloatArray, n: int
) -> int:
    """Append the exact arcs of plain stars that touch cells that `bits` leaves open; return the new number of arcs."""
    runs = field.places[kind]
    for i in range(found):
        x, y = near[X, i], near[Y, i]
        run = run_at(runs, field.squares_a_mm, x, y)
        if run == 0 or range_covered(bits, first_cell(run), cells_of(run)):
            continue
        rho = math.hypot(x, y)
        if near[NEED, i] > field.plain_need and needed(field.beam, near[NEED, i], rho) > field.beam.fully_lit:
            continue
        n = add_arcs(table, rho, phase_of(field.side, field.mirrored, x, y), arcs, n)
    return n


@inlined
def touches(arcs: FloatArray, gaps: int, start: float, end: float) -> bool:
    """Return whether an arc, anywhere on the real line, overlaps one of the gaps."""
    base = start - math.floor(start / TURN) * TURN
    width = end - start
    for i in range(gaps):
        if base < arcs[GAP_END, i] and base + width > arcs[GAP_START, i]:
            return True
        if base - TURN + width > arcs[GAP_START, i]:
            return True
    return False


@compiled
def lit_arcs(field: Field, near: FloatArray, found: int, gaps: int, arcs: FloatArray, n: int) -> int:
    """Append the arcs of stars in need of much light that touch some gaps; return the new number of arcs."""
    places, heights, spans, own = (
        np.empty(MOST_POINTS),
        np.empty(MOST_POINTS),
        np.empty((MOST_SPANS, 2)),
        np.empty((2, 16)),
    )
    for i in range(found):
        if near[NEED, i] <= field.plain_need:
            continue
        rho = math.hypot(near[X, i], near[Y, i])
        level = needed(field.beam, near[NEED, i], rho)
        if level <= field.beam.fully_lit or level > 1.0:
            continue
        phase = phase_of(field.side, field.mirrored, near[X, i], near[Y, i])
        on_sensor = add_arcs(field.arcs, rho, phase, own, NOUGHT)
        for j in range(on_sensor):
            if not touches(arcs, gaps, own[0, j], own[1, j]):
                continue
            first, last = phase - own[1, j], phase - own[0, j]
            length = rho * (last - first)
            parts = lit_spans(field.beam, ON_CIRCLE, rho, 0.0, level, first, last, length, places, heights, spans)
            for part in range(min(parts, arcs.shape[1] // 2 - 1 - n)):
                arcs[0, n], arcs[1, n] = phase - spans[part, 1], phase - spans[part, 0]
                n += 1
    return n


@merged
def open_turns(
    field: Field, near: FloatArray, found: int, bits: IntArray, arcs: FloatArray, marks: IntArray, any_picky: bool
) -> int:
    """Enter the turns that too few stars cover as gaps; return their number."""
    n = plain_arcs(field, field.arcs, OUTER, near, found, bits, arcs, add_covered(bits, arcs, NOUGHT))
    gaps = wanting(arcs, marks, n, field.min_stars)
    if gaps and any_picky:
        more = lit_arcs(field, near, found, gaps, arcs, n)
        if more > n:
            gaps = wanting(arcs, marks, more, field.min_stars)
    return gaps


@compiled
def summarise(arcs: FloatArray, gaps: int, row: FloatArray) -> None:
    """Enter usable and flip-safe share and the longest blind range, from the turns that are not usable."""
    blind = total(arcs, GAP_START, gaps)
    row[USABLE] = min(max(1.0 - blind / TURN, 0.0), 1.0)
    shared = shared_half_a_turn_away(arcs, gaps)
    row[FLIP_SAFE] = min(max(1.0 - (2.0 * blind - shared) / TURN, 0.0), 1.0)
    row[BLIND] = math.degrees(widest(arcs, RUN_START, joined(arcs, gaps)))


@compiled
def settle(field: Field, near: FloatArray, found: int, core_bits: IntArray) -> None:
    """Add to the cells surely covered those that cannot be sure: wherever of three places the prism is, too few stars.

    No further look at stars that touch only such cells is needed.
    """
    bits, last = np.empty_like(core_bits), field.min_stars
    for kind in (OUTER, IN_OUTER, OUT_OUTER):
        clear(bits)
        for i in range(found):
            run = run_at(field.places[kind], field.squares_a_mm, near[X, i], near[Y, i])
            if cells_of(run) > LONGEST_INNER:
                bits[1:, :] = -1
            else:
                cover(bits, first_cell(run), run >> 8)
        for word in range(bits.shape[1]):
            core_bits[last, word] |= ~bits[last, word]


@merged
def sure_share(
    field: Field,
    rectangle: Rectangle,
    near: FloatArray,
    found: int,
    core_bits: IntArray,
    arcs: FloatArray,
    marks: IntArray,
    room: FloatArray,
    crowd: Crowd,
) -> float:
    """Return the share of the circle that is sure."""
    n, picky, pairs_done = add_covered(core_bits, arcs, NOUGHT), True, rectangle.known
    if pairs_done:
        n, picky = in_pairs(field, rectangle, field.places[TOUCH_OUTER], near, found, core_bits, arcs, n, crowd)
        if n < 0:
            n, picky, pairs_done = add_covered(core_bits, arcs, NOUGHT), True, False
    if picky:
        settle(field, near, found, core_bits)
    if not pairs_done:
        n = plain_arcs(field, field.core_arcs, CORE_OUTER, near, found, core_bits, arcs, n)
    gaps, more = wanting(arcs, marks, n, field.min_stars), 0.0
    if gaps and picky:
        n = touching(field, field.places[TOUCH_OUTER], near, found, core_bits, crowd)
        more = handed_over(field, pairs_done, arcs, gaps, core_bits, n, crowd, room)
    return min(max(1.0 - (total(arcs, GAP_START, gaps) - more) / TURN, 0.0), 1.0)


@merged
def expected_share(
    field: Field,
    further: Further,
    stars: OrderedStars,
    target: int,
    frame: Frame,
    ranges: IntArray,
    number: int,
    arcs: FloatArray,
    marks: IntArray,
    gaps: int,
    usable: float,
) -> float:
    """Return the share of the circle usable with the chance of further stars in the gaps."""
    listed_in_disc(
        further.reach, stars.vectors, stars.step, stars.starts, ranges, number, frame[0], math.cos(further.disc)
    )
    stars_by_angle(further, target, frame)
    chance = chance_in_gaps(further.by_angle, field.mirrored, arcs, marks, gaps)
    return min(usable + chance / TURN, 1.0)


@merged
def sweep_targets(
    field: Field,
    stars: OrderedStars,
    further: Further,
    ra: FloatArray,
    dec: FloatArray,
    wish: Wish,
    inner: float,
    outer: float,
    rows: FloatArray,
) -> int:
    """Work out targets one after another; quickest if those of one declination come together.

    Parameters
    ----------
    field : Field
    stars : OrderedStars
    further : Further
        What the expected share needs; not looked at where it is not wanted.
    ra, dec : (n,) arrays
        Targets, radians.
    wish : Wish
    inner, outer : float
        Radii of the ring of stars that may matter, radians.
    rows : (n, 6) array
        Filled with the columns wanted, but for `MEAN`.

    Returns
    -------
    int
        Stars of rings that were looked at.
    """
    zones, vectors, starts = stars.zones, stars.vectors, stars.starts
    layers, last_layer = starts.shape[0], starts.shape[0] - 1
    most_zones = int(2.0 * (max(outer, further.disc) + 1e-6) / zones.height) + 3
    widths, disc_widths = np.empty((most_zones, 2)), np.empty((most_zones, 2))
    ranges = np.empty((4 * most_zones, 2), np.int64)
    bits, core_bits = empty_bits(field.min_stars), empty_bits(field.min_stars)
    size = _FIRST_ROOM
    chosen, squares, near = np.empty(size, np.int64), np.empty(size, np.int64), np.empty((3, size))
    arcs, marks = room_for_arcs(8 * size + CELLS * field.min_stars)
    crowd, room = crowd_for(size, most_arcs(field.touch_arcs)), room_for(4 * size)
    cosines = (math.cos(inner) if inner > 0.0 else 2.0, math.cos(outer))
    rectangle = rectangle_of(field.planes, field.accuracy_mm, field.min_stars)
    zone0, zone_number, dec_before, pairs = 0, 0, np.nan, 0
    disc_zone0, disc_zones, disc_before = 0, 0, np.nan
    for target in range(ra.shape[0]):
        if dec[target] != dec_before:
            zone0, zone_number = zone_widths(zones, dec[target], inner, outer, widths)
            dec_before = dec[target]
        number = cell_ranges(zones, ra[target], zone0, zone_number, widths, ranges)
        frame = basis(ra[target], dec[target])
        clear(bits)
        clear(core_bits)
        found, done, core_done, any_picky = NOUGHT, False, not wish.sure, False
        for layer in range(layers):
            if starts[layer, 0] == starts[layer, -1]:
                continue
            wanted = found + stars_in(starts, layer, ranges, number) + 1
            if wanted > size:
                size = 2 * wanted
                chosen = np.concatenate((chosen[:found], np.empty(size - found, np.int64)))
                squares, near = np.empty(size, np.int64), np.empty((3, size))
                arcs, marks = room_for_arcs(8 * size + CELLS * field.min_stars)
                crowd, room = crowd_for(size, most_arcs(field.touch_arcs)), room_for(4 * size)
            before = found
            found = in_ring(vectors, starts, layer, ranges, number, frame[0], cosines, chosen, found)
            any_picky = layer == last_layer and found > before
            scales = (field.squares_a_mm, field.focal_mm, field.plain_need)
            if not done:
                mark_covered(
                    field.places[INNER], scales, vectors, stars.need, chosen, before, found, frame, squares, bits
                )
                done = all_covered(bits)
            if not core_done:
                mark_covered(
                    field.places[CORE_INNER],
                    scales,
                    vectors,
                    stars.need,
                    chosen,
                    before,
                    found,
                    frame,
                    squares,
                    core_bits,
                )
                core_done = all_covered(core_bits)
            if core_done and (done or not wish.coverage):
                break
        pairs += found
        row = rows[target]
        row[USABLE], row[FLIP_SAFE], row[BLIND], row[SURE], row[EXPECTED] = 1.0, 1.0, 0.0, 1.0, 1.0
        if not (done and core_done):
            lay_out(vectors, stars.need, chosen, found, frame, field.focal_mm, near)
        if not done and (wish.coverage or field.accuracy_mm <= 0.0):
            gaps = open_turns(field, near, found, bits, arcs, marks, any_picky)
            summarise(arcs, gaps, row)
            row[EXPECTED] = row[USABLE]
            if wish.expected and gaps:
                if dec[target] != disc_before:
                    disc_zone0, disc_zones = zone_widths(zones, dec[target], 0.0, further.disc, disc_widths)
                    disc_before = dec[target]
                number = cell_ranges(zones, ra[target], disc_zone0, disc_zones, disc_widths, ranges)
                row[EXPECTED] = expected_share(
                    field, further, stars, target, frame, ranges, number, arcs, marks, gaps, row[USABLE]
                )
        if wish.sure and not core_done:
            if field.accuracy_mm <= 0.0:
                row[SURE] = row[USABLE]
            else:
                row[SURE] = sure_share(field, rectangle, near, found, core_bits, arcs, marks, room, crowd)
    return pairs
