"""Which camera angles hold through the night, and the one that the plan is made for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.field.settings import Sweep, widest
from guidestar.night.course import Course
from guidestar.night.ground import Ground, StarArcs
from guidestar.night.holding import held, longest_held
from guidestar.night.result import Choice
from guidestar.night.segments import hardest

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Angles:
    """What the rig accepts of a target through the night.

    By segment: the rig under its air and sky, the stars' own camera angles and the usable ones. `sweep` is that of the
    night's hardest moment, for ranking stars.
    """

    through: tuple[Ground, ...]
    arcs: tuple[StarArcs, ...]
    usable_of: tuple[FloatArray, ...]
    sweep: Sweep
    _sure: dict[int, FloatArray] = field(default_factory=dict)

    def sure_of(self, segment: int) -> FloatArray:
        """Return the sure camera angles in a segment, worked out when first asked for."""
        if segment not in self._sure:
            self._sure[segment] = self.through[segment].sure()
        return self._sure[segment]

    def held(self, course: Course, stretch: IntArray) -> tuple[FloatArray, FloatArray]:
        """Return the dial angles that are usable, and sure, through all of some segments.

        What is sure is usable; so where nothing is usable throughout, nothing is sure, and need not be worked out.
        """
        usable = held(course.cells, self.usable_of, course.cells_of(stretch).tolist())
        if not len(usable):
            return usable, circular.NOTHING
        decisive = _decisive(self.through[0], course, stretch)
        by_segment = {int(i): self.sure_of(int(i)) for i in decisive}
        return usable, held(course.cells, by_segment, course.cells_of(decisive).tolist())


def angles_of(base: Ground, course: Course) -> Angles:
    """Work out what the rig accepts in each quarter hour."""
    parts = course.parts
    through = tuple(base.under(float(x), float(v)) for x, v in zip(parts.airmass, parts.sky_v, strict=True))
    if base.light is None:  # air and sky change nothing
        arcs = (base.star_arcs(),) * len(through)
        usable = (base.usable(arcs[0]),) * len(through)
    else:
        arcs = tuple(one.star_arcs() for one in through)
        usable = tuple(one.usable(own) for one, own in zip(through, arcs, strict=True))
    worst = int(np.argmin(base.faintest_mag(parts.airmass, parts.sky_v)))
    return Angles(through, arcs, usable, through[worst].sweep())


def _decisive(base: Ground, course: Course, stretch: IntArray) -> IntArray:
    """Return the segments of a stretch that decide what holds through it; all, where the camera turns with the sky."""
    if base.rig.mount.kind == "altaz":
        return stretch
    decisive: list[int] = []
    for flipped in (False, True):
        side = stretch[course.parts.flipped[stretch] == flipped]
        some = (
            hardest(course.parts.airmass[side], course.parts.sky_v[side])
            if base.light is not None
            else range(len(side[:1]))
        )
        decisive += [int(side[i]) for i in some]
    return np.array(decisive, dtype=np.int64)


def choose(course: Course, angles: Angles, usable: FloatArray, sure: FloatArray, asked_deg: float | None) -> Choice:
    """Return the angle to plan for: the one asked about, else the best of the sure, the usable, or the other ones.

    A range too narrow to be dialled is taken only where there is no better one. Where no angle holds all night, the one
    that does for the longest time.
    """
    if asked_deg is not None:
        return _asked(course, angles, usable, sure, asked_deg % 360.0)
    accuracy = angles.sweep.rig.guiding.rotation_accuracy_deg
    found = [(widest(angles.sweep, ranges), ranges is sure) for ranges in (sure, usable)]
    there = [(best, is_sure) for best, is_sure in found if best is not None]
    if there:
        (angle, margin), _ = next((item for item in there if item[0][1] >= accuracy), there[0])
        is_sure = bool(circular.contains(sure, angle))
        return Choice(angle, False, "sure" if is_sure else "usable", margin)
    partly, seconds = longest_held(course.cells, angles.usable_of)
    best = widest(angles.sweep, partly) if seconds > 0.0 else None
    return Choice(0.0, False, "never", 0.0) if best is None else Choice(best[0], False, "partly", 0.0)


def _asked(course: Course, angles: Angles, usable: FloatArray, sure: FloatArray, angle_deg: float) -> Choice:
    if circular.contains(sure, angle_deg):
        return Choice(angle_deg, True, "sure", margin_deg(sure, angle_deg))
    if circular.contains(usable, angle_deg):
        return Choice(angle_deg, True, "usable", margin_deg(usable, angle_deg))
    cells = course.cells
    ever = any(
        circular.holds(angles.usable_of[segment], angle_deg + low, angle_deg + high)
        for segment, low, high in zip(cells.segment, cells.low_deg, cells.high_deg, strict=True)
    )
    return Choice(angle_deg, True, "partly" if ever else "never", 0.0)


def margin_deg(ranges: FloatArray, angle_deg: float) -> float:
    """Return how far an angle in a set is from the set's nearest edge, 180 on a full circle."""
    if circular.total_deg(ranges) >= 360.0:
        return 180.0
    ahead = np.mod(angle_deg - ranges[:, 0], 360.0)
    behind = ranges[:, 1] - ranges[:, 0] - ahead
    return float(np.max(np.minimum(ahead, behind)))


def own_angle(sweep: Sweep, sets: Sequence[FloatArray]) -> float | None:
    """Return the middle of the widest range of the first set that has any, None if none has."""
    found = (widest(sweep, ranges) for ranges in sets)
    return next((best[0] for best in found if best is not None), None)
