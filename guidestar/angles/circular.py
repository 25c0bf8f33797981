"""Sets of angles on the circle, degrees.

An array of arcs has shape (n, 2), rows (start, end) with start < end ≤ start + 360, anywhere on the real line; it may
overlap itself. A *set* is such an array in normal form: 0 ≤ start < 360, disjoint, in order of start, arcs that touch
merged; the full circle is [[0, 360]], nothing has shape (0, 2), an arc across north has end > 360.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

SLIVER_DEG = 1e-9
"""Arcs and gaps narrower than this are rounding noise: such arcs are dropped, such gaps closed."""

NOTHING: FloatArray = np.empty((0, 2))
FULL_CIRCLE: FloatArray = np.array([[0.0, 360.0]])


def at_least(arcs: ArrayLike, count: int = 1) -> FloatArray:
    """Return the set of angles that at least `count` of the arcs cover (1: their union).

    Arcs of no width are ignored. To count stars, one star's arcs must not overlap each other.
    """
    spans = np.asarray(arcs, dtype=np.float64).reshape(-1, 2)
    spans = spans[spans[:, 1] - spans[:, 0] > 0]
    if not len(spans):
        return NOTHING
    starts = np.mod(spans[:, 0], 360.0)
    starts[starts >= 360.0] = 0.0  # what the remainder of a tiny negative angle rounds to
    ends = starts + np.minimum(spans[:, 1] - spans[:, 0], 360.0)
    marks, where = np.unique(np.concatenate((starts, np.mod(ends, 360.0))), return_inverse=True)
    steps = np.zeros(len(marks), dtype=np.int64)
    np.add.at(steps, where[: len(spans)], 1)
    np.add.at(steps, where[len(spans) :], -1)
    # Depth just after each mark; an arc that reaches or passes 360 is already on just before the first mark.
    depth = np.count_nonzero(ends >= 360.0) + np.cumsum(steps)
    return _runs(marks, depth >= count)


def _runs(marks: FloatArray, on: NDArray[np.bool_]) -> FloatArray:
    """Join the segments [marks[i], marks[i+1]) that are on into a set; the last segment wraps to the first mark."""
    ends = np.append(marks[1:], marks[0] + 360.0)
    return _normal_form(np.column_stack((marks[on], ends[on])))


def _normal_form(spans: FloatArray) -> FloatArray:
    """Merge arcs sorted by start, disjoint, with 0 ≤ start < 360; close gaps and drop arcs that are rounding noise."""
    if not len(spans):
        return NOTHING
    opens = np.append(True, spans[1:, 0] - spans[:-1, 1] > SLIVER_DEG)
    starts = spans[opens, 0]
    ends = spans[np.append(opens[1:], True), 1]
    if ends[-1] - 360.0 >= starts[0] - SLIVER_DEG:  # the last arc meets the first across north
        if len(starts) == 1:
            return FULL_CIRCLE
        ends[-1] = ends[0] + 360.0
        starts, ends = starts[1:], ends[1:]
    wide = ends - starts > SLIVER_DEG
    return np.column_stack((starts[wide], ends[wide]))


def complement(arcs: ArrayLike) -> FloatArray:
    """Return the set of angles that none of the arcs covers."""
    spans = at_least(arcs)
    if not len(spans):
        return FULL_CIRCLE
    starts, ends = spans[:, 1], np.append(spans[1:, 0], spans[0, 0] + 360.0)
    return at_least(np.column_stack((starts, ends)))


def intersection(first: ArrayLike, second: ArrayLike) -> FloatArray:
    """Return the set of angles that both sets cover (each may overlap itself)."""
    return at_least(np.concatenate((at_least(first), at_least(second))), 2)


def difference(first: ArrayLike, second: ArrayLike) -> FloatArray:
    """Return the set of angles in the first but not in the second."""
    return intersection(first, complement(second))


def turned(arcs: ArrayLike, by_deg: float) -> FloatArray:
    """Return the set with every angle increased by `by_deg`."""
    return at_least(np.asarray(arcs, dtype=np.float64).reshape(-1, 2) + by_deg)


def mirrored(arcs: ArrayLike) -> FloatArray:
    """Return the set with every angle's sign changed."""
    return at_least(-np.asarray(arcs, dtype=np.float64).reshape(-1, 2)[:, ::-1])


def total_deg(arcs: ArrayLike) -> float:
    """Return the total width of the union of the arcs, 0 to 360 degrees."""
    spans = at_least(arcs)
    return float(np.sum(spans[:, 1] - spans[:, 0]))


def contains(arcs: ArrayLike, angle_deg: ArrayLike) -> NDArray[np.bool_]:
    """Return, for each angle, whether some arc covers it (both ends belong to an arc)."""
    spans = np.asarray(arcs, dtype=np.float64).reshape(-1, 2)
    ahead = np.mod(np.asarray(angle_deg, dtype=np.float64)[..., None] - spans[:, 0], 360.0)
    return np.asarray(np.any(ahead <= spans[:, 1] - spans[:, 0], axis=-1))


def holds(arcs: ArrayLike, start_deg: float, end_deg: float) -> bool:
    """Return whether the set covers the whole arc from `start_deg` to `end_deg` (which may be a single angle)."""
    spans = at_least(arcs)
    ahead = np.mod(start_deg - spans[:, 0], 360.0)
    fits = ahead + (end_deg - start_deg) <= spans[:, 1] - spans[:, 0]
    return bool(np.any(fits | (spans[:, 1] - spans[:, 0] >= 360.0)))


def as_tuples(arcs: ArrayLike) -> tuple[tuple[float, float], ...]:
    """Return a set as plain tuples of floats, for a result."""
    return tuple((float(start), float(end)) for start, end in np.asarray(arcs).reshape(-1, 2))
