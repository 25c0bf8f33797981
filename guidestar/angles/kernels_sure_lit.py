"""Compiled angle kernels, sure angles where some stars need more light than the whole guide sensor has.

Such a star accepts the moves d with T(x, y − d) at least its need, within those that put it on the sensor. Over a piece
of turn of half-width h it moves by ρ·h at most, and T changes by at most g a millimetre, which is bounded by how wide
the beam is. So what T is in the middle of the piece, less or more than the need by g·ρ·h, says for some moves
that the star accepts them at every turn of the piece, or at none. Pieces for which that says nothing are halved down to
a step, and then judged by their ends, as `guidestar.angles.light_sure` does everywhere.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.handover import STEP_DEG
from guidestar.angles.kernels import compiled
from guidestar.angles.kernels_light import MOST_SPANS, ON_MOVE, Beam, lit_spans, transmission
from guidestar.angles.kernels_sure import (
    ACROSS,
    ALONG,
    HEIGHTS,
    HIGH,
    LOW,
    OTHER_HIGH,
    OTHER_LOW,
    PLACES,
    SLACK,
    STACK,
    STACK_LEFT,
    STACK_RIGHT,
    accepted,
    bounded,
    covers,
    halved,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_STEP = math.radians(STEP_DEG)
_CLOSE = 5e-6
"""Radians, 0.0003°, to which a change between two turns is located."""
_VAGUE = 0.15
"""Where T may change by more than this over a piece, its light is not looked at before the piece is halved."""


@compiled
def steepest(beam: Beam) -> float:
    """Return g, by how much T changes at most a millimetre.

    Along x what is lit gains the light on one side of the face and loses that on the other, each no longer than the
    beam is wide; so, too, along y.
    """
    if beam.outer_mm <= 0.0:
        return np.inf
    return math.sqrt(2.0) * 2.0 * beam.outer_mm / beam.whole_mm2 * beam.scale


@compiled
def sure_with_light(
    planes: FloatArray,
    beam: Beam,
    stars: FloatArray,
    chosen: IntArray,
    plain: int,
    n: int,
    start: float,
    end: float,
    count: int,
    accuracy: float,
    room: FloatArray,
) -> float:
    """Do as `sure_width` where the chosen stars from place `plain` on need more light than the whole sensor has."""
    spans, slope = np.empty((MOST_SPANS, 2)), steepest(beam)
    room[STACK_LEFT, 0], room[STACK_RIGHT, 0] = start, end
    depth, sure = 1, 0.0
    while depth > 0:
        depth -= 1
        left, right = room[STACK_LEFT, depth], room[STACK_RIGHT, depth]
        middle, half = (left + right) / 2.0, (right - left) / 2.0
        bounded(planes, stars, chosen, n, middle, half, room)
        if not covers(room, OTHER_LOW, n, count, accuracy):
            continue
        if covers(room, LOW, plain, count, accuracy):
            sure += right - left
            continue
        least = _stand(stars, chosen, plain, n, middle, half, slope, room)
        if least < _VAGUE:
            if _surely_not(beam, stars, chosen, plain, n, count, accuracy, room):
                continue
            perhaps = covers(room, LOW, n, count, accuracy)
            if perhaps and _lit_cover(beam, stars, chosen, plain, n, count, accuracy, room, spans):
                sure += right - left
                continue
        if right - left > _STEP and depth + 2 <= STACK:
            depth = halved(room, depth, left, right)
        else:
            sure += _by_ends(planes, beam, stars, chosen, plain, n, left, right, count, accuracy, room, spans)
    return sure


@compiled
def _stand(
    stars: FloatArray,
    chosen: IntArray,
    plain: int,
    n: int,
    turn: float,
    half: float,
    slope: float,
    room: FloatArray,
) -> float:
    """Enter where stars in need of light stand, and by how much their T may change; return the least of that."""
    cosine, sine, least = math.cos(turn), math.sin(turn), np.inf
    for i in range(plain, n):
        across, along = stars[chosen[1, i], 0], stars[chosen[1, i], 1]
        room[ACROSS, i], room[ALONG, i] = across * cosine - along * sine, along * cosine + across * sine
        room[SLACK, i] = slope * stars[chosen[1, i], 2] * half if half > 0.0 else 0.0
        least = min(least, room[SLACK, i])
    return least


@compiled
def _surely_not(
    beam: Beam,
    stars: FloatArray,
    chosen: IntArray,
    plain: int,
    n: int,
    count: int,
    accuracy: float,
    room: FloatArray,
) -> bool:
    """Return whether some move is covered too seldom at every turn of a piece: −δ, or where a plain star's moves end.

    The moves that each star may accept are in the third and fourth row of `room`.
    """
    for k in range(-1, plain):
        move = -accuracy if k < 0 else room[OTHER_HIGH, k]
        if k >= 0 and (move < -accuracy or move >= accuracy or room[OTHER_LOW, k] > move):
            continue
        there = 0
        for i in range(plain):
            there += room[OTHER_LOW, i] <= move < room[OTHER_HIGH, i]
        for i in range(plain, n):
            if there >= count:
                break
            if room[OTHER_LOW, i] <= move < room[OTHER_HIGH, i]:
                lit = transmission(beam, room[ACROSS, i], room[ALONG, i] - move)
                there += lit >= stars[chosen[1, i], 3] - room[SLACK, i]
        if there < count:
            return True
    return False


@compiled
def _lit_cover(
    beam: Beam,
    stars: FloatArray,
    chosen: IntArray,
    plain: int,
    n: int,
    count: int,
    accuracy: float,
    room: FloatArray,
    spans: FloatArray,
) -> bool:
    """Return whether the moves in the first two rows, cut to where stars in need of light have it, cover [−δ, δ]."""
    if count == 1:
        return _lit_cover_once(beam, stars, chosen, plain, n, accuracy, room, spans)
    found = _with_light(beam, stars, chosen, plain, n, accuracy, room, spans)
    return covers(room, LOW, found, count, accuracy)


@compiled
def _lit_cover_once(
    beam: Beam,
    stars: FloatArray,
    chosen: IntArray,
    plain: int,
    n: int,
    accuracy: float,
    room: FloatArray,
    spans: FloatArray,
) -> bool:
    """Do as `_lit_cover` where one star is enough: light is looked for only where no plain star helps on."""
    reach = -accuracy
    while reach < accuracy:
        farthest, following = reach, accuracy
        for i in range(plain):
            if room[LOW, i] <= reach:
                farthest = max(farthest, room[HIGH, i])
            elif room[LOW, i] < room[HIGH, i]:
                following = min(following, room[LOW, i])
        for i in range(plain, n):
            if farthest > reach:
                break
            if room[LOW, i] <= reach < room[HIGH, i]:
                end = min(following, room[HIGH, i])
                farthest = max(farthest, _lit_until(beam, stars[chosen[1, i], 3], i, reach, end, room, spans))
        if farthest <= reach:
            return False
        reach = farthest
    return True


@compiled
def _lit_until(beam: Beam, need: float, i: int, start: float, end: float, room: FloatArray, spans: FloatArray) -> float:
    """Return up to which move from `start` on a star has its light without a break, at most `end`."""
    x, y, level = room[ACROSS, i], room[ALONG, i], need + room[SLACK, i]
    if transmission(beam, x, y - start) < level:
        return start
    parts = lit_spans(beam, ON_MOVE, x, y, level, start, end, end - start, room[PLACES], room[HEIGHTS], spans)
    return float(spans[0, 1]) if parts > 0 and spans[0, 0] == start else start


@compiled
def _with_light(
    beam: Beam,
    stars: FloatArray,
    chosen: IntArray,
    plain: int,
    n: int,
    accuracy: float,
    room: FloatArray,
    spans: FloatArray,
) -> int:
    """Cut the moves, in the first two rows, of stars in need of light to where they have it, with room for its change.

    Return the number of intervals.
    """
    found = plain
    for i in range(plain, n):
        room[OTHER_LOW, i], room[OTHER_HIGH, i] = room[LOW, i], room[HIGH, i]
    for i in range(plain, n):
        first, last = max(room[OTHER_LOW, i], -accuracy), min(room[OTHER_HIGH, i], accuracy)
        level = stars[chosen[1, i], 3] + room[SLACK, i]
        if first >= last or level > 1.0:
            continue
        x, y, length = room[ACROSS, i], room[ALONG, i], 2.0 * accuracy
        parts = lit_spans(beam, ON_MOVE, x, y, level, first, last, length, room[PLACES], room[HEIGHTS], spans)
        for part in range(min(parts, room.shape[1] - found)):
            room[LOW, found], room[HIGH, found] = spans[part, 0], spans[part, 1]
            found += 1
    return found


@compiled
def _by_ends(
    planes: FloatArray,
    beam: Beam,
    stars: FloatArray,
    chosen: IntArray,
    plain: int,
    n: int,
    left: float,
    right: float,
    count: int,
    accuracy: float,
    room: FloatArray,
    spans: FloatArray,
) -> float:
    """Return how much of a short piece is sure: all of it, nothing, or up to a change found by halving."""
    at_left = lit_at(planes, beam, stars, chosen, plain, n, left, count, accuracy, room, spans)
    at_right = lit_at(planes, beam, stars, chosen, plain, n, right, count, accuracy, room, spans)
    if at_left == at_right:
        return right - left if at_left else 0.0
    low, high = left, right
    while high - low > _CLOSE:
        middle = (low + high) / 2.0
        if lit_at(planes, beam, stars, chosen, plain, n, middle, count, accuracy, room, spans) == at_left:
            low = middle
        else:
            high = middle
    change = (low + high) / 2.0
    return change - left if at_left else right - change


@compiled
def lit_at(
    planes: FloatArray,
    beam: Beam,
    stars: FloatArray,
    chosen: IntArray,
    plain: int,
    n: int,
    turn: float,
    count: int,
    accuracy: float,
    room: FloatArray,
    spans: FloatArray,
) -> bool:
    """Return whether one turn is sure, light considered."""
    accepted(planes, stars, chosen, n, turn, room, LOW)
    _stand(stars, chosen, plain, n, turn, 0.0, 0.0, room)
    return _lit_cover(beam, stars, chosen, plain, n, count, accuracy, room, spans)
