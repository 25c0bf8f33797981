"""Robust fits of falloff with and without a shape, and the search for where to start them (scipy)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from guidestar.flat.cells import Cells, grid
from guidestar.flat.shapes import KnownBody, RoundOpening, Strip, falloff_basis

FloatArray = NDArray[np.float64]
Shape = Strip | RoundOpening

_NOISE_FLOOR = 5e-4
"""Relative: no flat is modelled better than this, however many electrons it holds."""


@dataclass(frozen=True)
class Fit:
    """A fitted model: falloff about `centre` with its `terms`, and a shape (None for falloff alone).

    `cost` is half the sum of the robust losses of the residuals over the cells' error; `residual` data less model in
    the logarithm, (n,).
    """

    shape: Shape | None
    centre: tuple[float, float]
    terms: FloatArray
    cost: float
    residual: FloatArray


@dataclass(frozen=True)
class Family:
    """Shapes of one kind about a start: how values make one, their bounds (2, k) and natural sizes (k,)."""

    make: Callable[[FloatArray], Shape]
    start: FloatArray
    bounds: FloatArray
    sizes: FloatArray


def strips_near(start: Strip, cells: Cells, known: KnownBody | None) -> Family:
    """Return the strips about a start; with the rig known, width and blur stay near what it says.

    The values are turn, depth, aside, half width, blur; depth in blurs beyond the frame's farthest point, and never so
    far out that no shadow is left, where all slopes vanish and a fit would be lost.
    """
    reach = _reach(start.turn_deg, cells.half_width, cells.half_height)
    depth = (start.edge - reach) / start.blur
    values = np.array([start.turn_deg, depth, start.aside, start.half_width, start.blur])
    widths, blurs = (_WIDTHS, _BLURS) if known is None else known.ranges()
    low = np.array([values[0] - 25.0, -8.0, values[2] - 0.5, widths[0], blurs[0]])
    high = np.array([values[0] + 25.0, 0.93, values[2] + 0.5, widths[1], blurs[1]])

    def make(v: FloatArray) -> Strip:
        edge = _reach(v[0], cells.half_width, cells.half_height) + v[1] * v[4]
        return Strip(float(v[0]), float(edge), float(v[2]), float(v[3]), float(v[4]), start.hole)

    return Family(make, np.clip(values, low, high), np.array([low, high]), np.array([8.0, 0.3, 0.1, 0.15, 0.08]))


_WIDTHS, _BLURS = (0.14, 2.0), (0.05, 0.7)
"""Half widths and blurs that a prism could have, in units of half the frame's longer side."""


def is_plausible(shape: Shape | None) -> bool:
    """Tell whether a strip is one that a prism could throw: not one driven to the widest beam."""
    return isinstance(shape, Strip) and shape.blur < _BLURS[1] * 0.98


def _reach(turn_deg: float, half_width: float, half_height: float) -> float:
    """Return how far the frame reaches in a direction counted from up towards left."""
    turn = np.radians(turn_deg)
    return float(half_height * abs(np.cos(turn)) + half_width * abs(np.sin(turn)))


def openings_near(start: RoundOpening) -> Family:
    """Return the off-centre round openings about a start."""
    bounds = np.array([[-1.5, -1.5, 0.5, 0.05], [1.5, 1.5, 3.0, 0.7]])
    values = np.array([start.right, start.up, start.radius, start.blur])
    return Family(lambda v: RoundOpening(*v.tolist()), values, bounds, np.array([0.1, 0.1, 0.1, 0.08]))


def fit(cells: Cells, family: Family | None = None, *, after: Fit | None = None, most: int = 60) -> Fit:
    """Fit falloff, and a shape of the family from its start, together.

    Residuals count by a Cauchy loss, so that what the model cannot follow (dust above all) hardly pulls at it. The
    falloff's centre starts where an earlier fit left it; `most` bounds the evaluations.
    """
    from scipy.optimize import least_squares

    problem = _Problem(cells, family, (0.0, 0.0) if after is None else after.centre)
    found = least_squares(
        problem.residuals,
        np.zeros(len(problem.start)),
        jac=problem.jacobian,
        bounds=problem.bounds,
        loss="cauchy",
        f_scale=_LOSS_SCALE,
        max_nfev=most,
        ftol=1e-6,
        xtol=1e-6,
        gtol=1e-6,
    )
    terms, centre, values = problem.split(found.x)
    shape = None if family is None else family.make(values)
    residual = problem.residuals(found.x) * problem.error
    return Fit(shape, (float(centre[0]), float(centre[1])), terms, float(found.cost), residual)


_TERM_SIZE = 0.05
_CENTRE_SIZE = 0.1
_FARTHEST_CENTRE = 0.6
_SLOPE_STEP = 0.03


class _Problem:
    """Residuals and slopes of falloff plus shape.

    Parameters are departures from the start in natural sizes, so that the solver's first step of length one is a sane
    one: the falloff's terms, its centre, the shape's values.
    """

    def __init__(self, cells: Cells, family: Family | None, centre: tuple[float, float]) -> None:
        self.cells, self.family = cells, family
        self.error = max(cells.noise, _NOISE_FLOOR)
        values = np.empty(0) if family is None else family.start
        sizes = np.empty(0) if family is None else family.sizes
        basis = falloff_basis(cells.right, cells.up, centre)
        self.count = basis.shape[1]
        terms, _ = robust_terms(basis, cells.log_light - self.shaded(values), self.error)
        self.start = np.concatenate([terms, centre, values])
        self.sizes = np.concatenate([np.full(self.count, _TERM_SIZE), np.full(2, _CENTRE_SIZE), sizes])
        self.bounds = self._bounds(np.empty((2, 0)) if family is None else family.bounds)

    def _bounds(self, limits: FloatArray) -> tuple[FloatArray, FloatArray]:
        low, high = (
            np.concatenate([np.full(self.count, sign * np.inf), np.full(2, sign * _FARTHEST_CENTRE), limit])
            for sign, limit in zip((-1, 1), limits, strict=True)
        )
        low, high = ((limit - self.start) / self.sizes for limit in (low, high))
        return np.minimum(low, -1e-3), np.maximum(high, 1e-3)

    def split(self, departures: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        parameters = self.start + self.sizes * departures
        return parameters[: self.count], parameters[self.count : self.count + 2], parameters[self.count + 2 :]

    def shaded(self, values: FloatArray) -> FloatArray:
        if self.family is None:
            return np.zeros(len(self.cells.right))
        return np.asarray(np.log1p(-self.family.make(values).loss(self.cells.right, self.cells.up)))

    def model(self, departures: FloatArray) -> FloatArray:
        terms, centre, values = self.split(departures)
        return np.asarray(self._basis(centre) @ terms + self.shaded(values))

    def _basis(self, centre: FloatArray) -> FloatArray:
        return falloff_basis(self.cells.right, self.cells.up, (float(centre[0]), float(centre[1])))

    def residuals(self, departures: FloatArray) -> FloatArray:
        return np.asarray((self.cells.log_light - self.model(departures)) / self.error)

    def jacobian(self, departures: FloatArray) -> FloatArray:
        basis = self._basis(self.split(departures)[1])
        slopes = [self._slope(departures, k) for k in range(self.count, len(departures))]
        return -np.column_stack([basis * _TERM_SIZE, *slopes]) / self.error

    def _slope(self, departures: FloatArray, k: int) -> FloatArray:
        """Return the model's slope along one nonlinear parameter, from a small step either way."""
        move = np.zeros_like(departures)
        move[k] = _SLOPE_STEP
        upper, lower = self.split(departures + move), self.split(departures - move)
        if k < self.count + 2:  # the centre moves the falloff alone, the rest the shape alone
            change = (self._basis(upper[1]) - self._basis(lower[1])) @ upper[0]
        else:
            change = self.shaded(upper[2]) - self.shaded(lower[2])
        return np.asarray(change / (2 * _SLOPE_STEP))


def robust_terms(basis: FloatArray, data: FloatArray, error: float) -> tuple[FloatArray, float]:
    """Return the terms that fit data by a Cauchy loss (a few reweighted least squares), and that loss as in `Fit`."""
    weights = np.ones_like(data)
    for _ in range(_REWEIGHTINGS):
        weighted = basis * weights[:, None]
        terms = np.linalg.solve(weighted.T @ basis, weighted.T @ data)
        pull = ((data - basis @ terms) / (error * _LOSS_SCALE)) ** 2
        weights = 1.0 / (1.0 + pull)
    return np.asarray(terms, dtype=np.float64), float(0.5 * _LOSS_SCALE**2 * np.sum(np.log1p(pull)))


def robust_costs(cells: Cells, residual: FloatArray) -> FloatArray:
    """Return each cell's share of a fit's cost, from its residual in the logarithm."""
    error = max(cells.noise, _NOISE_FLOOR)
    return np.asarray(0.5 * _LOSS_SCALE**2 * np.log1p((residual / (error * _LOSS_SCALE)) ** 2))


_REWEIGHTINGS = 8
_LOSS_SCALE = 3.0
"""Residuals beyond this many errors begin to count less."""


@dataclass(frozen=True)
class Start:
    """Where to start a fit: a strip, the falloff fitted without the cells near it, and the cost of the two together."""

    strip: Strip
    falloff: Fit
    cost: float


def likely_strips(cells: Cells, known: KnownBody | None) -> list[Start]:
    """Return the strip to start from for each edge and corner, best first.

    For each of them falloff is fitted to the cells away from it, so that a shadow there cannot bend it; a falloff is
    round, so the other three corners say how dark this one should be. The strip that suits what is left best is kept.
    """
    bank = _bank(cells.rows, cells.columns, cells.half_width, cells.half_height, known)
    starts = [_best_start(cells, shapes, shades) for shapes, shades in bank]
    return sorted(starts, key=lambda start: start.cost)


def _best_start(cells: Cells, shapes: tuple[Strip, ...], shades: FloatArray) -> Start:
    """Return the best of one direction's strips."""
    falloff = fit(_away_from(cells, shapes[0].turn_deg), most=_FALLOFF_EVALUATIONS)
    light = falloff_basis(cells.right, cells.up, falloff.centre) @ falloff.terms
    costs = np.sum(robust_costs(cells, cells.log_light - light - shades), axis=1)
    best = int(np.argmin(costs))
    return Start(shapes[best], falloff, float(costs[best]))


def _away_from(cells: Cells, turn_deg: float) -> Cells:
    """Return the cells farther than `_NEAR` from where the frame ends in a direction."""
    turn = np.radians(turn_deg)
    along = -cells.right * np.sin(turn) + cells.up * np.cos(turn)
    kept = along < _reach(turn_deg, cells.half_width, cells.half_height) - _NEAR
    return replace(cells, right=cells.right[kept], up=cells.up[kept], log_light=cells.log_light[kept])


_NEAR = 0.4
_FALLOFF_EVALUATIONS = 25


@lru_cache(maxsize=4)
def _bank(
    rows: int, columns: int, half_width: float, half_height: float, known: KnownBody | None
) -> tuple[tuple[tuple[Strip, ...], FloatArray], ...]:
    """Return, for each edge and corner, strips to try and their shades (k, n): logarithms of the light left."""
    right, up = grid(rows, columns, half_width, half_height)
    directions = _shapes_to_try(half_width, half_height, known)
    return tuple((shapes, np.array([np.log1p(-shape.loss(right, up)) for shape in shapes])) for shapes in directions)


_ASIDES = (0.0, -0.3, 0.3, -0.15, 0.15, -0.45, 0.45)
_LEANS_DEG = (0.0, -9.0, 9.0)
_DEPTHS = (0.87, 0.7, 0.45, 0.2, -0.1, -0.5)
"""How far out the edge stands to start with, in blurs beyond the frame: 0.87 is a loss of about 3 %."""


def _shapes_to_try(half_width: float, half_height: float, known: KnownBody | None) -> Iterator[tuple[Strip, ...]]:
    """Yield the strips of each direction: along the edges at several places, at the corners leaning a bit."""
    lean = float(np.degrees(np.arctan2(half_width, half_height)))
    widths = (known.half_width,) if known else (0.25, 0.45, 0.8)
    blurs = (known.blur,) if known else (0.12, 0.22, 0.4)
    hole = known.hole if known else 0.0
    directions = (0.0, 90.0, 180.0, 270.0, lean, 180.0 - lean, 180.0 + lean, 360.0 - lean)
    for number, middle in enumerate(directions):
        edge = number < 4
        choices = product((0.0,) if edge else _LEANS_DEG, _ASIDES if edge else (0.0,), widths, blurs, _DEPTHS)
        yield tuple(
            Strip(turn, _reach(turn, half_width, half_height) + depth * blur, aside, width, blur, hole)
            for turn, aside, width, blur, depth in ((middle + leaning, *rest) for leaning, *rest in choices)
        )
