"""The nudge: the smallest shift of a framing that gives it enough guide stars, or a shift and a turn together.

Found by `guidestar.nudge.search` and then asked like any other framing (`guidestar.field.asked`), with the exact
angles; only what that confirms is returned.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.constants import ARCMIN_PER_RADIAN, ARCSEC_PER_RADIAN
from guidestar.field import geometry
from guidestar.field.acceptance import Acceptance, accepting
from guidestar.field.asked import Question, answer
from guidestar.field.check import sweep
from guidestar.field.light import RigLight
from guidestar.field.nearby import stars_around
from guidestar.field.result import Asked, CheckResult, GuideField
from guidestar.nudge.framings import Framings, framings, looks
from guidestar.nudge.result import InPicture, Nudge, Shift
from guidestar.nudge.search import Found, Goal, cheapest
from guidestar.nudge.wish import Wish, furthest_arcmin, side_arcmin
from guidestar.rig import Rig
from guidestar.sky import plane
from guidestar.stars.source import StarSource, cone

FloatArray = NDArray[np.float64]

_ACCURACY_MM: Final = 0.002
_ACCURACY_TURNED_MM: Final = 0.01
"""How much shorter a shift might be without having been found, mm in the focal plane: no mount points that well. The
search over turns as well is content with more, and the shift at the turn found is then taken to the first."""

_SPARE_ARCSEC: Final = 0.1
"""Stars keep so much free, so that the new centre holds as it is printed, to 0.01 s and 0.1″."""

_WORTH_A_TURN: Final = 0.9
"""A shift and a turn together are worth mentioning where they cost less than this share of the shift alone, and save
what a degree of turn costs."""

_COARSE: Final = (3, 3)
_TURNS: Final = (7, 25, 129)
"""Numbers of turns within the tolerance at which framings are judged: stars that hand over to each other may leave a
gap between two of them; what is then not confirmed is looked for again with more."""


def nudge(result: CheckResult, source: StarSource, wish: Wish) -> Nudge:
    """Find the smallest shift that gives the framing of a check enough guide stars.

    Parameters
    ----------
    result : CheckResult
        Of the target unshifted. With a question the shift is for its camera angle and tolerance; without one for any
        camera angle, which then has to hold within the rig's rotation accuracy.
    source : StarSource
        The same as was checked.
    wish : Wish
        How far it may go.

    Raises
    ------
    DataError
        If the star source cannot be read.
    """
    asked, target = result.asked, result.target
    ground = ground_of(result.rig, source, result.epoch_year)
    if asked is not None:
        return nudge_asked(ground, (target.ra_deg, target.dec_deg), asked, wish)
    task = _task(ground, (target.ra_deg, target.dec_deg), None, result.rig.guiding.rotation_accuracy_deg)
    settings = (result.best_sure, result.best)
    holding = (best if best is not None and best.margin_deg >= task.tolerance_deg else None for best in settings)
    sure, usable = (None if best is None else _at_angle(task, best.angle_deg) for best in holding)
    return _answer(task, sure, usable, wish)


def nudge_asked(ground: Ground, place: tuple[float, float], asked: Asked, wish: Wish) -> Nudge:
    """Find the smallest shift that makes one asked framing hold; `place`: its unshifted centre, ICRS degrees."""
    task = _task(ground, place, asked.angle_deg, asked.tolerance_deg)
    here = _shift(task, Found(np.zeros(3), 0.0, True), place, asked) if asked.usable else None
    return _answer(task, here if asked.sure else None, here, wish)


@dataclass(frozen=True)
class Ground:
    """A rig, the stars it may use, and all that judges a framing of them."""

    rig: Rig
    source: StarSource
    epoch_year: float
    light: RigLight | None
    field: GuideField
    accepts: Acceptance

    def around(self, ra_deg: float, dec_deg: float, further_arcmin: float) -> Framings:
        """Return the stars for framings whose centres lie up to `further_arcmin` from a place."""
        reach_mm = self.field.outer_mm + self.accepts.accuracy_mm
        radius = geometry.radius_to_arcmin(reach_mm, self.rig.telescope.focal_length_mm) + further_arcmin
        table = cone(self.source, ra_deg, dec_deg, radius / 60, faintest_mag=None, epoch_year=self.epoch_year)
        return framings(self.rig, self.field, self.accepts, table)

    def asked(self, ra_deg: float, dec_deg: float, question: Question) -> Asked:
        """Judge one framing as `check` does."""
        outer_mm = self.field.outer_mm + self.accepts.accuracy_mm
        nearby = stars_around(self.source, ra_deg, dec_deg, self.rig, outer_mm, self.epoch_year)
        return answer(sweep(self.rig, nearby, self.accepts, self.light), question)


def ground_of(rig: Rig, source: StarSource, epoch_year: float) -> Ground:
    """Return what judges framings of a rig."""
    field, light, accepts = accepting(rig)
    return Ground(rig, source, epoch_year, light, field, accepts)


@dataclass(frozen=True)
class _Task:
    """One target's search: where, at which angle (None: any), and the stars round it."""

    ground: Ground
    stars: Framings
    ra_deg: float
    dec_deg: float
    angle_deg: float | None
    tolerance_deg: float

    def arcmin(self, length_mm: float) -> float:
        """Return a length in the focal plane as an angle."""
        return length_mm / self.ground.rig.telescope.focal_length_mm * ARCMIN_PER_RADIAN

    def goal(self, sure: bool, turn_cost_arcmin: float, turns: int) -> Goal:
        accuracy = self.ground.accepts.accuracy_mm if sure else 0.0
        return Goal(
            framings=self.stars,
            ra_deg=self.ra_deg,
            dec_deg=self.dec_deg,
            angle_deg=self.angle_deg,
            turn_cost_arcmin=turn_cost_arcmin,
            spare_mm=_SPARE_ARCSEC / ARCSEC_PER_RADIAN * self.ground.rig.telescope.focal_length_mm,
            coarse=looks(self.tolerance_deg, accuracy, *_COARSE),
            turns_deg=looks(self.tolerance_deg, 0.0, turns, 1).turns_deg,
            accuracy_mm=accuracy,
        )


def _task(ground: Ground, place: tuple[float, float], angle_deg: float | None, tolerance_deg: float) -> _Task:
    stars = ground.around(*place, furthest_arcmin(ground.rig))
    return _Task(ground, stars, *place, angle_deg, tolerance_deg)


def _answer(task: _Task, sure: Shift | None, usable: Shift | None, wish: Wish) -> Nudge:
    """Complete what holds without a shift by what holds with one."""
    rig = task.ground.rig
    furthest = furthest_arcmin(rig)
    usable = usable or _smallest(task, False, furthest)
    nearest = usable
    if usable is not None and usable.shift_arcmin <= wish.limit_arcmin:
        sure = sure or (usable if usable.sure else _smallest(task, True, furthest))
        nearest = sure
    usable, sure = (_within(shift, wish.limit_arcmin) for shift in (usable, sure))
    turn_cost = side_arcmin(rig, wish.turn_cost_percent / 100)
    weighed = task.angle_deg is not None and wish.turn_cost_percent > 0
    return Nudge(
        limit_arcmin=wish.limit_arcmin,
        furthest_arcmin=furthest,
        angle_deg=task.angle_deg,
        tolerance_deg=task.tolerance_deg,
        sure=sure,
        usable=usable,
        beyond=nearest if sure is None else None,
        turned=_turned(task, sure, usable, wish.limit_arcmin, turn_cost) if weighed else None,
        turn_cost_percent=wish.turn_cost_percent,
        turn_cost_arcmin=turn_cost,
    )


def _within(shift: Shift | None, limit_arcmin: float) -> Shift | None:
    return shift if shift is not None and shift.shift_arcmin <= limit_arcmin else None


def _at_angle(task: _Task, angle_deg: float) -> Shift | None:
    there = replace(task, angle_deg=angle_deg)
    return _confirmed(there, there.goal(False, 0.0, _TURNS[0]), Found(np.zeros(3), 0.0, True), False)


def _smallest(task: _Task, sure: bool, limit_arcmin: float) -> Shift | None:
    """Return the smallest shift within a limit that holds, at the angle asked about or at any."""
    return _found(task, sure, 0.0, limit_arcmin, 180.0 if task.angle_deg is None else 0.0)


def _turned(
    task: _Task, sure: Shift | None, usable: Shift | None, limit_arcmin: float, turn_cost_arcmin: float
) -> Shift | None:
    """Return a shift and a turn that cost clearly less than the shift alone; a sure one first."""
    for kind, alone in ((True, sure), (False, usable)):
        limit = limit_arcmin
        if alone is not None:
            limit = min(_WORTH_A_TURN * alone.cost_arcmin, alone.cost_arcmin - turn_cost_arcmin)
        if limit > 0:
            found = _found(task, kind, turn_cost_arcmin, limit, min(limit / turn_cost_arcmin, 180.0))
            if found is not None:
                return found
        if alone is not None:
            return None
    return None


def _found(task: _Task, sure: bool, turn_cost: float, limit_arcmin: float, most_turn_deg: float) -> Shift | None:
    """Search, and have what is found confirmed; where it is not, search with more looks."""
    accuracy = task.arcmin(_ACCURACY_MM if most_turn_deg == 0.0 else _ACCURACY_TURNED_MM)
    for turns in _TURNS:
        goal = task.goal(sure, turn_cost, turns)
        found = cheapest(goal, limit_arcmin=limit_arcmin, most_turn_deg=most_turn_deg, accuracy_arcmin=accuracy)
        if found is None:
            return None
        plain = _plain(task, goal, found, sure) if most_turn_deg > 0.0 else None
        confirmed = plain or _confirmed(task, goal, found, sure)
        if confirmed is not None:
            return confirmed
    return None


def _plain(task: _Task, goal: Goal, found: Found, sure: bool) -> Shift | None:
    """Round the camera angle to a tenth of a degree and take the smallest shift there, if it costs hardly more."""
    angle = round(float(goal.sky(found.point[None])[2][0]), 1) % 360.0
    start = angle if task.angle_deg is None else task.angle_deg
    turn = (angle - start + 180.0) % 360.0 - 180.0
    by_turn = goal.turn_cost_arcmin * abs(turn)
    limit = found.cost_arcmin - by_turn + task.arcmin(5 * _ACCURACY_TURNED_MM) + 0.1 * goal.turn_cost_arcmin
    there = replace(goal, angle_deg=angle)
    nearest = cheapest(there, limit_arcmin=limit, most_turn_deg=0.0, accuracy_arcmin=task.arcmin(_ACCURACY_MM))
    if nearest is None:
        return None
    plain = _confirmed(replace(task, angle_deg=angle), there, nearest, sure)
    if plain is None:
        return None
    return replace(plain, turn_deg=turn, cost_arcmin=plain.cost_arcmin + by_turn, proved=found.proved)


def _confirmed(task: _Task, goal: Goal, found: Found, sure: bool) -> Shift | None:
    """Ask about what was found as about any framing; None if it does not hold after all."""
    ra, dec, angle = (float(value[0]) for value in goal.sky(found.point[None]))
    asked = task.ground.asked(ra, dec, Question(angle, task.tolerance_deg))
    return _shift(task, found, (ra, dec), asked) if (asked.sure if sure else asked.usable) else None


def _shift(task: _Task, found: Found, centre: tuple[float, float], asked: Asked) -> Shift:
    east, north, turn = (float(value) for value in found.point)
    return Shift(
        shift_arcmin=float(np.arctan(np.hypot(east, north))) * ARCMIN_PER_RADIAN,
        direction_deg=float(np.degrees(np.arctan2(east, north))) % 360.0,
        ra_deg=centre[0],
        dec_deg=centre[1],
        angle_deg=asked.angle_deg,
        turn_deg=0.0 if task.angle_deg is None else turn,
        cost_arcmin=found.cost_arcmin,
        target=in_picture(task.ground.rig, (task.ra_deg, task.dec_deg), centre, asked.angle_deg),
        star_ids=asked.star_ids,
        placements=asked.placements,
        sure=asked.sure,
        proved=found.proved,
    )


def in_picture(rig: Rig, place: tuple[float, float], centre: tuple[float, float], angle_deg: float) -> InPicture:
    """Return where a place on the sky stands in the picture of a framing (ICRS degrees).

    Up in the picture is position angle φ at its centre, left is φ + 90° (φ − 90° if mirrored).
    """
    xi, eta = plane.to_plane(*place, *centre)
    phi, focal = np.radians(angle_deg), rig.telescope.focal_length_mm
    up = float(focal * (xi * np.sin(phi) + eta * np.cos(phi)))
    left = float(focal * (xi * np.cos(phi) - eta * np.sin(phi)))
    right = left if rig.camera.mirrored else -left
    camera = rig.camera
    per_mm = 1000.0 / camera.pixel_um
    return InPicture(
        right_mm=right,
        up_mm=up,
        right_px=right * per_mm,
        up_px=up * per_mm,
        right_percent=100.0 * right / camera.width_mm,
        up_percent=100.0 * up / camera.height_mm,
    )
