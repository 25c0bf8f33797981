"""Compiled: sure angles of a target, where no star is sure by itself and several may hand over to each other."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.kernels import FIRST_ARC, NOUGHT, NUMBERS_AN_ARC, TURN, add_arcs, compiled, inlined, merged
from guidestar.angles.kernels_circle import CELL, CELLS, END, GAP_END, GAP_START, START, WORDS, range_covered
from guidestar.angles.kernels_light import needed
from guidestar.angles.kernels_pairs import Rectangle, add_pairs, add_parts, room_for_strips
from guidestar.angles.kernels_places import Runs, cells_of, first_cell, run_at
from guidestar.angles.kernels_sure import is_smooth, sure_width
from guidestar.angles.kernels_sure_lit import sure_with_light
from guidestar.maps.kernel_field import Field

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ACTIVE, CHOSEN, PICKY, FIRST_CELL, CELLS_OF, ARCS, LOCAL, STEP = range(8)
"""Rows of `Crowd.numbers`: which stars are on; those put forward; whether a star needs more light than the whole sensor
has; the run of cells that it may touch; how many arcs it has, −1 where not yet known; which stars matter in a range;
which star comes (i + 1) or goes (−i − 1) at a mark."""

_MARK = 2
"""Row of `Crowd.arcs`, after those of starts and ends: marks in order."""


class Crowd(NamedTuple):
    """Stars that some move within ± δ brings inside, and arrays to work in.

    `stars` (n, 4) as `guidestar.angles.kernels_sure.sure_width` wants them. `arcs`: of star i from place `most` · i on.
    """

    stars: NDArray[np.float64]
    arcs: NDArray[np.float64]
    numbers: NDArray[np.int64]
    strips: NDArray[np.float64]
    most: int


@inlined
def most_arcs(table: FloatArray) -> int:
    """Return how many arcs of turn a star may have in the polygon of an `arc_table`."""
    return int((table.shape[1] - FIRST_ARC) // NUMBERS_AN_ARC)


@compiled
def crowd_for(size: int, most: int) -> Crowd:
    """Return room for a number of stars with up to `most` arcs each."""
    width = (2 * size + 2) * most
    return Crowd(np.empty((size, 4)), np.empty((3, width)), np.empty((8, width), np.int64), room_for_strips(size), most)


@inlined
def placed(field: Field, sides: tuple[float, float], x: float, y: float) -> tuple[float, float]:
    """Return ρ sin γ and ρ cos γ of a place in the plane, with γ = ±θ − β; `sides`: sine and cosine of β."""
    east = -x if field.mirrored else x
    return east * sides[1] - y * sides[0], y * sides[1] + east * sides[0]


@compiled
def in_pairs(
    field: Field,
    rectangle: Rectangle,
    runs: Runs,
    near: FloatArray,
    found: int,
    bits: IntArray,
    arcs: FloatArray,
    n: int,
    crowd: Crowd,
) -> tuple[int, bool]:
    """Append the arcs that plain stars make sure, alone or two by two, where `bits` leaves cells open.

    Return the new number of arcs, −1 if there is no room for all, and whether stars in need of light may do more.
    """
    sides, picky, numbers = (math.sin(field.side), math.cos(field.side)), False, (n, NOUGHT, NOUGHT)
    for i in range(found):
        x, y, need = near[0, i], near[1, i], near[2, i]
        run = run_at(runs, field.squares_a_mm, x, y)
        if run == 0 or range_covered(bits, first_cell(run), cells_of(run)):
            continue
        rho = math.sqrt(x * x + y * y)
        if need > field.plain_need:
            level = needed(field.beam, need, rho)
            if level > field.beam.fully_lit:
                picky |= level <= 1.0
                continue
        across, along = placed(field, sides, x, y)
        numbers = add_parts(rectangle, across, along, rho, bits, arcs, crowd.strips, numbers)
    return add_pairs(rectangle, crowd.strips, numbers[1], numbers[2], bits, arcs, numbers[0]), picky


@compiled
def touching(field: Field, runs: Runs, near: FloatArray, found: int, settled: IntArray, crowd: Crowd) -> int:
    """Enter the stars that matter in cells that are not settled; return their number.

    `near`: rows as `kernel_target` has them, X, Y and needed throughput.
    """
    n, sides = 0, (math.sin(field.side), math.cos(field.side))
    stars, numbers = crowd.stars, crowd.numbers
    for i in range(found):
        x, y, need = near[0, i], near[1, i], near[2, i]
        run = run_at(runs, field.squares_a_mm, x, y)
        if run == 0 or range_covered(settled, first_cell(run), cells_of(run)):
            continue
        rho, level = math.sqrt(x * x + y * y), 0.0
        if need > field.plain_need:
            level = needed(field.beam, need, rho)
            if level > 1.0:
                continue
        stars[n, 0], stars[n, 1] = placed(field, sides, x, y)
        stars[n, 2], stars[n, 3] = rho, level
        numbers[PICKY, n] = level > field.beam.fully_lit
        numbers[FIRST_CELL, n], numbers[CELLS_OF, n], numbers[ARCS, n] = first_cell(run), cells_of(run), -1
        n += 1
    return n


@merged
def handed_over(
    field: Field,
    pairs_done: bool,
    arcs: FloatArray,
    gaps: int,
    settled: IntArray,
    n: int,
    crowd: Crowd,
    room: FloatArray,
) -> float:
    """Return how much of the gaps in `arcs` several of n stars make sure together, radians.

    `pairs_done`: what plain stars make sure is no more among the gaps.
    """
    sure, smooth, last = 0.0, is_smooth(field.planes), settled.shape[0] - 1
    for gap in range(gaps):
        start, stop = arcs[GAP_START, gap], arcs[GAP_END, gap]
        cell, final = int(start / CELL), min(int(stop / CELL), CELLS - 1)
        while cell <= final:
            begin = cell
            while cell <= final and not (settled[last, (cell >> 6) & (WORDS - 1)] >> (cell & 63)) & 1:
                cell += 1
            low, high = max(start, begin * CELL), min(stop, cell * CELL)
            if cell > begin and high > low:
                sure += _in_range(field, pairs_done, smooth, n, begin, cell - begin, low, high, crowd, room)
            cell += cell == begin
    return sure


@merged
def _in_range(
    field: Field,
    pairs_done: bool,
    smooth: bool,
    n: int,
    first: int,
    cells: int,
    low: float,
    high: float,
    crowd: Crowd,
    room: FloatArray,
) -> float:
    """Return how much of a range of turns, within a run of cells, is sure, radians."""
    numbers, arcs = crowd.numbers, crowd.arcs
    local = 0
    for i in range(n):
        numbers[LOCAL, local] = i
        local += _meets(numbers[FIRST_CELL, i], numbers[CELLS_OF, i], first, cells)
    if local < field.min_stars:
        return 0.0
    marks, active = NOUGHT, NOUGHT
    for k in range(local):
        i = numbers[LOCAL, k]
        place = i * crowd.most
        if numbers[ARCS, i] < 0:
            phase = math.atan2(crowd.stars[i, 0], crowd.stars[i, 1])
            numbers[ARCS, i] = add_arcs(field.touch_arcs, crowd.stars[i, 2], phase, arcs, place) - place
        for arc in range(place, place + numbers[ARCS, i]):
            marks, active = _enter(numbers, arcs, i, arcs[START, arc], arcs[END, arc], low, high, marks, active)
    return _through(field, pairs_done, smooth, low, high, marks, active, crowd.stars, numbers, arcs, room)


@inlined
def _meets(first: int, cells: int, other: int, other_cells: int) -> bool:
    """Return whether two runs of cells share one."""
    return (((other - first) & (CELLS - 1)) < cells) | (((first - other) & (CELLS - 1)) < other_cells)


@inlined
def _enter(
    numbers: IntArray,
    arcs: FloatArray,
    star: int,
    start: float,
    end: float,
    low: float,
    high: float,
    marks: int,
    active: int,
) -> tuple[int, int]:
    """Enter where an arc begins and ends within a range; return the numbers of marks and of stars on at its start."""
    begin = start - math.floor((start - low) / TURN) * TURN  # from `low` on
    stop = begin + (end - start)
    if stop - TURN > low:
        numbers[ACTIVE, active] = star
        active += 1
        if stop - TURN < high:
            marks = _insert(numbers, arcs, marks, stop - TURN, -star - 1)
    if begin < high:
        marks = _insert(numbers, arcs, marks, begin, star + 1)
        if stop < high:
            marks = _insert(numbers, arcs, marks, stop, -star - 1)
    return marks, active


@inlined
def _insert(numbers: IntArray, arcs: FloatArray, marks: int, mark: float, step: int) -> int:
    """Put a mark in its place; return the new number of marks."""
    j = marks
    while j > 0 and arcs[_MARK, j - 1] > mark:
        arcs[_MARK, j], numbers[STEP, j] = arcs[_MARK, j - 1], numbers[STEP, j - 1]
        j -= 1
    arcs[_MARK, j], numbers[STEP, j] = mark, step
    return marks + 1


@merged
def _through(
    field: Field,
    pairs_done: bool,
    smooth: bool,
    low: float,
    high: float,
    marks: int,
    active: int,
    stars: FloatArray,
    numbers: IntArray,
    arcs: FloatArray,
    room: FloatArray,
) -> float:
    """Return how much of a range is sure, going through it from mark to mark, radians."""
    sure, before = 0.0, low
    for mark in range(marks + 1):
        here = high if mark == marks else arcs[_MARK, mark]
        if here > before and active >= field.min_stars:
            sure += _together(field, pairs_done, smooth, active, before, here, stars, numbers, room)
        before = max(before, here)
        if mark < marks:
            active = _changed(numbers, active, numbers[STEP, mark])
    return sure


@inlined
def _changed(numbers: IntArray, active: int, step: int) -> int:
    """Add or remove a star; return how many are on."""
    if step > 0:
        numbers[ACTIVE, active] = step - 1
        return active + 1
    for i in range(active):
        if numbers[ACTIVE, i] == -step - 1:
            numbers[ACTIVE, i] = numbers[ACTIVE, active - 1]
            return active - 1
    return active


@merged
def _together(
    field: Field,
    pairs_done: bool,
    smooth: bool,
    active: int,
    low: float,
    high: float,
    stars: FloatArray,
    numbers: IntArray,
    room: FloatArray,
) -> float:
    """Return how much of some turns is sure though no star is by itself, radians; so many stars are on throughout.

    With `count` stars wanted, `count` others are then not enough, unless one of them needs light: what it covers by
    itself was not counted yet.
    """
    plain = NOUGHT
    for i in range(active):
        star = numbers[ACTIVE, i]
        numbers[CHOSEN, plain] = star
        plain += 1 - numbers[PICKY, star]
    if plain == active:
        if pairs_done or active == field.min_stars:
            return 0.0
        return sure_width(
            field.planes, smooth, stars, numbers, active, low, high, field.min_stars, field.accuracy_mm, room
        )
    every = plain
    for i in range(active):
        star = numbers[ACTIVE, i]
        if numbers[PICKY, star]:
            numbers[CHOSEN, every] = star
            every += 1
    return sure_with_light(
        field.planes, field.beam, stars, numbers, plain, every, low, high, field.min_stars, field.accuracy_mm, room
    )
