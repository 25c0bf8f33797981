"""Sets of dial angles that hold through many cells of a night, or through as much of it as possible."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.night.segments import Cells

FloatArray = NDArray[np.float64]


def dial_arcs(camera_set: FloatArray, low_deg: float, high_deg: float) -> FloatArray:
    """Return the dial angles that stay in a set of camera angles while the offset runs from low to high."""
    if len(camera_set) and camera_set[0, 1] - camera_set[0, 0] >= 360.0:
        return circular.FULL_CIRCLE
    arcs = np.column_stack((camera_set[:, 0] - low_deg, camera_set[:, 1] - high_deg))
    return arcs[arcs[:, 1] > arcs[:, 0]]


def held(
    cells: Cells, by_segment: Sequence[FloatArray] | Mapping[int, FloatArray], chosen: Sequence[int] | None = None
) -> FloatArray:
    """Return the dial angles that hold in every cell, of all or of the chosen ones.

    `by_segment` holds each segment's set of camera angles.
    """
    which = range(len(cells)) if chosen is None else chosen
    arcs = [dial_arcs(by_segment[cells.segment[i]], cells.low_deg[i], cells.high_deg[i]) for i in which]
    if not arcs or any(not len(one) for one in arcs):
        return circular.NOTHING
    return circular.at_least(np.concatenate(arcs), len(arcs))


def longest_held(cells: Cells, by_segment: Sequence[FloatArray]) -> tuple[FloatArray, float]:
    """Return the dial angles that hold for the longest time in all, and that time, seconds (0 if none do)."""
    arcs, weights = [], []
    for i, seconds in enumerate(cells.seconds):
        one = dial_arcs(by_segment[cells.segment[i]], cells.low_deg[i], cells.high_deg[i])
        arcs.append(one)
        weights.append(np.full(len(one), seconds))
    return heaviest(np.concatenate(arcs), np.concatenate(weights))


def heaviest(arcs: FloatArray, weights: FloatArray) -> tuple[FloatArray, float]:
    """Return the set of angles where the weights of the arcs that cover it sum to the most, and that sum."""
    if not len(arcs):
        return circular.NOTHING, 0.0
    starts = np.mod(arcs[:, 0], 360.0)
    ends = starts + np.minimum(arcs[:, 1] - arcs[:, 0], 360.0)
    marks = np.unique(np.concatenate((starts, np.mod(ends, 360.0), [0.0])))
    middles = (marks + np.append(marks[1:], 360.0)) / 2.0
    sums = np.zeros(len(middles))
    for start, end, weight in zip(starts, ends, weights, strict=True):
        sums += weight * (((middles > start) & (middles < end)) | (middles + 360.0 < end))
    most = float(sums.max())
    best = sums >= most * (1.0 - 1e-9)
    spans = np.column_stack((marks, np.append(marks[1:], 360.0)))[best]
    return circular.at_least(spans), most
