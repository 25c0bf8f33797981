"""Whether single framings are sure, exactly: enough stars at every place that the prism may be in.

For each star the moves of the prism that put it on the guide field are an interval, in closed form; where light
decides, the moves that also light it enough, found as roots. A framing is sure where the intervals of all its stars
together cover ± accuracy (`guidestar.angles.handover`): the rule of the exact angles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.handover import covers
from guidestar.angles.light import above_level, scan_count
from guidestar.field.light import RigLight
from guidestar.nudge.framings import Framings, steepest

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_ROUNDING = 1e-9

_PARALLEL = 1e-12
"""Edges whose normal has a smaller y component run along y: no move brings them to a star."""


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
    low, high = pairs.moves(framings.planes)
    spans = np.column_stack((np.maximum(low, -accuracy_mm - 1.0), np.minimum(high, accuracy_mm + 1.0)))
    pair = np.flatnonzero(spans[:, 0] <= spans[:, 1])
    spans = spans[pair]
    if framings.light is not None and framings.throughput is not None:
        radius = np.hypot(pairs.x_mm, pairs.y_mm) - (together + np.maximum(play.along_mm, play.outward_mm))[near]
        needed = framings.needed(framings.light, framings.throughput[star], radius)
        found, spans = _lit(framings.light, pairs.take(pair), needed[pair], spans, accuracy_mm)
        pair = pair[found]
    low, high = _by_framing(framing[pair], spans, len(x_mm))
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

    def moves(self, planes: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return (low, high): the moves that put each star on the field, every edge moved outward by its play.

        As `guidestar.angles.handover.good_moves`, which knows no play.
        """
        low, high = np.full(self.x_mm.shape, -np.inf), np.full(self.x_mm.shape, np.inf)
        for a, b, c in planes:
            beyond = a * self.x_mm + b * self.y_mm - c - abs(a) * self.along_mm - abs(b) * self.outward_mm
            if abs(b) <= _PARALLEL:
                high = np.where(beyond > 0, -np.inf, high)
            elif b > 0:
                low = np.maximum(low, beyond / b)
            else:
                high = np.minimum(high, beyond / b)
        return low, high


def _lit(
    light: RigLight, pairs: _Pairs, needed: FloatArray, spans: FloatArray, accuracy_mm: float
) -> tuple[IntArray, FloatArray]:
    """Return which pairs of star and framing have which moves with enough light, within their spans."""
    possible = needed <= 1.0
    picky = np.flatnonzero(possible & (needed > light.fully_lit) & (spans[:, 0] < spans[:, 1]))
    easy = np.flatnonzero(possible & (needed <= light.fully_lit))
    place = pairs.take(picky)
    least = needed[picky] - steepest(light) / np.sqrt(2.0) * (place.along_mm + place.outward_mm)

    def height(row: IntArray, move_mm: FloatArray) -> FloatArray:
        lit = light.transmission(place.x_mm[row], place.y_mm[row] - move_mm)
        return np.asarray(lit - least[row])

    count = scan_count(2 * accuracy_mm, light.footprint.radius_mm)
    row, within = above_level(height, spans[picky], count) if len(picky) else (picky, spans[picky])
    return np.concatenate((easy, picky[row])), np.concatenate((spans[easy], within))


def _by_framing(framing: IntArray, spans: FloatArray, count: int) -> tuple[FloatArray, FloatArray]:
    """Return (count, widest) matrices of low and high ends; places without a span have low > high."""
    order = np.argsort(framing, kind="stable")
    framing, spans = framing[order], spans[order]
    rank = np.arange(len(framing)) - np.searchsorted(framing, framing)
    width = int(rank.max()) + 1 if len(rank) else 1
    low, high = np.full((count, width), np.inf), np.full((count, width), -np.inf)
    low[framing, rank], high[framing, rank] = spans[:, 0], spans[:, 1]
    return low, high
