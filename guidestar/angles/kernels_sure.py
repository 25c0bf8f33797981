"""Compiled angle kernels, sure angles: turns at which enough stars stand on the field wherever the prism truly is.

The same question as `guidestar.angles.handover`: at a turn, each star accepts the moves d of the prism from its low end
to its high end; sure if these intervals cover [−δ, δ] `count`-fold. Between two turns at which a star comes into reach
or leaves it, the answer changes only where two ends meet or one meets ± δ. Each end is a sinusoid of the turn, so over
a piece of turn of half-width h it stays within |d′|·h + ½·max|d″|·h² of what it is in the middle. Grown by that, do the
intervals still not cover? Then none of the piece is sure. Shrunk by that, do they still cover? Then all of it is.

Most pieces are settled so. In the others one looks at every pair of ends. A difference f of two, A and B at both ends
of the piece and of one sign there, has no root between if √A + √B ≥ √C, with C = w²/2 · max|f″| for a piece w wide: f
strays from its chord by no more than C·s(1 − s), at the share s of the way. Where all pairs but one are settled like
that, the answer is known; else the piece is halved. Nothing is stepped over. Stars in need of much light:
`guidestar.angles.kernels_sure_lit`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.handover import PARALLEL
from guidestar.angles.kernels import compiled, fixed, inlined
from guidestar.angles.kernels_light import MOST_POINTS

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_NARROW = math.radians(0.2)
"""Where an end is the least or greatest of several sinusoids, only pieces narrower than this are settled by their
ends."""
_NARROWEST = 1e-6
"""Radians; narrower pieces are judged by their ends in any case."""
_CLOSE = 1e-10
"""Radians to which a change is located."""
STACK = 128
_SPANS_A_STAR = 8
"""Room for so many intervals of moves a star; the light of a beam with a hole on a rectangle makes three at most."""

LOW, HIGH, OTHER_LOW, OTHER_HIGH = fixed(0, 1, 2, 3)
"""Rows of the room to work in."""
STACK_LEFT, STACK_RIGHT, PLACES, HEIGHTS, ACROSS, ALONG, SLACK = range(4, 11)
_ROWS = 11


@compiled
def room_for(stars: int) -> FloatArray:
    """Return arrays to work in, as rows of one, for up to so many stars at once."""
    return np.empty((_ROWS, max(_SPANS_A_STAR * stars + 1, max(MOST_POINTS, STACK))))


@inlined
def is_smooth(planes: FloatArray) -> bool:
    """Return whether the moves that a star accepts are ended by one edge on either side, which runs along x."""
    upper, lower, sloping = 0, 0, 0
    for p in range(planes.shape[0]):
        upper += planes[p, 1] > 1.0 - PARALLEL
        lower += planes[p, 1] < -1.0 + PARALLEL
        sloping += abs(planes[p, 1]) > PARALLEL
    return upper == 1 and lower == 1 and sloping == 2


@compiled
def accepted(
    planes: FloatArray, stars: FloatArray, chosen: IntArray, n: int, turn: float, room: FloatArray, row: int
) -> None:
    """Fill rows `row` and `row` + 1 of `room` with the moves (low, high) that put each of n chosen stars on the field.

    A star stands at x = `across`·cos t − `along`·sin t, y = `along`·cos t + `across`·sin t, with (across, along) =
    ρ·(sin γ, cos γ), the first two columns of `stars`. Edges along y are not looked at: they never end a move, and
    where a star is beyond one it is not to be chosen.
    """
    cosine, sine = math.cos(turn), math.sin(turn)
    for i in range(n):
        across, along = stars[chosen[1, i], 0], stars[chosen[1, i], 1]
        x, y = across * cosine - along * sine, along * cosine + across * sine
        low, high = -np.inf, np.inf
        for p in range(planes.shape[0]):
            b = planes[p, 1]
            if abs(b) > PARALLEL:
                value = (planes[p, 0] * x + b * y - planes[p, 2]) / b
                low = max(low, value) if b > 0.0 else low
                high = min(high, value) if b < 0.0 else high
        room[row, i], room[row + 1, i] = low, high


@compiled
def bounded(
    planes: FloatArray, stars: FloatArray, chosen: IntArray, n: int, turn: float, half: float, room: FloatArray
) -> None:
    """Fill what each of n chosen stars accepts over a piece of turn: at all of its turns, and at any of them.

    The former goes to the first two rows of `room`, the latter to the next two.
    """
    cosine, sine = math.cos(turn), math.sin(turn)
    for i in range(n):
        star = chosen[1, i]
        across, along = stars[star, 0], stars[star, 1]
        x, y = across * cosine - along * sine, along * cosine + across * sine
        bend = 0.5 * half * half * stars[star, 2]
        all_low, all_high, any_low, any_high = -np.inf, np.inf, -np.inf, np.inf
        for p in range(planes.shape[0]):
            a, b = planes[p, 0], planes[p, 1]
            value, slack = a * x + b * y - planes[p, 2], half * abs(b * x - a * y) + bend
            if b > PARALLEL:
                all_low, any_low = max(all_low, (value + slack) / b), max(any_low, (value - slack) / b)
            elif b < -PARALLEL:
                all_high, any_high = min(all_high, (value + slack) / b), min(any_high, (value - slack) / b)
        room[LOW, i], room[HIGH, i] = all_low, all_high
        room[OTHER_LOW, i], room[OTHER_HIGH, i] = any_low, any_high


@compiled
def covers(room: FloatArray, row: int, n: int, count: int, accuracy: float) -> bool:
    """Return whether n intervals, in two rows of `room` from `row` on, cover [−δ, δ] `count`-fold.

    For one star: from −δ on, as far as an interval that begins no later reaches. Else: enough at −δ, and just after
    every high end before δ.
    """
    if count == 1:
        reach = -accuracy
        while reach < accuracy:
            farthest = reach
            for i in range(n):
                if room[row, i] <= reach:
                    farthest = max(farthest, room[row + 1, i])
            if farthest <= reach:
                return False
            reach = farthest
        return True
    for i in range(-1, n):
        place = -accuracy if i < 0 else room[row + 1, i]
        if i >= 0 and (place < -accuracy or place >= accuracy or room[row, i] > place):
            continue
        there = 0
        for j in range(n):
            there += room[row, j] <= place < room[row + 1, j]
        if there < count:
            return False
    return True


@inlined
def halved(room: FloatArray, depth: int, left: float, right: float) -> int:
    """Put both halves of a piece on the stack; return its new depth."""
    middle = (left + right) / 2.0
    room[STACK_LEFT, depth], room[STACK_RIGHT, depth] = left, middle
    room[STACK_LEFT, depth + 1], room[STACK_RIGHT, depth + 1] = middle, right
    return depth + 2


@compiled
def sure_width(
    planes: FloatArray,
    smooth: bool,
    stars: FloatArray,
    chosen: IntArray,
    n: int,
    start: float,
    end: float,
    count: int,
    accuracy: float,
    room: FloatArray,
) -> float:
    """Return how much of the turns from `start` to `end` is sure, radians.

    Parameters
    ----------
    planes : (m, 3) array
        The field's half-planes.
    smooth : bool
        `is_smooth` of them.
    stars : (k, 4) array
        ρ sin γ, ρ cos γ, ρ and needed T of each star.
    chosen : (2 or more, n) int array
        Row 1: the stars that some move within ± δ brings inside, at every turn from `start` to `end`.
    room : array
        See `room_for`.
    """
    room[STACK_LEFT, 0], room[STACK_RIGHT, 0] = start, end
    depth, sure = 1, 0.0
    while depth > 0:
        depth -= 1
        left, right = room[STACK_LEFT, depth], room[STACK_RIGHT, depth]
        width = right - left
        bounded(planes, stars, chosen, n, (left + right) / 2.0, width / 2.0, room)
        if not covers(room, OTHER_LOW, n, count, accuracy):
            continue
        if covers(room, LOW, n, count, accuracy):
            sure += width
            continue
        if smooth or width <= _NARROW:
            accepted(planes, stars, chosen, n, left, room, LOW)
            accepted(planes, stars, chosen, n, right, room, OTHER_LOW)
            first, second, meetings = _meetings(stars, chosen, n, width, smooth, accuracy, room)
            if meetings <= 1 or width <= _NARROWEST or depth + 2 > STACK:
                at_left = covers(room, LOW, n, count, accuracy)
                at_right = covers(room, OTHER_LOW, n, count, accuracy)
                if at_left == at_right:
                    sure += width if at_left else 0.0
                elif meetings == 1:
                    change = _root(planes, stars, chosen, first, second, left, right, accuracy)
                    sure += change - left if at_left else right - change
                else:
                    sure += width / 2.0
                continue
        depth = halved(room, depth, left, right)
    return sure


@compiled
def _meetings(
    stars: FloatArray, chosen: IntArray, n: int, width: float, smooth: bool, accuracy: float, room: FloatArray
) -> tuple[int, int, int]:
    """Return the last pair of ends that may meet in a piece, and the number of such pairs: 1 if one surely does.

    The ends' places at both ends of the piece are in the first four rows of `room`. A pair that may meet twice, or not
    at all, counts as two. `first` −1 stands for −δ instead of a high end, `second` −1 for δ instead of a low end.
    """
    first, second, found = -2, -2, 0
    for i in range(-1, n):
        top, other_top = (-accuracy, -accuracy) if i < 0 else (room[HIGH, i], room[OTHER_HIGH, i])
        bend = 0.0 if i < 0 else stars[chosen[1, i], 2]
        for j in range(-1, n):
            if i == j:
                continue
            bottom, other_bottom = (accuracy, accuracy) if j < 0 else (room[LOW, j], room[OTHER_LOW, j])
            if (
                min(top, other_top, bottom, other_bottom) > accuracy
                or max(top, other_top, bottom, other_bottom) < -accuracy
            ):
                continue
            before, after = top - bottom, other_top - other_bottom
            if (before >= 0.0) != (after >= 0.0):
                first, second, found = i, j, found + 1
            elif smooth:
                a, b = abs(before), abs(after)
                strayed = 0.5 * width * width * (bend + (0.0 if j < 0 else stars[chosen[1, j], 2]))
                if a + b < strayed and a + b + 2.0 * math.sqrt(a * b) < strayed:
                    found += 2
    return first, second, found


@compiled
def _root(
    planes: FloatArray,
    stars: FloatArray,
    chosen: IntArray,
    first: int,
    second: int,
    left: float,
    right: float,
    accuracy: float,
) -> float:
    """Return the turn at which two ends meet, by the Illinois rule; `first`, `second` as in `_meetings`."""
    at_left = _gap_at(planes, stars, chosen, first, second, left, accuracy)
    at_right = _gap_at(planes, stars, chosen, first, second, right, accuracy)
    for _ in range(60):
        if abs(right - left) < _CLOSE:
            break
        middle = right - at_right * (right - left) / (at_right - at_left)
        if not math.isfinite(middle):
            middle = (left + right) / 2.0
        found = _gap_at(planes, stars, chosen, first, second, middle, accuracy)
        if (found >= 0.0) != (at_right >= 0.0):
            left, at_left = right, at_right
        else:
            at_left /= 2.0
        right, at_right = middle, found
        if abs(found) < 1e-12:
            break
    return right


@compiled
def _gap_at(
    planes: FloatArray, stars: FloatArray, chosen: IntArray, first: int, second: int, turn: float, accuracy: float
) -> float:
    """Return how far one star's high end lies beyond another's low end at a turn."""
    cosine, sine = math.cos(turn), math.sin(turn)
    top, bottom = -accuracy, accuracy
    for side in range(2):
        which = first if side == 0 else second
        if which < 0:
            continue
        across, along = stars[chosen[1, which], 0], stars[chosen[1, which], 1]
        x, y = across * cosine - along * sine, along * cosine + across * sine
        low, high = -np.inf, np.inf
        for p in range(planes.shape[0]):
            b = planes[p, 1]
            if abs(b) > PARALLEL:
                value = (planes[p, 0] * x + b * y - planes[p, 2]) / b
                low = max(low, value) if b > 0.0 else low
                high = min(high, value) if b < 0.0 else high
        if side == 0:
            top = high
        else:
            bottom = low
    return top - bottom
