"""Compiled angle kernels, sure angles on a rectangle: one star hands over to another, in closed form.

Most guide fields are rectangles with two sides along x, farther from the axis than the prism's accuracy δ and at least
2δ high. Over the moves ± δ of the prism, a star is then on the field at both ends of them (it is sure by itself, it
stands in the *core*), or only at the lower end (in the *lower* strip, 2δ high, below the core), or only at the upper
end (in the *upper* strip). Of several stars that cover [−δ, δ] between them, two are enough: what begins within it goes
on for 2δ at least, to its end. So a turn is sure if a star is in the core, or if one is in the lower strip and one in
the upper and their distance in y is no more than the field's height: for each pair an arc less another arc.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.handover import PARALLEL
from guidestar.angles.kernels import TURN, compiled, inlined
from guidestar.angles.kernels_circle import CELL, CELLS, END, START, cover, range_covered
from guidestar.angles.kernels_places import LONGEST_INNER
from guidestar.angles.kernels_sure import is_smooth

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FROM, WIDTH, ACROSS, ALONG, LOWER, UPPER = 0, 1, 2, 3, 0, 4
"""Rows of the strips' array: arcs of turn, from 0 … 2π on, and the place of their star as in `kernels_sure.accepted`;
four of each strip, those of the upper one after those of the lower."""
_ROWS = 8


class Rectangle(NamedTuple):
    """A field's sides, mm, rig frame, and δ. `known`: the field is such a rectangle, and one star is enough."""

    left: float
    right: float
    low: float
    high: float
    accuracy: float
    known: bool


@compiled
def rectangle_of(planes: FloatArray, accuracy: float, count: int) -> Rectangle:
    """Return a field as a rectangle, from its half-planes."""
    left, right, low, high = -np.inf, np.inf, -np.inf, np.inf
    for p in range(planes.shape[0]):
        a, b, c = planes[p, 0], planes[p, 1], planes[p, 2]
        if b > PARALLEL:
            high = c / b
        elif b < -PARALLEL:
            low = c / b
        elif a > 0.0:
            right = min(right, c / a)
        else:
            left = max(left, c / a)
    fits = high - low >= 2.0 * accuracy and low - accuracy > 0.0 and right > left
    return Rectangle(left, right, low, high, accuracy, count == 1 and fits and is_smooth(planes))


@compiled
def room_for_strips(stars: int) -> FloatArray:
    """Return an array for the strips' arcs of so many stars."""
    return np.empty((_ROWS, 2 * stars + 2))


@inlined
def _beyond(level: float, rho: float, lowest: float) -> float:
    """Return the angle from +y within which a circle is beyond a level of y; 0 where it nowhere is.

    A right angle where it is everywhere between the sides, as it then is above `lowest`: most circles cross the field
    from side to side.
    """
    if level >= rho:
        return 0.0
    return math.pi / 2 if level <= lowest else math.acos(level / rho)


@inlined
def _side(x: float, rho: float) -> float:
    """Return the direction in which a circle about the axis crosses a side, or ± 90° where it does not."""
    return math.asin(min(max(x / rho, -1.0), 1.0))


@compiled
def add_parts(
    rectangle: Rectangle,
    across: float,
    along: float,
    rho: float,
    bits: IntArray,
    arcs: FloatArray,
    strips: FloatArray,
    numbers: tuple[int, int, int],
) -> tuple[int, int, int]:
    """Append a star's arcs in the core to `arcs`, whose whole cells are counted in `bits`, and others to `strips`.

    `numbers`: how many arcs there are, and how many of the lower and of the upper strip; returned as they are then.
    """
    n, lower, upper = numbers
    right, phase = _side(rectangle.right, rho), math.atan2(across, along)
    left = -right if rectangle.left == -rectangle.right else _side(rectangle.left, rho)
    widest = max(abs(rectangle.left), abs(rectangle.right))
    lowest = math.sqrt(max(rho * rho - widest * widest, 0.0))
    outer = _beyond(rectangle.low - rectangle.accuracy, rho, lowest)
    for part in range(3):
        level = rectangle.high if part else rectangle.low
        inner = _beyond(level - rectangle.accuracy if part == 1 else level + rectangle.accuracy, rho, lowest)
        for half in range(2 if inner > 0.0 else 1):
            first, last = max(left, -outer if half == 0 else inner), min(right, outer)
            if half == 0 and inner > 0.0:
                last = min(right, -inner)
            if last <= first:
                continue
            start = _on_circle(phase - last)
            if _settled(bits, start, start + (last - first)):
                continue
            if part == 1:
                arcs[START, n], arcs[END, n] = start, start + (last - first)
                _cover_cells(bits, start, start + (last - first))
                n += 1
                continue
            row, k = (UPPER, upper) if part else (LOWER, lower)
            strips[row + FROM, k], strips[row + WIDTH, k] = start, last - first
            strips[row + ACROSS, k], strips[row + ALONG, k] = across, along
            lower, upper = lower + (part == 0), upper + (part == 2)
        outer = inner
    return n, lower, upper


@inlined
def _on_circle(turn: float) -> float:
    """Return a turn within 0 … 2π."""
    return turn - math.floor(turn / TURN) * TURN


@inlined
def _cover_cells(bits: IntArray, start: float, end: float) -> None:
    """Count the cells that lie wholly between two turns, from 0 on; of many the first ones."""
    first, last = math.ceil(start / CELL), math.floor(end / CELL)
    cover(bits, int(first) & (CELLS - 1), min(max(int(last - first), 0), LONGEST_INNER))


@inlined
def _settled(bits: IntArray, start: float, end: float) -> bool:
    """Return whether all cells are covered that turns between two touch, from 0 on."""
    first = int(start / CELL)
    return range_covered(bits, first & (CELLS - 1), min(int(end / CELL) - first + 1, CELLS))


@inlined
def _still_open(strips: FloatArray, row: int, number: int, bits: IntArray) -> int:
    """Keep a strip's arcs that touch cells which are not covered; return their number."""
    left = 0
    for k in range(number):
        if not _settled(bits, strips[row + FROM, k], strips[row + FROM, k] + strips[row + WIDTH, k]):
            for i in range(row, row + 4):
                strips[i, left] = strips[i, k]
            left += 1
    return left


@compiled
def add_pairs(
    rectangle: Rectangle, strips: FloatArray, lower: int, upper: int, bits: IntArray, arcs: FloatArray, n: int
) -> int:
    """Append the arcs in which two stars hand over to each other, but where `bits` has all cells covered.

    Return the new number of arcs, −1 if there is no room for all.
    """
    room = arcs.shape[1] // 2 - 2
    upper = _still_open(strips, UPPER, upper, bits)
    for i in range(lower):
        start, width = strips[LOWER + FROM, i], strips[LOWER + WIDTH, i]
        if _settled(bits, start, start + width):
            continue
        for j in range(upper):
            ahead = strips[UPPER + FROM, j] - start
            if ahead < 0.0:
                ahead += TURN
            behind = ahead - TURN + strips[UPPER + WIDTH, j]
            if ahead >= width and behind <= 0.0:
                continue
            low = start + ahead if ahead < width else start
            high = start + min(width, ahead + strips[UPPER + WIDTH, j] if ahead < width else behind)
            if _settled(bits, low, high):
                continue
            if n >= room:
                return -1
            n = _hand_over(rectangle, strips, i, j, low, high, bits, arcs, n)
    return n


@inlined
def _hand_over(
    rectangle: Rectangle,
    strips: FloatArray,
    i: int,
    j: int,
    low: float,
    high: float,
    bits: IntArray,
    arcs: FloatArray,
    n: int,
) -> int:
    """Append the part of some turns at which two stars are no farther apart in y than the field is high."""
    across = strips[UPPER + ACROSS, j] - strips[LOWER + ACROSS, i]
    along = strips[UPPER + ALONG, j] - strips[LOWER + ALONG, i]
    height, apart = rectangle.high - rectangle.low, math.sqrt(across * across + along * along)
    if apart <= height:
        arcs[START, n], arcs[END, n] = low, high
        _cover_cells(bits, low, high)
        return n + 1
    half = math.acos(height / apart)
    start = low + _on_circle(math.atan2(across, along) - half - low)  # from here on they are too far apart
    ends = ((max(low, start + 2.0 * half - TURN), min(start, high)), (start + 2.0 * half, high))
    for first, last in ends:
        if last > first:
            arcs[START, n], arcs[END, n] = first, last
            _cover_cells(bits, first, last)
            n += 1
    return n
