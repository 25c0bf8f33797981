"""Spans of time as arrays (n, 2) of Unix seconds, in order and apart; and where a curve is above a line."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Height = Callable[[FloatArray], FloatArray]
"""How far something is above its line at moments (Unix seconds)."""

NONE: FloatArray = np.empty((0, 2))

_SCAN_S = 60.0
"""Curves are looked at every minute: whoever pokes above the horizon line for less is not worth a plan."""
_HALVINGS = 12
"""A minute halved twelve times is 15 milliseconds."""


def above(height: Height, start_s: float, end_s: float) -> FloatArray:
    """Return the spans between two moments in which a height is 0 or more; their ends are good to 0.1 s."""
    at = np.linspace(start_s, end_s, max(int(np.ceil((end_s - start_s) / _SCAN_S)) + 1, 2))
    up = height(at) >= 0.0
    change = np.flatnonzero(up[1:] != up[:-1])
    ends = _crossings(height, at[change], at[change + 1])
    marks = [*([start_s] if up[0] else []), *ends, *([end_s] if up[-1] else [])]
    return np.array(marks, dtype=np.float64).reshape(-1, 2)


def _crossings(height: Height, low: FloatArray, high: FloatArray) -> FloatArray:
    """Halve the minutes in which a height changes sign."""
    if not len(low):
        return low
    sign = np.sign(height(high) - height(low))
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        past = sign * height(middle) >= 0.0
        low, high = np.where(past, low, middle), np.where(past, middle, high)
    return (low + high) / 2.0


def falling(height: Height, start_s: float, end_s: float) -> FloatArray:
    """Return the moments between two others at which a height falls through 0, shape (k,)."""
    return np.array([end for _, end in above(height, start_s, end_s) if end < end_s])


def common(first: FloatArray, second: FloatArray) -> FloatArray:
    """Return the spans that two lists of spans share."""
    shared = [(max(a, c), min(b, d)) for a, b in first for c, d in second if min(b, d) > max(a, c)]
    return np.array(shared, dtype=np.float64).reshape(-1, 2)


def total_s(spans: Iterable[Iterable[float]]) -> float:
    """Return the summed length of spans that do not overlap, seconds."""
    return float(sum(end - start for start, end in spans))
