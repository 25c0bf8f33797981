"""Sure angles in the light model: usable wherever the prism truly is, its light and its sensor moving with it.

As in `guidestar.angles.sure`, but a star in need of much light accepts the moves d with T(x, y − d) ≥ its need, which
may be several intervals, and their ends are roots instead of closed forms. So between the turns that closed forms give,
the answer is looked for in small steps and its changes are located by bisection.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular, sure
from guidestar.angles.acceptance import direction_to_turn
from guidestar.angles.light import LitSensor, above_level, lit_arcs, scan_count

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_STEP_DEG = 0.1
"""Width of the steps in which changes are looked for: an island narrower than this can be overlooked."""

_BISECTIONS = 17
"""From 0.1° to below 1e-6°."""


@dataclass(frozen=True)
class _Sky:
    """Stars and what they need: arrays of shape (n,), see `guidestar.angles.light.lit_arcs`."""

    radius_mm: FloatArray
    needed: FloatArray
    phase_deg: FloatArray

    def take(self, chosen: IntArray | BoolArray) -> _Sky:
        return _Sky(self.radius_mm[chosen], self.needed[chosen], self.phase_deg[chosen])


def sure_turns_lit(
    light: LitSensor,
    radius_mm: FloatArray,
    needed: FloatArray,
    phase_deg: FloatArray,
    count: int,
    accuracy_mm: float,
    fully_lit: float,
) -> FloatArray:
    """Return the set of turns at which at least `count` stars are usable for every move of the prism within ± δ.

    Parameters as `guidestar.angles.light.lit_arcs` and `guidestar.angles.sure.sure_turns`; δ in the focal plane.
    """
    sky = _Sky(radius_mm, needed, phase_deg).take(needed <= 1.0)
    possible = circular.FULL_CIRCLE
    for move in dict.fromkeys((0.0, -accuracy_mm, accuracy_mm)):
        owner, arcs = lit_arcs(light.moved(move), sky.radius_mm, sky.needed, fully_lit)
        here = circular.at_least(direction_to_turn(sky.phase_deg, owner, arcs), count)
        possible = circular.intersection(possible, here)
    if accuracy_mm <= 0 or not len(possible):
        return possible
    easy = sky.take(sky.needed <= fully_lit)
    plain = sure.sure_turns(light.sensor, easy.radius_mm, easy.phase_deg, count, accuracy_mm)
    found = [plain]
    questions = circular.difference(possible, plain)
    near = sure.with_stars_near(questions, light.sensor, sky.radius_mm, sky.phase_deg, accuracy_mm)
    for start, end, stars in near:
        asked = _Question(light, sky.take(stars), count, accuracy_mm, fully_lit)
        found.append(asked.sure_between(start, end))
    return circular.at_least(np.concatenate(found))


@dataclass(frozen=True)
class _Question:
    """Whether turns are sure, given the stars that matter there."""

    light: LitSensor
    sky: _Sky
    count: int
    accuracy_mm: float
    fully_lit: float

    def sure_between(self, start: float, end: float) -> FloatArray:
        """Return the arcs of turn between `start` and `end` that are sure."""
        marks = sure.events(self.light.sensor, self.sky.radius_mm, self.sky.phase_deg, self.accuracy_mm, start, end)
        left, right = self._steps(marks)
        at_left, at_right = self.sure_at(left), self.sure_at(right)
        change = self._changes(left, right, at_left, at_right)
        starts = np.where(at_left, left, change)
        ends = np.where(at_right, right, change)
        some = at_left | at_right
        return np.column_stack((starts[some], ends[some]))

    def _steps(self, marks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return both ends of small steps that cover all pieces between marks; at a mark itself two pieces meet."""
        pieces = [np.linspace(a, b, max(int(np.ceil((b - a) / _STEP_DEG)), 1) + 1) for a, b in pairwise(marks)]
        inset = circular.SLIVER_DEG / 2  # the answer *at* a mark may be that of the other side
        left = np.concatenate([piece[:-1] for piece in pieces]) + inset
        right = np.concatenate([piece[1:] for piece in pieces]) - inset
        return left, right

    def _changes(self, left: FloatArray, right: FloatArray, at_left: BoolArray, at_right: BoolArray) -> FloatArray:
        """Return the turn in each step at which the answer changes (meaningless where it does not)."""
        different = np.flatnonzero(at_left != at_right)
        low, high = left.copy(), right.copy()
        for _ in range(_BISECTIONS if len(different) else 0):
            middle = (low[different] + high[different]) / 2
            same = self.sure_at(middle) == at_left[different]
            low[different] = np.where(same, middle, low[different])
            high[different] = np.where(same, high[different], middle)
        return (low + high) / 2

    def sure_at(self, turn_deg: FloatArray) -> BoolArray:
        """Return whether each turn is sure."""
        low, high = sure.good_moves(self.light.sensor, self.sky.radius_mm, self.sky.phase_deg, turn_deg)
        picky = self.sky.needed > self.fully_lit
        if np.any(picky):
            extra_low, extra_high = self._lit_moves(low[:, picky], high[:, picky], turn_deg, np.flatnonzero(picky))
            low = np.concatenate((low[:, ~picky], extra_low), axis=1)
            high = np.concatenate((high[:, ~picky], extra_high), axis=1)
        return sure.covers(low, high, self.count, self.accuracy_mm)

    def _lit_moves(
        self, low: FloatArray, high: FloatArray, turn_deg: FloatArray, stars: IntArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return the moves within ± δ that put stars in need of light into enough of it, padded to equal numbers."""
        low, high = np.maximum(low, -self.accuracy_mm), np.minimum(high, self.accuracy_mm)
        turn, column = np.nonzero(low < high)
        direction = np.radians(self.sky.phase_deg[stars[column]] - turn_deg[turn])
        x, y = (self.sky.radius_mm[stars[column]] * f(direction) for f in (np.sin, np.cos))
        needed = self.sky.needed[stars[column]]

        def height(row: IntArray, move_mm: FloatArray) -> FloatArray:
            return self.light.lit(x[row], y[row] - move_mm) - needed[row]

        count = scan_count(2 * self.accuracy_mm, self.light.footprint.radius_mm)
        row, within = above_level(height, np.column_stack((low[turn, column], high[turn, column])), count)
        return _padded(turn[row], within, len(turn_deg))


def _padded(owner: IntArray, spans: FloatArray, rows: int) -> tuple[FloatArray, FloatArray]:
    """Return (rows, widest) matrices of starts and ends; places without a span have start > end."""
    order = np.argsort(owner, kind="stable")
    owner, spans = owner[order], spans[order]
    rank = np.arange(len(owner)) - np.searchsorted(owner, owner)
    width = int(rank.max()) + 1 if len(rank) else 0
    low, high = np.full((rows, width), np.inf), np.full((rows, width), -np.inf)
    low[owner, rank], high[owner, rank] = spans[:, 0], spans[:, 1]
    return low, high
