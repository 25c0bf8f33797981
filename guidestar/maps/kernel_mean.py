"""Compiled: the mean number of usable stars over all camera angles: an arc's length a star, no union."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.kernels import NOUGHT, TURN, add_arcs, arc_length, compiled, inlined
from guidestar.angles.kernels_light import MOST_POINTS, MOST_SPANS, ON_CIRCLE, Beam, lit_spans, needed
from guidestar.maps.kernel_field import Field, Vector
from guidestar.maps.kernel_order import OrderedStars
from guidestar.maps.kernel_target import basis, in_ring, stars_in
from guidestar.maps.kernel_windows import cell_ranges, zone_widths

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Scan = tuple[FloatArray, FloatArray, FloatArray, FloatArray]

_BINS = 4096
_BESIDE = 8
"""Bins so near to a radius at which arcs come or go are not tabulated: their length has a root there."""


class Lengths(NamedTuple):
    """Total length of a star's arcs, radians.

    `plain` (bins, 4): by 1 − cos of its distance, from that of the ring's inner to that of its outer radius, as cubics
    in each bin's own share; NaN where it has to be reckoned. `lit` (rows, columns): where light decides, by radius
    (rows) from the ring's inner to its outer one, and needed T (columns) from `low` to `best`, beyond which no star has
    its light; without rows it is reckoned star by star.
    """

    plain: FloatArray
    lit: FloatArray
    inner_mm: float
    outer_mm: float
    low: float
    best: float


@compiled
def fill_plain(table: FloatArray, focal_mm: float, inner_mm: float, outer_mm: float) -> FloatArray:
    """Return the cubics of `Lengths.plain` for a polygon's `arc_table`; they meet the length to 1e-8 radians."""
    cubics = np.empty((_BINS, 4))
    first, last = 1.0 - _cosine(inner_mm, focal_mm), 1.0 - _cosine(outer_mm, focal_mm)
    value = np.empty(4)
    for b in range(_BINS):
        for k in range(4):
            cosine = 1.0 - (first + (last - first) * (b + k / 3.0) / _BINS)
            value[k] = arc_length(table, _radius(cosine, focal_mm))
        # The cubic through four equally spaced points.
        cubics[b, 0] = value[0]
        cubics[b, 1] = -5.5 * value[0] + 9.0 * value[1] - 4.5 * value[2] + value[3]
        cubics[b, 2] = 9.0 * value[0] - 22.5 * value[1] + 18.0 * value[2] - 4.5 * value[3]
        cubics[b, 3] = 4.5 * (value[3] - value[0] + 3.0 * (value[1] - value[2]))
    for row in range(table.shape[0]):
        place = (1.0 - _cosine(table[row, 0], focal_mm) - first) / (last - first) * _BINS
        if -_BESIDE < place < _BINS + _BESIDE:
            middle = math.floor(place)
            cubics[max(middle - _BESIDE, 0) : max(middle + _BESIDE + 1, 0), :] = np.nan
    return cubics


@inlined
def _cosine(radius_mm: float, focal_mm: float) -> float:
    return 1.0 / math.sqrt(1.0 + (radius_mm / focal_mm) ** 2)


@inlined
def _radius(cosine: float, focal_mm: float) -> float:
    """Return the radius in the plane of a star whose distance from the target has this cosine, mm."""
    return focal_mm * math.sqrt(max((1.0 - cosine) * (1.0 + cosine), 0.0)) / cosine


@compiled
def fill_lit(field: Field, lengths: Lengths) -> None:
    """Fill `lengths.lit`."""
    rows, columns = lengths.lit.shape
    scan = (np.empty(MOST_POINTS), np.empty(MOST_POINTS), np.empty((MOST_SPANS, 2)), np.empty((2, 16)))
    for i in range(rows):
        rho = lengths.inner_mm + (lengths.outer_mm - lengths.inner_mm) * i / (rows - 1)
        for j in range(columns):
            level = lengths.low + (lengths.best - lengths.low) * j / (columns - 1)
            lengths.lit[i, j] = reckoned(field.arcs, field.beam, rho, level, scan)


@compiled
def reckoned(table: FloatArray, beam: Beam, rho: float, level: float, scan: Scan) -> float:
    """Return the length of a star's arcs where light decides, radians; `scan`: arrays to work in."""
    places, heights, spans, own = scan
    total = 0.0
    for k in range(add_arcs(table, rho, 0.0, own, NOUGHT)):
        first, last = -own[1, k], -own[0, k]
        length = rho * (last - first)
        parts = lit_spans(beam, ON_CIRCLE, rho, 0.0, level, first, last, length, places, heights, spans)
        for part in range(parts):
            total += spans[part, 1] - spans[part, 0]
    return total


@inlined
def _lit_length(lengths: Lengths, rho: float, level: float) -> float:
    """Return the length of a star's arcs where light decides, between its four neighbours in the table."""
    rows, columns = lengths.lit.shape
    u = (rho - lengths.inner_mm) / (lengths.outer_mm - lengths.inner_mm) * (rows - 1)
    v = (level - lengths.low) / (lengths.best - lengths.low) * (columns - 1)
    i, j = min(max(int(u), 0), rows - 2), min(max(int(v), 0), columns - 2)
    s, t = u - i, v - j
    low = lengths.lit[i, j] * (1.0 - t) + lengths.lit[i, j + 1] * t
    high = lengths.lit[i + 1, j] * (1.0 - t) + lengths.lit[i + 1, j + 1] * t
    return float(low * (1.0 - s) + high * s)


@compiled
def total_length(
    field: Field,
    lengths: Lengths,
    vectors: FloatArray,
    need: NDArray[np.float32],
    chosen: IntArray,
    number: int,
    towards: Vector,
    cosines: tuple[float, float],
    scan: Scan,
) -> float:
    """Return the summed length of the arcs of the chosen stars of a target's ring, radians."""
    total, plain = 0.0, lengths.plain
    bins_a_unit = _BINS / (cosines[0] - cosines[1])
    for k in range(number):
        i = chosen[k]
        cosine = vectors[i, 0] * towards[0] + vectors[i, 1] * towards[1] + vectors[i, 2] * towards[2]
        if need[i] > field.plain_need:
            rho = _radius(cosine, field.focal_mm)
            level = needed(field.beam, float(need[i]), rho)
            if level > field.beam.fully_lit:
                if level <= lengths.best and lengths.lit.shape[0] > 0:
                    total += _lit_length(lengths, rho, level)
                elif level <= lengths.best:
                    total += reckoned(field.arcs, field.beam, rho, level, scan)
                continue
        place = (cosines[0] - cosine) * bins_a_unit
        b = min(max(int(place), 0), _BINS - 1)
        s = place - b
        length = plain[b, 0] + s * (plain[b, 1] + s * (plain[b, 2] + s * plain[b, 3]))
        total += length if length == length else arc_length(field.arcs, _radius(cosine, field.focal_mm))
    return total


@compiled
def mean_stars(
    field: Field,
    stars: OrderedStars,
    lengths: Lengths,
    ra: FloatArray,
    dec: FloatArray,
    inner: float,
    outer: float,
    mean: FloatArray,
) -> int:
    """Fill the mean number of usable stars of each target; return how many stars of their rings there are.

    `inner`, `outer`: radii of the guide field's own ring, radians, as in `lengths`.
    """
    zones, starts, layers = stars.zones, stars.starts, stars.starts.shape[0]
    most_zones = int(2.0 * (outer + 1e-6) / zones.height) + 3
    widths, ranges = np.empty((most_zones, 2)), np.empty((4 * most_zones, 2), np.int64)
    cosines = (math.cos(inner), math.cos(outer))
    chosen = np.empty(1024, np.int64)
    scan = (np.empty(MOST_POINTS), np.empty(MOST_POINTS), np.empty((MOST_SPANS, 2)), np.empty((2, 16)))
    zone0, zone_number, dec_before, pairs = 0, 0, np.nan, 0
    for target in range(ra.shape[0]):
        if dec[target] != dec_before:
            zone0, zone_number = zone_widths(zones, dec[target], inner, outer, widths)
            dec_before = dec[target]
        number = cell_ranges(zones, ra[target], zone0, zone_number, widths, ranges)
        towards = basis(ra[target], dec[target])[0]
        total = 0.0
        for layer in range(layers):
            wanted = stars_in(starts, layer, ranges, number) + 1
            if wanted > chosen.shape[0]:
                chosen = np.empty(2 * wanted, np.int64)
            found = in_ring(stars.vectors, starts, layer, ranges, number, towards, cosines, chosen, NOUGHT)
            total += total_length(field, lengths, stars.vectors, stars.need, chosen, found, towards, cosines, scan)
            pairs += found
        mean[target] = total / TURN
    return pairs
