"""Whether single framings are sure, exactly: enough stars at every place that the prism may be in.

For each star the moves of the prism that put it on the guide field are an interval, in closed form; where light
decides, the moves that also light it enough, found as roots. A framing is sure where the intervals of all its stars
together cover ± accuracy (`guidestar.angles.handover`): the rule of the exact angles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.handover import covers, moves_at, side_by_side
from guidestar.angles.light import above_level, scan_count
from guidestar.field.light import RigLight
from guidestar.nudge.framings import Framings

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_ROUNDING = 1e-9


@dataclass(frozen=True)
class Play:
    """How far the stars of framings may stand elsewhere, mm.

    All of a framing's stars together by up to `together_mm` (n,) in any direction; each by itself by up to `along_mm`
    along x and `outward_mm` along y, (n, stars); negative: they have to keep so much free.
    """

    together_mm: FloatArray
    along_mm: FloatArray
    outward_mm: FloatArray


def no_play(x_mm: FloatArray, free_mm: FloatArray | float = 0.0) -> Play:
    """Return the play of single framings whose stars keep `free_mm` free."""
    free = np.broadcast_to(-np.asarray(free_mm, dtype=np.float64), x_mm.shape)
    return Play(np.zeros(len(x_mm)), free, free)


def sure(framings: Framings, x_mm: FloatArray, y_mm: FloatArray, accuracy_mm: float, play: Play) -> BoolArray:
    """Return whether framings have, or with play may have, enough stars for every move within ± `accuracy_mm` (> 0).

    `x_mm, y_mm` (n, stars) as from `Framings.places`.

    Notes
    -----
    Stars that all move outward by the same way together look to the field as if it had moved inward by that: the moves
    that serve are the same ones, all displaced. So with play D together the stars have to cover ± (accuracy − D) as
    they stand; a gap between two of them does not close. Framings whose play is no less than the accuracy are not
    judged here: they count as hopeful.
    """
    together = np.broadcast_to(play.together_mm[:, None], x_mm.shape)
    near = framings.may_be_seen(x_mm, y_mm, together + np.hypot(play.along_mm, play.outward_mm), accuracy_mm)
    framing, star = np.nonzero(near)
    pairs = _Pairs(x_mm[near], y_mm[near], (together + play.along_mm)[near], play.outward_mm[near])
    low, high = moves_at(framings.planes, pairs.x_mm, pairs.y_mm, pairs.along_mm, pairs.outward_mm)
    spans = np.column_stack((np.maximum(low, -accuracy_mm - 1.0), np.minimum(high, accuracy_mm + 1.0)))
    pair = np.flatnonzero(spans[:, 0] <= spans[:, 1])
    spans = spans[pair]
    if framings.light is not None and framings.throughput is not None:
        radius = np.hypot(pairs.x_mm, pairs.y_mm) - (together + np.maximum(play.along_mm, play.outward_mm))[near]
        needed = framings.needed(framings.light, framings.throughput[star], radius)
        found, spans = _lit(framings.light, pairs.take(pair), needed[pair], spans, accuracy_mm)
        pair = pair[found]
    low, high = side_by_side(framing[pair], spans, len(x_mm))
    wanted = np.maximum(accuracy_mm - play.together_mm, 1e-12)[:, None]
    enough = covers(low / wanted, high / wanted, framings.rig.guiding.min_stars, 1.0 + _ROUNDING)
    return np.asarray(enough | (play.together_mm >= accuracy_mm))


@dataclass(frozen=True)
class _Pairs:
    """Stars, each in one framing: place and play along x and y, mm, shape (k,)."""

    x_mm: FloatArray
    y_mm: FloatArray
    along_mm: FloatArray
    outward_mm: FloatArray

    def take(self, chosen: IntArray) -> _Pairs:
        return _Pairs(*(column[chosen] for column in (self.x_mm, self.y_mm, self.along_mm, self.outward_mm)))


def _lit(
    light: RigLight, pairs: _Pairs, needed: FloatArray, spans: FloatArray, accuracy_mm: float
) -> tuple[IntArray, FloatArray]:
    """Return which pairs of star and framing have which moves with enough light, within their spans."""
    possible = needed <= 1.0
    picky = np.flatnonzero(possible & (needed > light.fully_lit) & (spans[:, 0] < spans[:, 1]))
    easy = np.flatnonzero(possible & (needed <= light.fully_lit))
    place = pairs.take(picky)
    least = needed[picky] - light.steepest_per_mm * (place.along_mm + place.outward_mm)

    def height(row: IntArray, move_mm: FloatArray) -> FloatArray:
        lit = light.transmission(place.x_mm[row], place.y_mm[row] - move_mm)
        return np.asarray(lit - least[row])

    count = scan_count(2 * accuracy_mm, light.footprint.radius_mm)
    row, within = above_level(height, spans[picky], count) if len(picky) else (picky, spans[picky])
    return np.concatenate((easy, picky[row])), np.concatenate((spans[easy], within))
