"""Acceptance where a star must stand in enough light: the guide sensor, cut by a level of the prism's transmission.

Same directions and turns as in `guidestar.angles.acceptance`. A star is usable where it stands on the sensor and the
transmission T is at least what its brightness needs. T belongs to the prism: when the prism moves by d along +y, so do
T and the sensor, T(x, y − d). T is smooth but its level sets may be rings, so crossings are looked for along each
star's circle (scan), then located (bracketed root), any number of them. Where a scanned maximum just misses the level,
or a minimum just keeps above it, the extremum itself is found before it is believed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.acceptance import polygon_arcs
from guidestar.optics.footprint import Footprint
from guidestar.optics.transmission import PrismFace, transmission

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Height = Callable[[IntArray, FloatArray], FloatArray]
"""A function of (row, position along that row): how far above its level the row's curve runs there."""

FINEST_SCAN = 257
COARSEST_SCAN = 33
STEPS_PER_BEAM = 8
"""The scan takes this many steps per radius of the beam: T cannot rise and fall within much less."""

_ROOT_STEPS = 60
_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0


@dataclass(frozen=True)
class LitSensor:
    """The guide sensor in the prism's light, the prism where it was measured; rig frame, mm.

    `sensor` (m, 3): half-planes of the guide sensor less the margin. `footprint` and `face`: the beam and the prism.
    """

    sensor: FloatArray
    footprint: Footprint
    face: PrismFace

    def lit(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Return T, the lit share of the beam of a star at each point."""
        return transmission(x_mm, y_mm, self.footprint, self.face)

    def moved(self, by_mm: float) -> LitSensor:
        """Return the same with the prism, its light and the sensor moved by `by_mm` along +y in the focal plane."""
        sensor = self.sensor + np.column_stack((np.zeros((len(self.sensor), 2)), self.sensor[:, 1] * by_mm))
        offset = self.face.offset_mm + by_mm * self.footprint.scale
        return LitSensor(sensor, self.footprint, PrismFace(self.face.width_mm, self.face.height_mm, offset))


def lit_arcs(
    light: LitSensor, radius_mm: FloatArray, needed: FloatArray, fully_lit: float
) -> tuple[IntArray, FloatArray]:
    """Return the arcs of direction in which stars stand on the sensor in at least the light they need.

    Parameters
    ----------
    light : LitSensor
        Sensor, beam and prism.
    radius_mm : (n,) array
        Radii of the stars' circles.
    needed : (n,) array
        Least T for each star; above 1 it is never usable.
    fully_lit : float
        A T that every point of the sensor is known to reach: stars that need no more are not scanned.

    Returns
    -------
    owner, arcs
        As `guidestar.angles.acceptance.polygon_arcs`.
    """
    hopeful = np.flatnonzero(needed <= 1.0)
    owner, arcs = polygon_arcs(light.sensor, radius_mm[hopeful])
    owner = hopeful[owner]
    picky = needed[owner] > fully_lit
    rows = np.flatnonzero(picky)
    if not len(rows):
        return owner, arcs

    def height(row: IntArray, angle_deg: FloatArray) -> FloatArray:
        radius, direction = radius_mm[owner[rows[row]]], np.radians(angle_deg)
        return light.lit(radius * np.sin(direction), radius * np.cos(direction)) - needed[owner[rows[row]]]

    length_mm = float(np.max(np.radians(arcs[rows, 1] - arcs[rows, 0]) * radius_mm[owner[rows]]))
    part, within = above_level(height, arcs[rows], scan_count(length_mm, light.footprint.radius_mm))
    every = np.concatenate((owner[~picky], owner[rows[part]]))
    order = np.argsort(every, kind="stable")
    return every[order], np.concatenate((arcs[~picky], within))[order]


def scan_count(length_mm: float, beam_radius_mm: float) -> int:
    """Return how many points to look at along a path, so that no rise and fall of T hides between two of them."""
    wanted = COARSEST_SCAN
    if beam_radius_mm > 0:
        wanted = int(np.ceil(STEPS_PER_BEAM * length_mm / beam_radius_mm)) + 1
    return int(np.clip(wanted, COARSEST_SCAN, FINEST_SCAN))


def above_level(height: Height, spans: FloatArray, count: int) -> tuple[IntArray, FloatArray]:
    """Return where continuous curves run at or above zero, each over its own span.

    Parameters
    ----------
    height : callable
        See `Height`; called with equally long arrays of rows and positions.
    spans : (k, 2) array
        Start and end of each row.
    count : int
        Points of the scan, ≥ 3.

    Returns
    -------
    row : (p,) int array, ascending
    within : (p, 2) array
        Sub-spans with height ≥ 0; their ends are the span's own or roots, good to about 1e-12 of the span.
    """
    rows = np.repeat(np.arange(len(spans)), count).reshape(len(spans), count)
    places = np.linspace(spans[:, 0], spans[:, 1], count, axis=1)
    heights = height(rows.ravel(), places.ravel()).reshape(rows.shape)
    _sharpen_extrema(height, places, heights)
    on = np.zeros((len(spans), count + 2), dtype=np.int8)
    on[:, 1:-1] = heights >= 0
    row, start = np.nonzero(np.diff(on, axis=1) == 1)
    _, end = np.nonzero(np.diff(on, axis=1) == -1)
    starts, ends = places[row, start].copy(), places[row, end - 1].copy()
    rising, falling = start > 0, end < count
    starts[rising] = _roots(height, row[rising], places, heights, start[rising] - 1)
    ends[falling] = _roots(height, row[falling], places, heights, end[falling] - 1)
    return row, np.column_stack((starts, ends))


def _roots(height: Height, row: IntArray, places: FloatArray, heights: FloatArray, left: IntArray) -> FloatArray:
    """Return the root of each row between scan points `left` and `left` + 1, by the Illinois rule.

    Regula falsi that halves the weight of an end that stays put: as safe as bisection, far quicker on smooth curves.
    """
    a, b = places[row, left], places[row, left + 1]
    height_a, height_b = heights[row, left], heights[row, left + 1]
    for _ in range(_ROOT_STEPS):
        if not len(row) or np.max(np.abs(b - a)) < 1e-12:
            break
        with np.errstate(divide="ignore", invalid="ignore"):
            middle = b - height_b * (b - a) / (height_b - height_a)
        middle = np.where(np.isfinite(middle), middle, (a + b) / 2)
        found = height(row, middle)
        crossed = (found >= 0) != (height_b >= 0)
        a, height_a = np.where(crossed, b, a), np.where(crossed, height_b, height_a / 2)
        b, height_b = middle, found
        if np.max(np.abs(found)) < 1e-13:
            break
    return b


def _sharpen_extrema(height: Height, places: FloatArray, heights: FloatArray) -> None:
    """Move, in place, scan points that hide a crossing: a near miss from below, a near touch from above.

    A point lower than the level, above both neighbours, whose parabola through the three may reach the level is
    replaced by the true maximum between the neighbours; likewise for minima.
    """
    for sign in (1.0, -1.0):
        values = sign * heights
        middle, left, right = values[:, 1:-1], values[:, :-2], values[:, 2:]
        peak = (middle < 0) & (middle >= left) & (middle >= right) & (left < 0) & (right < 0)
        bend = 2 * middle - left - right
        with np.errstate(divide="ignore", invalid="ignore"):
            top = middle + np.where(bend > 0, (right - left) ** 2 / (8 * bend), 0.0)
        # The parabola is only a guide: anything within twice the drop to a neighbour is worth a look.
        drop = np.maximum(middle - left, middle - right)
        row, column = np.nonzero(peak & ((top >= 0) | (middle + 2 * drop >= 0)))
        if len(row):
            where, value = _maximum(height, row, places[row, column], places[row, column + 2], sign)
            places[row, column + 1], heights[row, column + 1] = where, sign * value


def _maximum(
    height: Height, row: IntArray, left: FloatArray, right: FloatArray, sign: float
) -> tuple[FloatArray, FloatArray]:
    """Return place and value of each row's maximum of sign · height between two places, by golden section."""
    inner, outer = right - _GOLDEN * (right - left), left + _GOLDEN * (right - left)
    value_inner, value_outer = sign * height(row, inner), sign * height(row, outer)
    for _ in range(45):
        keep_left = value_inner >= value_outer
        left, right = np.where(keep_left, left, inner), np.where(keep_left, outer, right)
        fresh = np.where(keep_left, right - _GOLDEN * (right - left), left + _GOLDEN * (right - left))
        value = sign * height(row, fresh)
        inner, outer = np.where(keep_left, fresh, outer), np.where(keep_left, inner, fresh)
        value_inner, value_outer = (
            np.where(keep_left, value, value_outer),
            np.where(keep_left, value_inner, value),
        )
    best = value_inner >= value_outer
    return np.where(best, inner, outer), np.where(best, value_inner, value_outer)
