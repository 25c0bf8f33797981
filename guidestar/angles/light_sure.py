"""Sure angles in the light model: usable wherever the prism truly is, its light and its sensor moving with it.

As in `guidestar.angles.sure`, but a star in need of much light accepts the moves d with T(x, y − d) ≥ its need, which
may be several intervals, and their ends are roots instead of closed forms. So between the turns that closed forms give,
the answer is looked for in small steps and its changes are located by bisection.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.angles.acceptance import direction_to_turn
from guidestar.angles.handover import Judge, covers, good_moves, side_by_side
from guidestar.angles.light import LitSensor, above_level, lit_arcs, scan_count
from guidestar.angles.sure import judged, sure_turns

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


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
    hopeful = needed <= 1.0
    radius_mm, needed, phase_deg = radius_mm[hopeful], needed[hopeful], phase_deg[hopeful]
    possible = circular.FULL_CIRCLE
    for move in dict.fromkeys((0.0, -accuracy_mm, accuracy_mm)):
        owner, arcs = lit_arcs(light.moved(move), radius_mm, needed, fully_lit)
        here = circular.at_least(direction_to_turn(phase_deg, owner, arcs), count)
        possible = circular.intersection(possible, here)
    if accuracy_mm <= 0 or not len(possible):
        return possible
    easy = needed <= fully_lit
    plain = sure_turns(light.sensor, radius_mm[easy], phase_deg[easy], count, accuracy_mm)
    judge = LightJudge(light.sensor, radius_mm, phase_deg, count, accuracy_mm, light, needed, fully_lit)
    return circular.at_least(np.concatenate((plain, judged(judge, circular.difference(possible, plain)))))


@dataclass(frozen=True)
class LightJudge(Judge):
    """Says which turns are sure, for stars that need light.

    `needed` (n,): least T of each star; those that need no more than `fully_lit` have it anywhere on the sensor.
    """

    light: LitSensor
    needed: FloatArray
    fully_lit: float

    @property
    def knows_every_change(self) -> bool:
        """Whether `events` holds every turn at which the answer may change: not where T decides."""
        return False

    def sure_at(self, stars: IntArray, turn_deg: FloatArray) -> BoolArray:
        """Return whether each turn is sure with these stars."""
        low, high = good_moves(self.half_planes, self.radius_mm[stars], self.phase_deg[stars], turn_deg)
        picky = self.needed[stars] > self.fully_lit
        if np.any(picky):
            extra_low, extra_high = self._lit_moves(low[:, picky], high[:, picky], turn_deg, stars[picky])
            low = np.concatenate((low[:, ~picky], extra_low), axis=1)
            high = np.concatenate((high[:, ~picky], extra_high), axis=1)
        return covers(low, high, self.count, self.accuracy_mm)

    def _lit_moves(
        self, low: FloatArray, high: FloatArray, turn_deg: FloatArray, stars: IntArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return the moves within ± δ that put stars in need of light into enough of it, padded to equal numbers."""
        low, high = np.maximum(low, -self.accuracy_mm), np.minimum(high, self.accuracy_mm)
        turn, column = np.nonzero(low < high)
        direction = np.radians(self.phase_deg[stars[column]] - turn_deg[turn])
        x, y = (self.radius_mm[stars[column]] * f(direction) for f in (np.sin, np.cos))
        needed = self.needed[stars[column]]

        def height(row: IntArray, move_mm: FloatArray) -> FloatArray:
            return self.light.lit(x[row], y[row] - move_mm) - needed[row]

        count = scan_count(2 * self.accuracy_mm, self.light.footprint.radius_mm)
        row, within = above_level(height, np.column_stack((low[turn, column], high[turn, column])), count)
        return side_by_side(turn[row], within, len(turn_deg))
