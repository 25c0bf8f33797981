"""Compiled angle kernels, their numbers: a guide field as a table by radius, and one star's arcs from it.

The same mathematics as `guidestar.angles.acceptance`, radians instead of degrees. Which edges a circle about the axis
crosses changes only at the radii of the outline's corners and of the points where a circle touches an edge; between two
such radii every arc runs from one edge to another, and an arc's end is n ± arccos(c/ρ) with the edge's normal direction
n and its limit c. So the numpy code, asked once in the middle of each piece of radius, says which edges; the kernel
needs two arc cosines a star.

Compiled by numba, which only the sky map needs (the extra `maps`): nothing else imports this module.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeVar, cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

from guidestar.angles.acceptance import polygon_arcs

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

Kernel = TypeVar("Kernel", bound=Callable[..., Any])

TURN = 2.0 * math.pi


_SETTINGS: dict[str, Any] = {"nogil": True, "error_model": "numpy"}
_INNER: dict[str, Any] = _SETTINGS | {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
"""Inner kernels are called by kernels only: what else would be compiled is a fifth of the work."""


def compiled(function: Kernel) -> Kernel:
    """Compile an inner kernel; the outermost ones, which are kept on disk, are made in `guidestar.maps.kernels`."""
    return cast("Kernel", njit(**_INNER)(function))


def inlined(function: Kernel) -> Kernel:
    """Compile a small kernel as a part of those that call it.

    Where a call remains, numba counts references to each array that is passed, and threads that count on the same one
    hinder each other.
    """
    return cast("Kernel", njit(forceinline=True, **_INNER)(function))


def merged(function: Kernel) -> Kernel:
    """Take a kernel's text into the one place that calls it, before anything is compiled.

    For those in the middle: a kernel is compiled again as a part of each one that calls it, so every level costs
    seconds.
    """
    return cast("Kernel", njit(inline="always", **_INNER)(function))


def fixed(*numbers: int) -> tuple[int, ...]:
    """Return whole numbers for kernels to hand on to other kernels.

    As numpy has them: Python's own are to numba a type each, and it would compile what is called with one, and all that
    calls in turn, for just this number and again for any.
    """
    return tuple(cast("int", np.int64(number)) for number in numbers)


(NOUGHT,) = fixed(0)

RADIUS, COUNT, FIRST_ARC, NUMBERS_AN_ARC = 0, 1, 2, 6
WHOLE_CIRCLE = -1.0
"""A table's columns: the radius from which a piece reaches to that of the next row, mm; how many arcs it has, or that
the whole circle is inside; then, for each arc, normal direction (radians), limit (mm) and sign of the edge at which it
starts, and of that at which it ends."""


def arc_table(half_planes: FloatArray) -> FloatArray:
    """Return a bounded convex polygon, given by its half-planes, shape (m, 3), as arcs by radius.

    Rows by radius, columns as said above; the last row only ends the last piece. An arc runs from the direction
    normal + sign · arccos(limit/ρ) of its first edge to that of its second, which comes after it.
    """
    radius = _critical_radii(half_planes)
    owner, arcs = polygon_arcs(half_planes, (radius[1:] + radius[:-1]) / 2)
    most = max(int(np.bincount(owner, minlength=1).max()), 1)
    table = np.zeros((len(radius), FIRST_ARC + NUMBERS_AN_ARC * most))
    table[:, RADIUS] = radius
    for piece, (start, end) in zip(owner.tolist(), np.radians(arcs), strict=True):
        if end - start >= TURN - 1e-9:
            table[piece, COUNT] = WHOLE_CIRCLE
            continue
        column = FIRST_ARC + NUMBERS_AN_ARC * int(table[piece, COUNT])
        rho = (radius[piece] + radius[piece + 1]) / 2
        table[piece, column : column + NUMBERS_AN_ARC] = np.concatenate(
            [_edge_crossed(half_planes, rho, direction) for direction in (start, end)]
        )
        table[piece, COUNT] += 1
    return table


def _edge_crossed(planes: FloatArray, rho: float, direction: float) -> FloatArray:
    """Return normal direction, limit and sign of the edge at which a circle crosses the outline in a direction."""
    normal = np.arctan2(planes[:, 0], planes[:, 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        half = np.arccos(planes[:, 2] / rho)
    crossings = np.stack((normal - half, normal + half))
    off = np.abs(np.remainder(crossings - direction + math.pi, TURN) - math.pi)
    sign, edge = np.unravel_index(np.nanargmin(off), off.shape)
    turns = np.round((direction - crossings[sign, edge]) / TURN)
    return np.array([normal[edge] + turns * TURN, planes[edge, 2], 2.0 * sign - 1.0])


def _critical_radii(planes: FloatArray) -> FloatArray:
    """Return 0 and the radii of the corners and of the feet of the edges, ascending, up to the farthest corner."""
    corners = []
    for i in range(len(planes)):
        for j in range(i):
            det = planes[i, 0] * planes[j, 1] - planes[j, 0] * planes[i, 1]
            if abs(det) < 1e-12:
                continue
            x = (planes[i, 2] * planes[j, 1] - planes[j, 2] * planes[i, 1]) / det
            y = (planes[i, 0] * planes[j, 2] - planes[j, 0] * planes[i, 2]) / det
            if np.all(planes[:, 0] * x + planes[:, 1] * y <= planes[:, 2] + 1e-9):
                corners.append(math.hypot(x, y))
    if not corners:  # nothing is inside: two radii without any arc between
        return np.array([0.0, 1e-9])
    feet = np.abs(planes[:, 2])
    inside = np.concatenate((np.array(corners), feet[feet < max(corners)], [0.0]))
    radii: FloatArray = np.sort(inside)
    apart: FloatArray = radii[np.append(True, np.diff(radii) > 1e-9)]
    return apart


@inlined
def piece_of(table: FloatArray, rho: float) -> int:
    """Return the row of a table that holds ρ, or −1 outside of all."""
    last = table.shape[0] - 1
    if rho > table[last, RADIUS]:
        return -1
    row = 0
    while row + 1 < last and table[row + 1, RADIUS] <= rho:
        row += 1
    return row


@inlined
def edge_direction(table: FloatArray, piece: int, edge: int, rho: float) -> float:
    """Return the direction, radians, in which a circle crosses an edge: two an arc, start and end, counted on."""
    column = FIRST_ARC + 3 * edge
    ratio = min(max(table[piece, column + 1] / rho, -1.0), 1.0)
    return float(table[piece, column] + table[piece, column + 2] * math.acos(ratio))


@inlined
def add_arcs(table: FloatArray, rho: float, phase: float, arcs: FloatArray, n: int) -> int:
    """Append the arcs of turn t = γ − a at which a star stands in the polygon; return the new number of arcs.

    `phase` is γ, radians; rows 0 and 1 of `arcs` (starts, ends) are filled from place `n` on, end ≤ start + 2π,
    anywhere on the real line.
    """
    piece = piece_of(table, rho)
    if piece < 0:
        return n
    if table[piece, COUNT] == WHOLE_CIRCLE:
        arcs[0, n], arcs[1, n] = 0.0, TURN
        return n + 1
    for arc in range(int(table[piece, COUNT])):
        first = edge_direction(table, piece, 2 * arc, rho)
        last = edge_direction(table, piece, 2 * arc + 1, rho)
        arcs[0, n], arcs[1, n] = phase - last, phase - first
        n += last > first
    return n


@inlined
def arc_length(table: FloatArray, rho: float) -> float:
    """Return the total length of the arcs at a radius, radians."""
    piece = piece_of(table, rho)
    if piece < 0:
        return 0.0
    if table[piece, COUNT] == WHOLE_CIRCLE:
        return TURN
    total = 0.0
    for arc in range(int(table[piece, COUNT])):
        length = edge_direction(table, piece, 2 * arc + 1, rho) - edge_direction(table, piece, 2 * arc, rho)
        total += max(length, 0.0)
    return total
