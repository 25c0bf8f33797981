"""Numbers and angles as every JSON answer holds them: rounded, and never NaN or infinite."""

from __future__ import annotations

import math
from collections.abc import Iterable

from guidestar.field.result import Intervals

ANGLE_DIGITS = 4
COORDINATE_DIGITS = 7


def number(value: float | None, digits: int) -> float | None:
    """Round to `digits`; None for None and for what JSON cannot hold. Adding 0.0 turns −0.0 into 0.0."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits) + 0.0


def direction(value_deg: float | None, digits: int = ANGLE_DIGITS) -> float | None:
    """Round a direction and keep it in [0, 360): 359.99999 is 0, not 360."""
    rounded = number(value_deg, digits)
    return None if rounded is None else rounded % 360.0


def tidy_intervals(intervals: Iterable[tuple[float, float]]) -> list[list[float]]:
    """Round intervals and keep their promises: 0 ≤ start < 360, start < end ≤ start + 360, apart and in order.

    Rounding can push a start to 360, make two neighbours touch, or close a range narrower than 1e-4°; such a range
    is printed one step wide rather than dropped.
    """
    step = 10.0**-ANGLE_DIGITS
    kept: list[list[float]] = []
    for start, end in sorted(_rounded(start, end, step) for start, end in intervals):
        if kept and start <= kept[-1][1]:
            kept[-1][1] = max(kept[-1][1], end)
        else:
            kept.append([start, end])
    return _joined_at_north(kept)


def _rounded(start: float, end: float, step: float) -> tuple[float, float]:
    low, high = round(start, ANGLE_DIGITS), round(end, ANGLE_DIGITS)
    if low >= 360.0:
        low, high = low - 360.0, high - 360.0
    return low + 0.0, round(max(high, low + step), ANGLE_DIGITS)


def _joined_at_north(intervals: list[list[float]]) -> list[list[float]]:
    if len(intervals) > 1 and intervals[-1][1] >= intervals[0][0] + 360.0:
        first = intervals.pop(0)
        intervals[-1][1] = max(intervals[-1][1], round(first[1] + 360.0, ANGLE_DIGITS))
    if len(intervals) == 1 and intervals[0][1] - intervals[0][0] >= 360.0:
        return [[0.0, 360.0]]
    return intervals


def intervals_or_null(intervals: Intervals | None) -> list[list[float]] | None:
    """Tidy intervals; None where there is no answer, which is not the same as an empty one."""
    return None if intervals is None else tidy_intervals(intervals)
