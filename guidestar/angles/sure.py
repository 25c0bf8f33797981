"""Sure angles: usable wherever the prism truly is, exactly.

If the prism sits d mm (in the focal plane) farther out than measured, the whole guide field moves by d along +y.
A turn t is sure if for every d in [−δ, δ] at least k stars stand on the moved field; not always the same stars: one
may hand over to the next (`guidestar.angles.handover`).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.angles.acceptance import direction_to_turn, polygon_arcs
from guidestar.angles.handover import Judge

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def moved(half_planes: FloatArray, by_mm: float) -> FloatArray:
    """Return the half-planes of a polygon moved by `by_mm` along +y."""
    return half_planes + np.column_stack((np.zeros((len(half_planes), 2)), half_planes[:, 1] * by_mm))


def moved_limits(half_planes: FloatArray, by_mm: float) -> FloatArray:
    """Return the half-planes with each limit moved outward by |normal's y| · `by_mm` (inward if negative).

    Inward by δ: the points that stay inside under every move within ± δ, so that a star there is sure by itself.
    Outward by δ: a polygon that holds every point that some such move brings inside.
    """
    return half_planes + np.column_stack((np.zeros((len(half_planes), 2)), np.abs(half_planes[:, 1]) * by_mm))


def usable_turns(half_planes: FloatArray, radius_mm: FloatArray, phase_deg: FloatArray, count: int) -> FloatArray:
    """Return the set of turns at which at least `count` stars stand in the polygon."""
    owner, arcs = polygon_arcs(half_planes, radius_mm)
    return circular.at_least(direction_to_turn(phase_deg, owner, arcs), count)


def sure_turns(
    half_planes: FloatArray, radius_mm: FloatArray, phase_deg: FloatArray, count: int, accuracy_mm: float
) -> FloatArray:
    """Return the set of turns at which at least `count` stars stand in the polygon for every move within ± δ.

    Parameters
    ----------
    half_planes : (m, 3) array
        The guide field where it was measured to be (`guidestar.optics.guidefield.half_planes`).
    radius_mm, phase_deg : (n,) arrays
        The stars, see `guidestar.angles.acceptance`.
    count : int
        How many stars are wanted at once, ≥ 1.
    accuracy_mm : float
        δ ≥ 0, in the focal plane.
    """
    possible = usable_turns(half_planes, radius_mm, phase_deg, count)
    if accuracy_mm <= 0 or not len(possible):
        return possible
    for move in (-accuracy_mm, accuracy_mm):
        shifted = usable_turns(moved(half_planes, move), radius_mm, phase_deg, count)
        possible = circular.intersection(possible, shifted)
    plain = usable_turns(moved_limits(half_planes, -accuracy_mm), radius_mm, phase_deg, count)
    judge = Judge(half_planes, radius_mm, phase_deg, count, accuracy_mm)
    return circular.at_least(np.concatenate((plain, judged(judge, circular.difference(possible, plain)))))


def judged(judge: Judge, questions: FloatArray) -> FloatArray:
    """Return the sure parts of the `questions`, arcs of turn at which no star is sure by itself, shape (k, 2)."""
    if not len(questions):
        return circular.NOTHING
    return np.concatenate([judge.sure_between(*question) for question in _with_stars_near(judge, questions)])


def _with_stars_near(judge: Judge, questions: FloatArray) -> Iterator[tuple[float, float, IntArray]]:
    """Yield the start and end of each question with the stars that some move within ± δ may bring inside there."""
    owner, arcs = polygon_arcs(moved_limits(judge.half_planes, judge.accuracy_mm), judge.radius_mm)
    touching = direction_to_turn(judge.phase_deg, owner, arcs)
    for start, end in questions:
        lead = np.mod(touching[:, 0] - start, 360.0) <= end - start
        behind = np.mod(start - touching[:, 0], 360.0) <= touching[:, 1] - touching[:, 0]
        yield float(start), float(end), np.unique(owner[lead | behind])
