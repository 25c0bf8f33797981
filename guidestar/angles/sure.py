"""Sure angles: usable wherever the prism truly is, exactly.

If the prism sits d mm (in the focal plane) farther out than measured, the whole guide field moves by d along +y.
A turn t is sure if for every d in [−δ, δ] at least k stars stand on the moved field; not always the same stars: one
may hand over to the next. For one star and one turn the good d are an interval [low, high], because the field is
convex, so the question is whether those intervals cover [−δ, δ] k-fold.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.angles.acceptance import direction_to_turn, polygon_arcs

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_PARALLEL = 1e-12
"""Edges whose normal has a smaller y component run along y: moving the field along y never brings them to a star."""


def moved(half_planes: FloatArray, by_mm: float) -> FloatArray:
    """Return the half-planes of a polygon moved by `by_mm` along +y."""
    return half_planes + np.column_stack((np.zeros((len(half_planes), 2)), half_planes[:, 1] * by_mm))


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
    nominal = usable_turns(half_planes, radius_mm, phase_deg, count)
    if accuracy_mm <= 0 or not len(nominal):
        return nominal
    possible = nominal
    for move in (-accuracy_mm, accuracy_mm):
        shifted = usable_turns(moved(half_planes, move), radius_mm, phase_deg, count)
        possible = circular.intersection(possible, shifted)
    plain = usable_turns(moved_limits(half_planes, -accuracy_mm), radius_mm, phase_deg, count)
    open_questions = circular.difference(possible, plain)
    handed = _with_hand_over(open_questions, half_planes, radius_mm, phase_deg, count, accuracy_mm)
    return circular.at_least(np.concatenate((plain, handed)))


def moved_limits(half_planes: FloatArray, by_mm: float) -> FloatArray:
    """Return the half-planes with each limit moved outward by |normal's y| · `by_mm` (inward if negative).

    Inward by δ: the points that stay inside under every move within ± δ, so that a star there is sure by itself.
    Outward by δ: a polygon that holds every point that some such move brings inside.
    """
    return half_planes + np.column_stack((np.zeros((len(half_planes), 2)), np.abs(half_planes[:, 1]) * by_mm))


def _with_hand_over(
    questions: FloatArray,
    half_planes: FloatArray,
    radius_mm: FloatArray,
    phase_deg: FloatArray,
    count: int,
    accuracy_mm: float,
) -> FloatArray:
    """Return the parts of the `questions` arcs where several stars together are sure.

    Between neighbouring turns at which an interval's end meets another's, or ± δ, or a star passes an edge that
    runs along y, the answer is constant: it is asked once in the middle of each such piece.
    """
    if not len(questions):
        return circular.NOTHING
    found = [circular.NOTHING]
    for start, end, near in with_stars_near(questions, half_planes, radius_mm, phase_deg, accuracy_mm):
        stars = (half_planes, radius_mm[near], phase_deg[near])
        marks = events(*stars, accuracy_mm, start, end)
        sure = covers(*good_moves(*stars, (marks[:-1] + marks[1:]) / 2), count, accuracy_mm)
        found.append(np.column_stack((marks[:-1][sure], marks[1:][sure])))
    return np.concatenate(found)


def with_stars_near(
    questions: FloatArray, half_planes: FloatArray, radius_mm: FloatArray, phase_deg: FloatArray, accuracy_mm: float
) -> Iterator[tuple[float, float, IntArray]]:
    """Yield the start and end of each question with the stars that some move within ± δ may bring inside there."""
    owner, arcs = polygon_arcs(moved_limits(half_planes, accuracy_mm), radius_mm)
    touching = direction_to_turn(phase_deg, owner, arcs)
    for start, end in questions:
        yield float(start), float(end), np.unique(owner[_overlap(touching, start, end)])


def _overlap(arcs: FloatArray, start: float, end: float) -> NDArray[np.bool_]:
    """Return which arcs share an angle with [start, end]."""
    lead = np.mod(arcs[:, 0] - start, 360.0)
    behind = np.mod(start - arcs[:, 0], 360.0)
    return (lead <= end - start) | (behind <= arcs[:, 1] - arcs[:, 0])


def events(
    half_planes: FloatArray, radius_mm: FloatArray, phase_deg: FloatArray, accuracy_mm: float, start: float, end: float
) -> FloatArray:
    """Return, in order, `start`, all turns between at which the answer may change, and `end`.

    For a sloping edge (a, b, c) the move that brings it onto a star is d(t) = (a·x + b·y − c)/b, a sinusoid
    α cos t + β sin t + κ; lower edges (b < 0) give the interval's high end, upper edges its low end. Events are
    the roots of high_i = low_j and of every d(t) = ± δ, and of a·x = c for edges along y: all in closed form.
    """
    high, low, flat = (_waves(part, radius_mm, phase_deg) for part in _by_slope(half_planes))
    both = np.concatenate((high, low))
    level = np.array([0.0, 0.0, accuracy_mm])
    meets = (high[:, None, :] - low[None, :, :]).reshape(-1, 3)
    turns = _roots(np.concatenate((meets, both - level, both + level, flat)))
    inside = np.mod(turns - start, 360.0)
    inside = inside[(inside > 0) & (inside < end - start)]
    return np.concatenate(([start], start + np.unique(inside), [end]))


def _by_slope(half_planes: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the lower edges, the upper edges and the edges along y."""
    slope = half_planes[:, 1]
    level = np.abs(slope) <= _PARALLEL
    return half_planes[(slope < 0) & ~level], half_planes[(slope > 0) & ~level], half_planes[level]


def _waves(edges: FloatArray, radius_mm: FloatArray, phase_deg: FloatArray) -> FloatArray:
    """Return (edges · stars, 3) coefficients (α, β, κ) of d(t), or of a·x − c for edges along y.

    With x = ρ sin(γ − t), y = ρ cos(γ − t):  a·x + b·y = ρ(a sin γ + b cos γ) cos t + ρ(b sin γ − a cos γ) sin t.
    """
    a, b, c = (edges[:, i, None] for i in range(3))
    sine, cosine = np.sin(np.radians(phase_deg)), np.cos(np.radians(phase_deg))
    scale = np.where(np.abs(b) <= _PARALLEL, 1.0, b)
    in_cosine = radius_mm * (a * sine + b * cosine) / scale
    in_sine = radius_mm * (b * sine - a * cosine) / scale
    constant = np.broadcast_to(-c / scale, in_cosine.shape)
    return np.stack((in_cosine, in_sine, constant), axis=-1).reshape(-1, 3)


def _roots(waves: FloatArray) -> FloatArray:
    """Return the turns, degrees, at which α cos t + β sin t + κ = 0 (two for each wave that reaches 0)."""
    amplitude = np.hypot(waves[:, 0], waves[:, 1])
    real = (amplitude > np.abs(waves[:, 2])) & (amplitude > 0)
    middle = np.arctan2(waves[real, 1], waves[real, 0])
    half = np.arccos(-waves[real, 2] / amplitude[real])
    return np.asarray(np.degrees(np.concatenate((middle - half, middle + half))))


def good_moves(
    half_planes: FloatArray, radius_mm: FloatArray, phase_deg: FloatArray, turn_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return (low, high), shape (turns, stars), mm: the moves that put each star in the polygon at each turn.

    low > high where no move does.
    """
    direction = np.radians(phase_deg - turn_deg[:, None])
    x, y = radius_mm * np.sin(direction), radius_mm * np.cos(direction)
    low, high = np.full(x.shape, -np.inf), np.full(x.shape, np.inf)
    for a, b, c in half_planes:
        if abs(b) <= _PARALLEL:
            high = np.where(a * x > c, -np.inf, high)
            continue
        move = (a * x + b * y - c) / b
        if b > 0:
            low = np.maximum(low, move)
        else:
            high = np.minimum(high, move)
    return low, high


def covers(low: FloatArray, high: FloatArray, count: int, accuracy_mm: float) -> NDArray[np.bool_]:
    """Return, for each turn, whether intervals cover [−δ, δ] at least `count`-fold.

    `low`, `high` of shape (turns, intervals), mm; where low > high there is none. One star's own intervals must not
    overlap. Going up from −δ the number of stars can only fall just after an interval's high end, so it is enough to
    count at −δ and just after each high end within [−δ, δ).
    """
    alive = low <= high
    low, high = np.where(alive, low, np.inf), np.where(alive, high, -np.inf)
    covered = np.count_nonzero((low <= -accuracy_mm) & (high > -accuracy_mm), axis=1) >= count
    for interval in range(high.shape[1]):
        after = high[:, interval, None]
        left = np.count_nonzero((low <= after) & (high > after), axis=1)
        covered &= (left >= count) | (after[:, 0] < -accuracy_mm) | (after[:, 0] >= accuracy_mm)
    return np.asarray(covered)
