"""Whether several stars together cover every place the prism may be in, and at which turns.

For one star and one turn the moves d of the prism that put the star on the guide field are an interval (the field is
convex) or, where light decides, several. A turn is sure if the intervals of all stars together cover [−δ, δ] k-fold:
one star may hand over to the next. Where that changes with the turn, an interval's end meets another's or ± δ, or a
star passes an edge that runs along y.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

PARALLEL = 1e-12
"""Edges whose normal has a smaller y component run along y: moving the field along y never brings them to a star."""

_FEW = 40
"""Up to so many stars every pair is considered; of more, so many are tried first, and in a dense field they suffice."""

STEP_DEG = 0.05
"""Width of the steps in which changes are looked for where not every change is known beforehand: what is sure, or
not, for less than this can be overlooked."""

_BISECTIONS = 16
"""From 0.05° to below 1e-6°."""

_AT_ONCE = 2_000_000
"""Turns times stars worked on at once, to bound the memory."""


@dataclass(frozen=True)
class Judge:
    """Says which turns are sure, for stars on a polygon.

    `half_planes` (m, 3) is the field where it was measured to be; `radius_mm`, `phase_deg` (n,) are the stars (see
    `guidestar.angles.acceptance`); `count` stars are wanted wherever the field is within ± `accuracy_mm`.
    """

    half_planes: FloatArray
    radius_mm: FloatArray
    phase_deg: FloatArray
    count: int
    accuracy_mm: float

    @property
    def knows_every_change(self) -> bool:
        """Whether `events` holds every turn at which the answer may change."""
        return True

    def sure_between(self, start: float, end: float, stars: IntArray) -> FloatArray:
        """Return the arcs of turn between `start` and `end` at which these stars are sure, shape (k, 2)."""
        few = stars if len(stars) <= _FEW else self._spread(stars)
        step = np.inf if self.knows_every_change else STEP_DEG
        found = self._looked_for(self.events(few, start, end), step, few)
        if len(few) == len(stars):
            return found
        rest = circular.difference([[start, end]], found)
        more = [self._looked_for(np.array(piece), STEP_DEG, stars) for piece in rest]
        return np.concatenate((found, *more))

    def _spread(self, stars: IntArray) -> IntArray:
        """Return a few of the stars, evenly spread in radius: they cover moves of the field best."""
        order = stars[np.argsort(self.radius_mm[stars], kind="stable")]
        return order[np.linspace(0, len(order) - 1, _FEW).astype(np.int64)]

    def _looked_for(self, marks: FloatArray, step_deg: float, stars: IntArray) -> FloatArray:
        """Return the sure arcs between the first and the last mark, looked for in steps no wider than `step_deg`."""
        left, right = _steps(marks, step_deg)
        at_left, at_right = self._sure_in_parts(stars, left), self._sure_in_parts(stars, right)
        low, high = left.copy(), right.copy()
        different = np.flatnonzero(at_left != at_right)
        for _ in range(_BISECTIONS if len(different) else 0):
            middle = (low[different] + high[different]) / 2
            same = self._sure_in_parts(stars, middle) == at_left[different]
            low[different] = np.where(same, middle, low[different])
            high[different] = np.where(same, high[different], middle)
        change = (low + high) / 2
        some = at_left | at_right
        return np.column_stack((np.where(at_left, left, change), np.where(at_right, right, change)))[some]

    def _sure_in_parts(self, stars: IntArray, turn_deg: FloatArray) -> BoolArray:
        parts = max(int(np.ceil(len(turn_deg) * max(len(stars), 1) / _AT_ONCE)), 1)
        return np.concatenate([self.sure_at(stars, part) for part in np.array_split(turn_deg, parts)])

    def sure_at(self, stars: IntArray, turn_deg: FloatArray) -> BoolArray:
        """Return whether each turn is sure with these stars."""
        moves = good_moves(self.half_planes, self.radius_mm[stars], self.phase_deg[stars], turn_deg)
        return covers(*moves, self.count, self.accuracy_mm)

    def events(self, stars: IntArray, start: float, end: float) -> FloatArray:
        """Return, in order, `start`, all turns between at which the answer may change, and `end`.

        For a sloping edge (a, b, c) the move that brings it onto a star is d(t) = (a·x + b·y − c)/b, a sinusoid
        α cos t + β sin t + κ; lower edges (b < 0) give the interval's high end, upper edges its low end. Events are
        the roots of high_i = low_j and of every d(t) = ± δ, and of a·x = c for edges along y: all in closed form.
        """
        radius, phase = self.radius_mm[stars], self.phase_deg[stars]
        high, low, flat = (_waves(part, radius, phase) for part in _by_slope(self.half_planes))
        both = np.concatenate((high, low))
        level = np.array([0.0, 0.0, self.accuracy_mm])
        meets = (high[:, None, :] - low[None, :, :]).reshape(-1, 3)
        turns = _roots(np.concatenate((meets, both - level, both + level, flat)))
        inside = np.mod(turns - start, 360.0)
        inside = inside[(inside > 0) & (inside < end - start)]
        return np.concatenate(([start], start + np.unique(inside), [end]))


def _steps(marks: FloatArray, step_deg: float) -> tuple[FloatArray, FloatArray]:
    """Return both ends of steps that fill the pieces between marks; at a mark two pieces meet, so ends are inset."""
    pieces = [np.linspace(a, b, max(int(np.ceil((b - a) / step_deg)), 1) + 1) for a, b in pairwise(marks)]
    inset = circular.SLIVER_DEG / 4
    left = np.concatenate([piece[:-1] for piece in pieces]) + inset
    right = np.concatenate([piece[1:] for piece in pieces]) - inset
    return left, np.maximum(left, right)


def _by_slope(half_planes: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the lower edges, the upper edges and the edges along y."""
    slope = half_planes[:, 1]
    level = np.abs(slope) <= PARALLEL
    return half_planes[(slope < 0) & ~level], half_planes[(slope > 0) & ~level], half_planes[level]


def _waves(edges: FloatArray, radius_mm: FloatArray, phase_deg: FloatArray) -> FloatArray:
    """Return (edges · stars, 3) coefficients (α, β, κ) of d(t), or of a·x − c for edges along y.

    With x = ρ sin(γ − t), y = ρ cos(γ − t):  a·x + b·y = ρ(a sin γ + b cos γ) cos t + ρ(b sin γ − a cos γ) sin t.
    """
    a, b, c = (edges[:, i, None] for i in range(3))
    sine, cosine = np.sin(np.radians(phase_deg)), np.cos(np.radians(phase_deg))
    scale = np.where(np.abs(b) <= PARALLEL, 1.0, b)
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
    return moves_at(half_planes, radius_mm * np.sin(direction), radius_mm * np.cos(direction))


def moves_at(
    half_planes: FloatArray,
    x_mm: FloatArray,
    y_mm: FloatArray,
    along_mm: FloatArray | float = 0.0,
    outward_mm: FloatArray | float = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Return (low, high), mm, shaped as `x_mm` and `y_mm`: the moves that put the polygon on stars at those places.

    Stars that may stand elsewhere by up to `along_mm` along x and `outward_mm` along y (negative: that keep so much
    free) have every edge moved outward by so much. low > high where no move does.
    """
    low, high = np.full(x_mm.shape, -np.inf), np.full(x_mm.shape, np.inf)
    for a, b, c in half_planes:
        limit = c + abs(a) * along_mm + abs(b) * outward_mm
        if abs(b) <= PARALLEL:
            high = np.where(a * x_mm > limit, -np.inf, high)
        elif b > 0:
            low = np.maximum(low, (a * x_mm + b * y_mm - limit) / b)
        else:
            high = np.minimum(high, (a * x_mm + b * y_mm - limit) / b)
    return low, high


def side_by_side(owner: IntArray, spans: FloatArray, rows: int) -> tuple[FloatArray, FloatArray]:
    """Return (low, high), shape (rows, widest), as `covers` takes them, from spans (k, 2) that belong to `owner` (k,).

    Places without a span have low > high.
    """
    order = np.argsort(owner, kind="stable")
    owner, spans = owner[order], spans[order]
    rank = np.arange(len(owner)) - np.searchsorted(owner, owner)
    width = int(rank.max()) + 1 if len(rank) else 0
    low, high = np.full((rows, width), np.inf), np.full((rows, width), -np.inf)
    low[owner, rank], high[owner, rank] = spans[:, 0], spans[:, 1]
    return low, high


def covers(low: FloatArray, high: FloatArray, count: int, accuracy_mm: float) -> BoolArray:
    """Return, for each turn, whether intervals cover [−δ, δ] at least `count`-fold.

    `low`, `high` of shape (turns, intervals), mm; where low > high there is none. One star's own intervals must not
    overlap. Going up, the number of stars rises at each low end and falls just after each high end; it has to be
    enough at −δ and after every end within [−δ, δ).
    """
    alive = low <= high
    ends = np.concatenate((np.where(alive, low, np.inf), np.where(alive, high, np.inf)), axis=1)
    # Stable, so that at one place low ends come before high ends: touching intervals leave no gap.
    order = np.argsort(ends, axis=1, kind="stable")
    place = np.take_along_axis(ends, order, axis=1)
    stars = np.cumsum(np.where(order < low.shape[1], 1, -1), axis=1)
    at_start = np.sum(np.where(place <= -accuracy_mm, np.where(order < low.shape[1], 1, -1), 0), axis=1)
    within = (place > -accuracy_mm) & (place < accuracy_mm)
    return np.asarray((at_start >= count) & np.all((stars >= count) | ~within, axis=1))
