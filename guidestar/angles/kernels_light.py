"""Compiled angle kernels, the light: where a star in need of much light has it, along a circle or along a move.

The same scan and the same roots as `guidestar.angles.light`, one star at a time; T as in
`guidestar.optics.transmission`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.kernels import compiled, fixed, inlined
from guidestar.angles.light import COARSEST_SCAN, FINEST_SCAN, STEPS_PER_BEAM

FloatArray = NDArray[np.float64]

GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
MOST_POINTS = FINEST_SCAN
MOST_SPANS = FINEST_SCAN // 2 + 2
ON_CIRCLE, ON_MOVE = fixed(0, 1)
_COARSEST_MOVE = 9
"""Points at least along a move: it is a millimetre or two long, and the beam's radius rules as on a circle."""


class Beam(NamedTuple):
    """The beam on the prism's face and the telescope's vignetting, as plain numbers, mm.

    `whole_mm2`: area of the annulus. `circle_mm`: radius of the image circle (inf: no vignetting), `fall_mm`: over
    which the light falls to nothing beyond it. `fully_lit`: a T that every point of the sensor reaches.
    """

    outer_mm: float
    inner_mm: float
    whole_mm2: float
    scale: float
    half_width_mm: float
    low_mm: float
    high_mm: float
    circle_mm: float
    fall_mm: float
    fully_lit: float


@inlined
def vignetting(beam: Beam, rho: float) -> float:
    """Return V at a radius; see `guidestar.optics.vignetting`."""
    excess = rho - beam.circle_mm
    if excess <= 0.0:
        return 1.0
    if beam.fall_mm <= 0.0:
        return 0.0
    return max(1.0 - excess / beam.fall_mm, 0.0)


@inlined
def needed(beam: Beam, need: float, rho: float) -> float:
    """Return the T that a star needs at a radius, from the throughput that its magnitude needs; inf: never usable."""
    passed = vignetting(beam, rho)
    return need / passed if passed > 0.0 else np.inf


@inlined
def _strip(t: float) -> float:
    """Return |g(t)| − π/8 of `guidestar.optics.footprint.disc_rectangle_area`, −1 ≤ t ≤ 1."""
    return abs(0.5 * (t * math.sqrt((1.0 - t) * (1.0 + t)) + math.asin(t))) - math.pi / 8


@inlined
def _corner(x: float, y: float, strip_x: float, strip_y: float) -> float:
    """Return K(x, y) of `guidestar.optics.footprint.disc_rectangle_area`."""
    product = x * y
    if x * x + y * y <= 1.0:
        return product
    return math.copysign(strip_x + strip_y, product)


@compiled
def _shared_area(x1: float, x2: float, y1: float, y2: float, radius: float) -> float:
    """Return the area that a disc about the origin shares with a rectangle."""
    a, b = min(max(x1, -radius), radius) / radius, min(max(x2, -radius), radius) / radius
    c, d = min(max(y1, -radius), radius) / radius, min(max(y2, -radius), radius) / radius
    if a == -1.0 and b == 1.0 and c == -1.0 and d == 1.0:
        return math.pi * radius * radius
    sa, sb, sc, sd = _strip(a), _strip(b), _strip(c), _strip(d)
    area = _corner(b, d, sb, sd) - _corner(a, d, sa, sd) - _corner(b, c, sb, sc) + _corner(a, c, sa, sc)
    return max(area, 0.0) * radius * radius


@compiled
def transmission(beam: Beam, x: float, y: float) -> float:
    """Return T, the lit share of the beam of a star at a point of the focal plane, rig frame, mm."""
    xs, ys = x * beam.scale, y * beam.scale
    x1, x2, y1, y2 = -beam.half_width_mm - xs, beam.half_width_mm - xs, beam.low_mm - ys, beam.high_mm - ys
    if beam.outer_mm <= 0.0:
        return _step(-x1) * _step(x2) * _step(-y1) * _step(y2)
    lit = _shared_area(x1, x2, y1, y2, beam.outer_mm)
    if beam.inner_mm > 0.0:
        lit -= _shared_area(x1, x2, y1, y2, beam.inner_mm)
    return min(max(lit / beam.whole_mm2, 0.0), 1.0)


@inlined
def _step(value: float) -> float:
    """Return 0 below zero, 1 above, ½ at it."""
    return 0.0 if value < 0.0 else (1.0 if value > 0.0 else 0.5)


@compiled
def _height(beam: Beam, kind: int, p: float, q: float, level: float, place: float) -> float:
    """Return how far T is above a level: on the circle of radius p in direction `place`, or at (p, q − `place`)."""
    if kind == ON_CIRCLE:
        return transmission(beam, p * math.sin(place), p * math.cos(place)) - level
    return transmission(beam, p, q - place) - level


@compiled
def lit_spans(
    beam: Beam,
    kind: int,
    p: float,
    q: float,
    level: float,
    start: float,
    end: float,
    length_mm: float,
    places: FloatArray,
    heights: FloatArray,
    spans: FloatArray,
) -> int:
    """Fill `spans` with the parts of a path on which T is at least `level`; return their number.

    Parameters
    ----------
    beam : Beam
    kind, p, q
        The path, see `_height`; from `start` to `end` along it, `length_mm` long in the focal plane.
    places, heights : (`MOST_POINTS`,) arrays
        To work in.
    spans : (`MOST_SPANS`, 2) array
    """
    coarsest = COARSEST_SCAN if kind == ON_CIRCLE else _COARSEST_MOVE
    count = coarsest
    if beam.outer_mm > 0.0:
        count = math.ceil(STEPS_PER_BEAM * length_mm / beam.outer_mm) + 1
    count = min(max(count, coarsest), FINEST_SCAN)
    for i in range(count):
        places[i] = end if i == count - 1 else start + (end - start) * i / (count - 1)
        heights[i] = _height(beam, kind, p, q, level, places[i])
    for sign in (1.0, -1.0):
        _sharpen(beam, kind, p, q, level, places, heights, count, sign)
    found, on = 0, False
    for i in range(count):
        if heights[i] >= 0.0 and not on:
            spans[found, 0] = places[i] if i == 0 else _root(beam, kind, p, q, level, places, heights, i - 1)
            on = True
        elif heights[i] < 0.0 and on:
            spans[found, 1] = _root(beam, kind, p, q, level, places, heights, i - 1)
            on = False
            found += 1
    if on:
        spans[found, 1] = places[count - 1]
        found += 1
    return found


@compiled
def _sharpen(
    beam: Beam,
    kind: int,
    p: float,
    q: float,
    level: float,
    places: FloatArray,
    heights: FloatArray,
    count: int,
    sign: float,
) -> None:
    """Move scan points that hide a crossing to the extremum itself; see `guidestar.angles.light`."""
    for i in range(1, count - 1):
        middle, left, right = sign * heights[i], sign * heights[i - 1], sign * heights[i + 1]
        if not (middle < 0.0 and middle >= left and middle >= right and left < 0.0 and right < 0.0):
            continue
        bend = 2.0 * middle - left - right
        top = middle + ((right - left) ** 2 / (8.0 * bend) if bend > 0.0 else 0.0)
        if top >= 0.0 or middle + 2.0 * max(middle - left, middle - right) >= 0.0:
            low, high = places[i - 1], places[i + 1]
            places[i], heights[i] = _extremum(beam, kind, p, q, level, low, high, sign)


@compiled
def _extremum(
    beam: Beam, kind: int, p: float, q: float, level: float, left: float, right: float, sign: float
) -> tuple[float, float]:
    """Return place and height of the greatest sign · height between two places, by golden section."""
    inner, outer = right - GOLDEN * (right - left), left + GOLDEN * (right - left)
    at_inner = sign * _height(beam, kind, p, q, level, inner)
    at_outer = sign * _height(beam, kind, p, q, level, outer)
    for _ in range(45):
        if at_inner >= at_outer:
            right, outer, at_outer = outer, inner, at_inner
            inner = right - GOLDEN * (right - left)
            at_inner = sign * _height(beam, kind, p, q, level, inner)
        else:
            left, inner, at_inner = inner, outer, at_outer
            outer = left + GOLDEN * (right - left)
            at_outer = sign * _height(beam, kind, p, q, level, outer)
    if at_inner >= at_outer:
        return inner, sign * at_inner
    return outer, sign * at_outer


@compiled
def _root(
    beam: Beam, kind: int, p: float, q: float, level: float, places: FloatArray, heights: FloatArray, i: int
) -> float:
    """Return the root between scan points i and i + 1, by the Illinois rule."""
    a, b, at_a, at_b = places[i], places[i + 1], heights[i], heights[i + 1]
    for _ in range(60):
        if abs(b - a) < 1e-12:
            break
        middle = b - at_b * (b - a) / (at_b - at_a)
        if not math.isfinite(middle):
            middle = (a + b) / 2.0
        found = _height(beam, kind, p, q, level, middle)
        if (found >= 0.0) != (at_b >= 0.0):
            a, at_a = b, at_b
        else:
            at_a /= 2.0
        b, at_b = middle, found
        if abs(found) < 1e-13:
            break
    return float(b)
