"""The cheapest framing that has enough stars, with proof that none is cheaper by more than a stated accuracy.

Framings are searched as boxes of shift and turn, the cheapest first. A box is dropped when no framing in it can have
enough stars: the stars' places at its middle, each given as much slack as it can move within the box, are not enough at
some look. Otherwise single framings in it are tried, and it is cut into smaller ones. What remains in the end is the
cheapest framing that was found to hold, and below its cost nothing but boxes that were proved empty, or that are too
small to matter. No assumption on the shape of the set of good framings is made: it may be any number of pieces, with
holes, handed over from star to star.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.constants import ARCMIN_PER_RADIAN
from guidestar.nudge import handing
from guidestar.nudge.framings import Framings, Looks, north_turn_rad
from guidestar.sky import plane

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_AT_ONCE: Final = 400
_MOST_TRIED: Final = 8
"""Boxes judged at once, and framings tried of each lot (the cheapest)."""

_SMALL_MM: Final = 0.06
"""Boxes in which stars move less than this are small."""

_BOTH_AXES: Final = 2.0**0.5

_TURN_WEIGHS: Final = 2.0
"""A turn moves a star along the field only, which matters less than a shift by as much."""

_FEW: Final = 60
"""So few boxes are cut into four along each axis instead of two: rounds cost more than boxes then."""

_MOST_BOXES: Final = 20_000
"""Boxes judged before the search gives up proving: the best so far is then returned."""

_MOST_VALUES: Final = 3_000_000
"""Stars times looks times framings worked on at once, to bound the memory."""


@dataclass(frozen=True)
class Goal:
    """What is looked for, about which place and camera angle, and what a framing costs.

    A point is (east, north, turn): the frame's new centre in the tangent plane about the place, radians, and how far
    the camera is turned from `angle_deg`, degrees; where that is None any camera angle will do, and the turn is counted
    from north at the place, carried along with the shift. It costs the shift in arcminutes and `turn_cost_arcmin` a
    degree of turn. Stars keep `spare_mm` free to every edge. `coarse` are the looks by which boxes are
    dropped, first; `turns_deg` the turns at which a framing has to hold, for every move of the prism within ±
    `accuracy_mm`.
    """

    framings: Framings
    ra_deg: float
    dec_deg: float
    angle_deg: float | None
    turn_cost_arcmin: float
    spare_mm: float
    coarse: Looks
    turns_deg: FloatArray
    accuracy_mm: float

    def sky(self, points: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return right ascension, declination and camera angle, degrees, of points (n, 3)."""
        ra, dec = plane.from_plane(points[:, 0], points[:, 1], self.ra_deg, self.dec_deg)
        if self.angle_deg is not None:
            return ra, dec, self.angle_deg + points[:, 2]
        there = plane.position_angle_deg(self.ra_deg, self.dec_deg, ra, dec)
        back = plane.position_angle_deg(ra, dec, self.ra_deg, self.dec_deg)
        moved = np.hypot(points[:, 0], points[:, 1]) > 0
        return ra, dec, points[:, 2] + np.where(moved, back + 180.0 - there, 0.0)

    def cost_arcmin(self, points: FloatArray) -> FloatArray:
        """Return what points (n, 3) cost, arcminutes."""
        shift = np.arctan(np.hypot(points[:, 0], points[:, 1])) * ARCMIN_PER_RADIAN
        return np.asarray(shift + self.turn_cost_arcmin * np.abs(points[:, 2]))


@dataclass(frozen=True)
class Found:
    """The cheapest point (3,) and its cost; `proved`: nothing cheaper by more than the accuracy exists."""

    point: FloatArray
    cost_arcmin: float
    proved: bool


@dataclass(frozen=True)
class _Boxes:
    middle: FloatArray
    half: FloatArray
    cost: FloatArray

    def take(self, chosen: BoolArray | NDArray[np.int64]) -> _Boxes:
        return _Boxes(self.middle[chosen], self.half[chosen], self.cost[chosen])

    def __len__(self) -> int:
        return len(self.cost)


def _boxes(goal: Goal, middle: FloatArray, half: FloatArray) -> _Boxes:
    return _Boxes(middle, half, goal.cost_arcmin(_cheapest(middle, half)))


def _cheapest(middle: FloatArray, half: FloatArray) -> FloatArray:
    """Return the point of each box nearest to no shift and no turn."""
    return np.asarray(np.sign(middle) * np.maximum(np.abs(middle) - half, 0.0))


def _joined(first: _Boxes, second: _Boxes) -> _Boxes:
    columns = ((first.middle, second.middle), (first.half, second.half), (first.cost, second.cost))
    return _Boxes(*(np.concatenate(pair) for pair in columns))


def cheapest(goal: Goal, *, limit_arcmin: float, most_turn_deg: float, accuracy_arcmin: float) -> Found | None:
    """Return the cheapest framing that holds at every turn, or None if there is none within the limits.

    Parameters
    ----------
    goal : Goal
    limit_arcmin : float
        Largest cost, and so the largest shift, > 0, below 80°.
    most_turn_deg : float
        Largest turn either way, 0 to 180.
    accuracy_arcmin : float
        What may be left unproved below the cost found, > 0.
    """
    if limit_arcmin <= 0 or not len(goal.framings):
        return None
    reach = np.tan(limit_arcmin / ARCMIN_PER_RADIAN)
    waiting = _boxes(goal, np.zeros((1, 3)), np.array([[reach, reach, most_turn_deg]]))
    best, least, judged = None, limit_arcmin, 0
    while len(waiting) and judged < _MOST_BOXES:
        order = np.argsort(waiting.cost, kind="stable")
        lot, rest = waiting.take(order[:_AT_ONCE]), waiting.take(order[_AT_ONCE:])
        judged += len(lot)
        lot = _still_hopeful(goal, lot)
        worthwhile = least if best is None else least - accuracy_arcmin / 4
        point = _cheapest_that_holds(goal, lot, worthwhile)
        if point is not None:
            best, least = point, float(goal.cost_arcmin(point[None])[0])
            goal = _within_reach(goal, least, most_turn_deg)
        waiting = _joined(_cut(goal, lot, accuracy_arcmin), rest)
        bound = least - accuracy_arcmin if best is not None else least
        waiting = waiting.take(waiting.cost < bound)
    if best is None:
        return None
    return Found(best, least, proved=not len(waiting))


def _within_reach(goal: Goal, limit_arcmin: float, most_turn_deg: float) -> Goal:
    """Return the goal with only the stars that framings up to a cost can bring into the field."""
    turn = min(most_turn_deg, limit_arcmin / goal.turn_cost_arcmin) if goal.turn_cost_arcmin > 0 else most_turn_deg
    pointing = np.array([np.tan(limit_arcmin / ARCMIN_PER_RADIAN)])
    ra, dec, angle = goal.sky(np.zeros((1, 3)))
    x, y = goal.framings.places(ra, dec, angle)
    slack = goal.framings.displaced_mm(x, y, dec, pointing, goal.angle_deg is not None)
    swing = float(np.radians(np.max(np.abs(goal.turns_deg)) + turn))
    near = goal.framings.may_be_seen(x, y, slack, goal.accuracy_mm, swing)[0]
    return replace(goal, framings=goal.framings.take(near))


def _still_hopeful(goal: Goal, boxes: _Boxes) -> _Boxes:
    """Return the boxes that may hold a good framing.

    At the coarse looks; but two stars that are enough at all of these may leave a gap between two of them. So small
    boxes, and those whose middle is enough at the coarse looks, are asked for every move of the prism.
    """
    ra, dec, angle = goal.sky(boxes.middle)
    kept = np.zeros(len(boxes), dtype=np.bool_)
    for part in _parts(len(boxes), goal):
        x, y = goal.framings.places(ra[part], dec[part], angle[part])
        kept[part] = _hopeful(goal, x, y, dec[part], boxes.half[part])
    return boxes.take(kept)


def _hopeful(goal: Goal, x_mm: FloatArray, y_mm: FloatArray, dec_deg: FloatArray, half: FloatArray) -> BoolArray:
    """Return which boxes may hold a good framing, from the stars' places at their middles."""
    pointing, turn = np.hypot(half[:, 0], half[:, 1]), np.radians(half[:, 2])
    slack = goal.framings.displaced_mm(x_mm, y_mm, dec_deg, pointing, goal.angle_deg is not None)
    hopeful = goal.framings.enough(x_mm, y_mm, slack, goal.coarse, turn)
    free = np.full(x_mm.shape, -goal.spare_mm)
    doubtful = hopeful & goal.framings.enough(x_mm, y_mm, free, goal.coarse)
    if goal.accuracy_mm > 0:
        doubtful |= hopeful & (goal.framings.rig.telescope.focal_length_mm * pointing < _SMALL_MM)
    rows = np.flatnonzero(doubtful)
    if len(rows):
        x, y = x_mm[rows], y_mm[rows]
        play = _play(goal, x, y, dec_deg[rows], (pointing[rows], turn[rows]))
        hopeful[rows] = _at_every_turn(goal, x, y, play, every=3)
    return hopeful


def _play(
    goal: Goal, x_mm: FloatArray, y_mm: FloatArray, dec_deg: FloatArray, about: tuple[FloatArray, FloatArray]
) -> handing.Play:
    """Return the stars' play in boxes that reach so far in pointing and in turn: together, and each by itself.

    A turn by w moves a star by |y|·w along x and by |x|·w along y, and by ρ·w²/2 more at most, at any turn within the
    tolerance of the box's middle; |x| and |y| are taken as large as that makes them.
    """
    pointing, turn = about
    together = goal.framings.rig.telescope.focal_length_mm * pointing
    if goal.angle_deg is not None:
        turn = turn + north_turn_rad(dec_deg, pointing)
    radius = np.hypot(x_mm, y_mm)
    swing = float(np.radians(np.max(np.abs(goal.turns_deg))))
    own = goal.framings.stretched_mm(x_mm, y_mm, pointing) - together[:, None]
    with np.errstate(invalid="ignore"):
        most = np.minimum(turn, 2.0)[:, None]
        bend = own + radius * most**2 / 2
        along = bend + np.minimum(np.abs(y_mm) + radius * swing, radius) * most
        outward = bend + np.minimum(np.abs(x_mm) + radius * swing, radius) * most
    seen = np.isfinite(radius)
    return handing.Play(together, np.where(seen, along, 0.0), np.where(seen, outward, 0.0))


def _at_every_turn(goal: Goal, x_mm: FloatArray, y_mm: FloatArray, play: handing.Play, every: int = 1) -> BoolArray:
    """Return whether framings have enough stars at every turn (or every so many), for every move of the prism."""
    if goal.accuracy_mm <= 0:
        slack = play.together_mm[:, None] + np.maximum(play.along_mm, play.outward_mm) * _BOTH_AXES
        slack = np.where(play.along_mm < 0, play.along_mm, slack)
        return goal.framings.enough(x_mm, y_mm, slack, Looks(goal.turns_deg, np.zeros(1)))
    turns = np.radians(goal.turns_deg[::every])[:, None, None]
    with np.errstate(invalid="ignore"):
        x = x_mm * np.cos(turns) + y_mm * np.sin(turns)
        y = y_mm * np.cos(turns) - x_mm * np.sin(turns)
    rows = (len(turns) * len(x_mm), x_mm.shape[1])
    along, outward = (np.broadcast_to(part, x.shape).reshape(rows) for part in (play.along_mm, play.outward_mm))
    every_play = handing.Play(np.tile(play.together_mm, len(turns)), along, outward)
    good = handing.sure(goal.framings, x.reshape(rows), y.reshape(rows), goal.accuracy_mm, every_play)
    return np.asarray(np.all(good.reshape(len(turns), len(x_mm)), axis=0))


def _outline(goal: Goal) -> tuple[FloatArray, FloatArray]:
    """Return points that the guide field's edges are nearest to, for its distance from the axis, mm."""
    planes = goal.framings.planes
    return planes[:, 0] * planes[:, 2], planes[:, 1] * planes[:, 2]


def _parts(count: int, goal: Goal) -> list[slice]:
    """Cut so many framings into parts that can be worked on at once."""
    each = max(len(goal.framings), 1) * max(len(goal.turns_deg), 9)
    step = max(_MOST_VALUES // each, 1)
    return [slice(start, start + step) for start in range(0, count, step)]


def _cheapest_that_holds(goal: Goal, boxes: _Boxes, below_arcmin: float) -> FloatArray | None:
    """Try the middle and the cheapest point of each box; return the cheapest that holds and costs less."""
    points = np.concatenate((_cheapest(boxes.middle, boxes.half), boxes.middle))
    costs = goal.cost_arcmin(points)
    order = np.argsort(costs, kind="stable")
    order = order[costs[order] < below_arcmin]
    order = order[_enough(goal, points[order], 0.0)][:_MOST_TRIED]
    order = order[holds(goal, points[order])]
    return points[order[0]] if len(order) else None


def holds(goal: Goal, points: FloatArray) -> BoolArray:
    """Return whether framings (n, 3) have enough stars at every turn, strictly.

    Between two turns a gap apart a star may come nearer to an edge than at either, by its radius times 1 − cos(gap/2);
    so much is kept free.
    """
    gap = float(np.radians(goal.turns_deg[1] - goal.turns_deg[0])) if len(goal.turns_deg) > 1 else 0.0
    return _enough(goal, points, 1.0 - np.cos(gap / 2), thorough=True)


def _enough(goal: Goal, points: FloatArray, free_share: float, *, thorough: bool = False) -> BoolArray:
    """Return whether framings have enough stars that keep this share of their radius free to each edge.

    At the coarse looks, or thoroughly: at every turn, for every move of the prism.
    """
    found = np.empty(len(points), dtype=np.bool_)
    for part in _parts(len(points), goal):
        ra, dec, angle = goal.sky(points[part])
        x, y = goal.framings.places(ra, dec, angle)
        free = np.where(np.isfinite(x), np.hypot(x, y), 0.0) * free_share + goal.spare_mm
        if thorough:
            found[part] = _at_every_turn(goal, x, y, handing.no_play(x, free))
        else:
            found[part] = goal.framings.enough(x, y, -free, goal.coarse)
    return found


def _cut(goal: Goal, boxes: _Boxes, accuracy_arcmin: float) -> _Boxes:
    """Cut boxes along the turn, or along both axes of the shift, whichever moves the stars more; drop tiny ones."""
    size = np.arctan(np.hypot(boxes.half[:, 0], boxes.half[:, 1])) * ARCMIN_PER_RADIAN
    turn_size = np.radians(boxes.half[:, 2]) * _lever_arcmin(goal)
    large = size + turn_size > accuracy_arcmin / 4
    along_turn = large & (turn_size > _TURN_WEIGHS * size)
    ways = 4 if np.count_nonzero(large) <= _FEW else 2
    slices = _children(boxes.take(along_turn), (1, 1, ways))
    tiles = _children(boxes.take(large & ~along_turn), (ways, ways, 1))
    middle, half = (np.concatenate(pair) for pair in zip(slices, tiles, strict=True))
    return _boxes(goal, middle, half)


def _lever_arcmin(goal: Goal) -> float:
    return float(np.max(np.hypot(*_outline(goal)))) / goal.framings.rig.telescope.focal_length_mm * ARCMIN_PER_RADIAN


def _children(boxes: _Boxes, ways: tuple[int, int, int]) -> tuple[FloatArray, FloatArray]:
    """Return middles and half sizes of the parts of boxes cut into so many along each axis."""
    half = boxes.half / ways
    steps = np.stack([axis.ravel() for axis in np.meshgrid(*(np.arange(1 - n, n, 2) for n in ways))], axis=1)
    middles = boxes.middle[:, None, :] + steps * half[:, None, :]
    return middles.reshape(-1, 3), np.repeat(half, len(steps), axis=0)
