"""The camera angles at which a panel has a star while the whole mosaic turns with the camera.

As φ turns, the panel's centre goes round the mosaic's and its stars pass through the guide field. The circle is cut
into intervals of φ. One is dropped when no framing in it can have enough stars, and taken whole when the same stars are
enough throughout, both by bounds on how far the stars move within it; the others are cut further, to a hundredth of a
degree, and there the middle decides. The ends are then refined by bisection.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.nudge import handing
from guidestar.nudge.framings import Framings, looks
from guidestar.nudge.grid import Grid
from guidestar.sky import plane

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RESOLUTION_DEG: Final = 0.01
"""Runs of camera angle, or gaps in them, that are narrower than this may be overlooked."""

_FIRST: Final = 144
_CUTS: Final = 4
_BISECTIONS: Final = 14
_FEW_MOVES: Final = 3
_MOVES: Final = 9
"""Places of the prism at which intervals are dropped, and at which they are taken whole."""

_ROUNDING_MM: Final = 1e-7


@dataclass(frozen=True)
class TurningPanel:
    """One panel of a mosaic that turns with the camera: its place in the grid, and the stars it may meet.

    `accuracy_mm`: the prism may be so far from where it was measured; 0 for usable instead of sure angles. `within`:
    the set of camera angles to look at.
    """

    framings: Framings
    grid: Grid
    right_mm: float
    up_mm: float
    accuracy_mm: float
    within: FloatArray

    def angles(self) -> FloatArray:
        """Return the set of camera angles at which it has enough stars, good to about 1e-6°."""
        if not len(self.framings) or not len(self.within):
            return circular.NOTHING
        half = 180.0 / _FIRST
        middle: FloatArray = np.asarray((np.arange(_FIRST) + 0.5) * 2 * half)
        middle = middle[_meets(self.within, middle, half)]
        spans: list[FloatArray] = []
        while len(middle):
            hopeful, whole = self._judged(middle, half)
            spans.append(_spans(middle[whole], half))
            middle = middle[hopeful & ~whole]
            if 2 * half <= RESOLUTION_DEG:
                spans.append(_spans(middle[self.holds(middle)], half))
                break
            half /= _CUTS
            steps = np.arange(1 - _CUTS, _CUTS, 2) * half
            middle = np.asarray(np.add.outer(middle, steps), dtype=np.float64).ravel()
        return self._refined(_closed(np.concatenate(spans)), half)

    def holds(self, angle_deg: FloatArray) -> BoolArray:
        """Return whether single camera angles have enough stars, wherever the prism is."""
        x, y, _ = self._places(angle_deg)
        if self.accuracy_mm > 0:
            return handing.sure(self.framings, x, y, self.accuracy_mm, handing.no_play(x))
        return self.framings.enough(x, y, np.full(x.shape, -_ROUNDING_MM), looks(0.0, 0.0, 1, 1))

    def _places(self, angle_deg: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        ra, dec = self.grid.sky(np.array(self.right_mm), np.array(self.up_mm), angle_deg)
        x, y = self.framings.places(ra, dec, angle_deg)
        return x, y, dec

    def _judged(self, angle_deg: FloatArray, half_deg: float) -> tuple[BoolArray, BoolArray]:
        """Return which intervals about these angles may hold anywhere, and which surely hold all over.

        All over: the same stars serve throughout, or they hand over with room to spare. A star that keeps half a step
        of the looks free serves from half a step before its look to half a step behind.
        """
        x, y, dec = self._places(angle_deg)
        turn = np.full(len(angle_deg), np.radians(half_deg))
        pointing = turn * np.hypot(self.right_mm, self.up_mm) / self.grid.focal_length_mm
        slack = self.framings.displaced_mm(x, y, dec, pointing, True)
        hopeful = self.framings.enough(x, y, slack, looks(0.0, self.accuracy_mm, 1, _FEW_MOVES), turn)
        whole = np.zeros(len(angle_deg), dtype=np.bool_)
        rows = np.flatnonzero(hopeful)
        x, y = x[rows], y[rows]
        with np.errstate(invalid="ignore"):
            play = np.where(np.isfinite(x), slack[rows] + np.hypot(x, y) * turn[rows, None], 0.0) + _ROUNDING_MM
        seen = looks(0.0, self.accuracy_mm, 1, _MOVES)
        whole[rows] = self.framings.enough(x, y, -play, seen, same_stars=True)
        if self.accuracy_mm > 0:
            left = ~whole[rows]
            free = play[left] + self.accuracy_mm / (_MOVES - 1)
            whole[rows[left]] = self.framings.enough(x[left], y[left], -free, seen)
        return hopeful, whole

    def _refined(self, found: FloatArray, step_deg: float) -> FloatArray:
        """Move every end of a set to where the answer changes, which is within a step of it."""
        if not len(found) or circular.total_deg(found) >= 360.0:
            return found
        starts = self._change(found[:, 0] - 2 * step_deg, found[:, 0] + 2 * step_deg)
        ends = self._change(found[:, 1] + 2 * step_deg, found[:, 1] - 2 * step_deg)
        return circular.at_least(np.column_stack((starts, np.maximum(ends, starts))))

    def _change(self, outside: FloatArray, inside: FloatArray) -> FloatArray:
        for _ in range(_BISECTIONS):
            middle = (outside + inside) / 2
            good = self.holds(middle)
            inside, outside = np.where(good, middle, inside), np.where(good, outside, middle)
        return inside


def _spans(middle_deg: FloatArray, half_deg: float) -> FloatArray:
    return np.column_stack((middle_deg - half_deg, middle_deg + half_deg))


def _meets(within: FloatArray, middle_deg: FloatArray, half_deg: float) -> BoolArray:
    """Return which intervals may share an angle with a set."""
    wider = within + np.array([-1.0, 1.0]) * (half_deg + RESOLUTION_DEG)
    return circular.contains(wider, middle_deg)


def _closed(spans: FloatArray) -> FloatArray:
    """Return spans as a set, neighbours joined across rounding."""
    rounding = RESOLUTION_DEG * 1e-3
    wider = circular.at_least(spans + np.array([-rounding, rounding]))
    return circular.at_least(wider + np.array([rounding, -rounding])) if len(wider) else wider


def meeting(framings: Framings, grid: Grid, offset_mm: tuple[float, float], ring_mm: tuple[float, float]) -> Framings:
    """Return the stars that a turning panel may meet: those whose distance can fall within the swept ring.

    The panel's centre stays at one distance from the mosaic's; a star's distance from it then lies between the
    difference and the sum of both distances. `ring_mm`: inner and outer radius with the prism's accuracy.
    """
    focal = grid.focal_length_mm
    own = np.degrees(np.arctan(np.hypot(*offset_mm) / focal))
    inner, outer = (float(np.degrees(np.arctan(max(radius, 0.0) / focal))) for radius in ring_mm)
    away = plane.separation_deg(grid.ra_deg, grid.dec_deg, framings.table.ra_deg, framings.table.dec_deg)
    return framings.take(np.asarray((np.abs(away - own) <= outer) & (away + own >= inner)))
