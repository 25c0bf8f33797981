"""Compiled angle kernels, places: for each small square of the focal plane, the turns that its stars cover for certain.

Most targets need no exact arcs: where many stars stand around, they cover the circle with room to spare. So the plane
around a target, X east and Y north in mm, is cut into squares, and for each square two runs of cells of the circle
(`guidestar.angles.kernels_circle`) are worked out beforehand: *inner* cells, wholly covered by every star that may
stand in the square, and *outer* cells, all that some star in it may touch. Between two radii a ray stays inside a
convex outline if both its ends do, so the inner run is the overlap of the arcs at the square's least and greatest
radius; the outer run also looks at the outline's corners between those radii.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.kernels import COUNT, RADIUS, TURN, compiled, edge_direction, inlined, piece_of
from guidestar.angles.kernels_circle import CELL, CELLS

FloatArray = NDArray[np.float64]
Runs = NDArray[np.uint16]
"""Runs of cells by square, indexed [row of Y, column of X]: first cell + 256 · number of cells, 0 where there is
none."""

SQUARES = 256
"""Squares along a side of the plane."""

LONGEST_INNER = 62
"""Cells; inner runs are cut to this, so that two words of 64 bits hold each (see `kernels_circle.cover`)."""
_WHOLE = 255
"""As the length of an outer run: the whole circle."""

_MARGIN = 1e-7
"""Radians by which inner runs are narrowed and outer ones widened, against rounding."""

_ROOM = 1.0 + 1e-6
"""The plane is made so much larger than what must lie on it."""


def empty_runs() -> Runs:
    """Return runs of no cell."""
    return np.zeros((SQUARES, SQUARES), dtype=np.uint16)


def squares_a_mm(half_mm: float) -> float:
    """Return the number of squares a millimetre for a plane that must hold −`half_mm` to `half_mm` both ways."""
    return SQUARES / (2.0 * half_mm * _ROOM)


@compiled
def _hull(
    table: FloatArray, corners: FloatArray, rho_low: float, rho_high: float, reference: float
) -> tuple[float, float]:
    """Return (first, last) directions of the polygon between two radii, first > last where nothing of it is there."""
    first, last = np.inf, -np.inf
    for rho in (rho_low, rho_high):
        piece = piece_of(table, rho)
        if piece < 0:
            continue
        for arc in range(max(int(table[piece, COUNT]), 0)):
            a = edge_direction(table, piece, 2 * arc, rho)
            b = edge_direction(table, piece, 2 * arc + 1, rho)
            turns = math.floor(((a + b) / 2.0 - reference) / TURN + 0.5) * TURN
            first, last = min(first, a - turns), max(last, b - turns)
    for i in range(corners.shape[0]):
        if rho_low <= corners[i, 1] <= rho_high:
            first, last = min(first, corners[i, 0]), max(last, corners[i, 0])
    return first, last


@compiled
def _widest(table: FloatArray, rho: float, reference: float) -> tuple[float, float]:
    """Return the widest arc at a radius, near the reference direction; first > last where there is none."""
    first, last = 0.0, -1.0
    piece = piece_of(table, rho)
    if piece < 0:
        return first, last
    for arc in range(max(int(table[piece, COUNT]), 0)):
        a = edge_direction(table, piece, 2 * arc, rho)
        b = edge_direction(table, piece, 2 * arc + 1, rho)
        if b - a > last - first:
            turns = math.floor(((a + b) / 2.0 - reference) / TURN + 0.5) * TURN
            first, last = a - turns, b - turns
    return first, last


@compiled
def fill(
    inner: Runs, outer: Runs, table: FloatArray, corners: FloatArray, half_mm: float, side: float, mirrored: bool
) -> None:
    """Fill the inner and outer runs of a polygon.

    Parameters
    ----------
    inner, outer : (`SQUARES`, `SQUARES`) arrays
        Empty runs.
    table : array
        The polygon's `arc_table`.
    corners : (c, 2) array
        The polygon's corners as direction (radians, rig frame) and radius (mm). Their directions differ by less than
        half a turn, as they do where the axis is outside. None where it is inside: then nothing is certain.
    half_mm : float
        As for `squares_a_mm`.
    side : float
        β, radians; a star of position angle θ has γ = θ − β, or −θ − β if `mirrored`.
    """
    if corners.shape[0] == 0:
        outer[:] = _WHOLE << 8
        return
    step = 2.0 * half_mm * _ROOM / SQUARES
    reference = 0.0
    for i in range(corners.shape[0]):
        reference += corners[i, 0] / corners.shape[0]
    for row in range(SQUARES):
        for column in range(SQUARES):
            x1, y1 = (column - SQUARES // 2) * step, (row - SQUARES // 2) * step
            x2, y2 = x1 + step, y1 + step
            near_x, near_y = max(x1, -x2, 0.0), max(y1, -y2, 0.0)
            rho_low = math.hypot(near_x, near_y)
            rho_high = math.hypot(max(-x1, x2), max(-y1, y2))
            if rho_low > table[-1, RADIUS]:
                continue
            if near_x == 0.0 and near_y == 0.0:  # the axis is in this square: any direction
                outer[row, column] = _WHOLE << 8
                continue
            centre = math.atan2((x1 + x2) / 2.0, (y1 + y2) / 2.0)
            spread = 0.0
            for x in (x1, x2):
                for y in (y1, y2):
                    off = math.atan2(x, y) - centre
                    spread = max(spread, abs(off - math.floor(off / TURN + 0.5) * TURN))
            phase = (-centre if mirrored else centre) - side
            first, last = _hull(table, corners, rho_low, rho_high, reference)
            outer[row, column] = _outer_run(phase - spread - last, phase + spread - first)
            a, b = _widest(table, rho_low, reference)
            c, d = _widest(table, rho_high, reference)
            if b >= a and d >= c:
                inner[row, column] = _inner_run(phase + spread - min(b, d), phase - spread - max(a, c))


@compiled
def _outer_run(low: float, high: float) -> int:
    """Return the run of all cells that turns from `low` to `high` touch; none where `low` is greater or not finite."""
    if not high >= low or not math.isfinite(high - low):
        return 0
    start, end = math.floor((low - _MARGIN) / CELL), math.floor((high + _MARGIN) / CELL)
    return int(start) % CELLS + (min(int(end - start) + 1, _WHOLE) << 8)


@compiled
def _inner_run(low: float, high: float) -> int:
    """Return the run of the cells that lie wholly between two turns."""
    start, end = math.ceil((low + _MARGIN) / CELL), math.floor((high - _MARGIN) / CELL)
    if end <= start:
        return 0
    return int(start) % CELLS + (min(int(end - start), LONGEST_INNER) << 8)


@inlined
def run_at(runs: Runs, scale: float, x: float, y: float) -> int:
    """Return the run for a place on the plane, mm east and north; `scale`: squares a mm."""
    return int(np.int64(runs[int(y * scale + SQUARES / 2), int(x * scale + SQUARES / 2)]))


@inlined
def first_cell(run: int) -> int:
    """Return the first cell of a run."""
    return run & (CELLS - 1)


@inlined
def cells_of(run: int) -> int:
    """Return the number of cells of a run."""
    length = run >> 8
    return CELLS if length == _WHOLE else length
