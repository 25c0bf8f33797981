"""Compiled: the sky in zones of declination cut into cells, and which of them a ring around a target may touch.

Zones are equally high; each is cut into cells of right ascension about as wide as it is high, counted from 0 h. A
zone's part of a ring is bounded by the half-widths in right ascension of its two circles there, which grow up to the
declination where the circle runs along the meridian, sin δ = sin δ₀/cos r, and shrink beyond: so the ends of the zone
and that place are all that need to be looked at.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.kernels import NOUGHT, TURN, compiled, inlined

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_MARGIN = 1e-7
"""Radians, 0.02″: windows are so much wider than the ring, against rounding."""


class Zones(NamedTuple):
    """`height` radians each, from the south pole on; `cells` (z,) in each, `first` (z + 1,) where its cells begin."""

    height: float
    cells: IntArray
    first: IntArray


def zones_of(height: float) -> Zones:
    """Return zones about so many radians high."""
    number = max(int(math.pi / height), 1)
    edges = np.linspace(-math.pi / 2, math.pi / 2, number + 1)
    nearest_equator = np.where(edges[:-1] * edges[1:] < 0, 0.0, np.minimum(np.abs(edges[:-1]), np.abs(edges[1:])))
    cells = np.maximum((TURN * np.cos(nearest_equator) * number / math.pi).astype(np.int64), 1)
    return Zones(math.pi / number, cells, np.concatenate(([0], np.cumsum(cells))))


@inlined
def cell_of(zones: Zones, x: float, y: float, z: float) -> int:
    """Return the cell that holds a unit vector."""
    zone = int((math.asin(min(max(z, -1.0), 1.0)) + math.pi / 2) / zones.height)
    zone = min(max(zone, 0), zones.cells.shape[0] - 1)
    ra = math.atan2(y, x)
    share = (ra if ra >= 0.0 else ra + TURN) / TURN
    return int(zones.first[zone] + min(int(share * zones.cells[zone]), zones.cells[zone] - 1))


@compiled
def half_width(dec0: float, dec: float, cos_radius: float) -> float:
    """Return how far in right ascension a circle about a target reaches at a declination: 0 … π."""
    cosine = (cos_radius - math.sin(dec0) * math.sin(dec)) / max(math.cos(dec0) * math.cos(dec), 1e-300)
    return math.acos(min(max(cosine, -1.0), 1.0))


@compiled
def zone_widths(zones: Zones, dec0: float, inner: float, outer: float, widths: FloatArray) -> tuple[int, int]:
    """Fill `widths` (≥ zones in reach, 2) with the least and greatest distance in right ascension of a ring's stars.

    Parameters
    ----------
    dec0 : float
        Declination of the target, radians.
    inner, outer : float
        Radii of the ring, radians; below a quarter turn.

    Returns
    -------
    zone, number
        The first zone in reach, and how many.
    """
    outer, inner = outer + _MARGIN, inner - _MARGIN
    lowest, highest = dec0 - outer, dec0 + outer
    last_zone = zones.cells.shape[0] - 1
    zone0 = min(max(int((lowest + math.pi / 2) / zones.height), 0), last_zone)
    zone1 = min(int((highest + math.pi / 2) / zones.height), last_zone)
    cos_outer, cos_inner = math.cos(outer), math.cos(max(inner, 0.0))
    peak = math.asin(min(max(math.sin(dec0) / cos_outer, -1.0), 1.0))
    for zone in range(zone0, zone1 + 1):
        south = max(zone * zones.height - math.pi / 2, lowest)
        north = min((zone + 1) * zones.height - math.pi / 2, highest)
        south, north = max(south, -math.pi / 2), min(north, math.pi / 2)
        widest = max(half_width(dec0, south, cos_outer), half_width(dec0, north, cos_outer))
        if south < peak < north:
            widest = max(widest, half_width(dec0, peak, cos_outer))
        hole = 0.0
        if inner > 0.0:
            bottom, top = zone * zones.height - math.pi / 2, (zone + 1) * zones.height - math.pi / 2
            if bottom > dec0 - inner and top < dec0 + inner:
                hole = min(half_width(dec0, bottom, cos_inner), half_width(dec0, top, cos_inner))
        widths[zone - zone0, 0] = max(hole - _MARGIN, 0.0)
        widths[zone - zone0, 1] = min(widest + _MARGIN, math.pi)
    return zone0, zone1 - zone0 + 1


@inlined
def cell_ranges(zones: Zones, ra0: float, zone0: int, number: int, widths: FloatArray, ranges: IntArray) -> int:
    """Fill `ranges` (≥ 4 · number, 2) with half-open ranges of cells that hold the ring about a target at `ra0`.

    Each cell is in one range at most. Return the number of ranges.
    """
    found = NOUGHT
    for i in range(number):
        zone = zone0 + i
        cells, first = zones.cells[zone], zones.first[zone]
        per_radian = cells / TURN
        a = math.floor((ra0 - widths[i, 1]) * per_radian)
        d = math.floor((ra0 + widths[i, 1]) * per_radian)
        if d - a + 1 >= cells:
            ranges[found, 0], ranges[found, 1] = first, first + cells
            found += 1
            continue
        b = math.floor((ra0 - widths[i, 0]) * per_radian)
        c = math.floor((ra0 + widths[i, 0]) * per_radian)
        if c <= b + 1:
            found = _wrapped(first, cells, a, d, ranges, found)
        else:
            found = _wrapped(first, cells, a, b, ranges, found)
            found = _wrapped(first, cells, c, d, ranges, found)
    return found


@inlined
def _wrapped(first: int, cells: int, low: int, high: int, ranges: IntArray, found: int) -> int:
    """Append the cells from `low` to `high`, both included, counted round the circle."""
    low, high = low % cells, high % cells
    if low <= high:
        ranges[found, 0], ranges[found, 1] = first + low, first + high + 1
        return found + 1
    ranges[found, 0], ranges[found, 1] = first + low, first + cells
    ranges[found + 1, 0], ranges[found + 1, 1] = first, first + high + 1
    return found + 2
