"""The two sides of the flip, each with the full answer of `check` at its hardest moment; and how the field turns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.field.asked import Question
from guidestar.field.check import check
from guidestar.field.result import CheckResult
from guidestar.night.choosing import Angles, own_angle
from guidestar.night.clock import moment_of
from guidestar.night.course import Course
from guidestar.night.result import Choice, Moment, SideOfNight, Turning
from guidestar.night.segments import Cells
from guidestar.rig import Rig, Site
from guidestar.sky.altaz import turning_deg_per_hour
from guidestar.sky.place import Place
from guidestar.stars.source import StarSource

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_FINE_S: Final = 30.0


def sides(
    place: Place,
    rig: Rig,
    source: StarSource,
    epoch_year: float,
    course: Course,
    angles: Angles,
    choice: Choice,
    moments: Sequence[Moment],
) -> tuple[SideOfNight, ...]:
    """Return each side of the flip that falls into the windows, in order of time."""
    found = []
    for stretch in course.stretches():
        offset = float(course.cells.start_deg[course.cells_of(stretch)[0]])
        usable, sure = (circular.turned(one, offset) for one in angles.held(course, stretch))
        angle = (choice.angle_deg + offset) % 360.0
        hardest = _hardest(course, stretch, moments)
        found.append(
            SideOfNight(
                start=moment_of(course.parts.start_s[stretch[0]]),
                end=moment_of(course.parts.end_s[stretch[-1]]),
                side=course.sides[stretch[0]],
                camera_angle_deg=angle,
                hardest=hardest,
                check=_check_at(place, rig, source, epoch_year, hardest, angle),
                usable=circular.as_tuples(usable),
                sure=circular.as_tuples(sure),
                own_angle_deg=own_angle(angles.sweep, (sure, usable)),
            )
        )
    return tuple(found)


def _hardest(course: Course, stretch: IntArray, moments: Sequence[Moment]) -> Moment:
    """Return the moment of a stretch at which the guide camera reaches least."""
    ends = np.unique(np.concatenate((course.parts.first[stretch], course.parts.first[stretch] + 1)))
    return min([moments[int(i)] for i in ends], key=_reach)


def _reach(moment: Moment) -> float:
    return moment.faintest_mag


def _check_at(
    place: Place, rig: Rig, source: StarSource, epoch_year: float, moment: Moment, angle_deg: float
) -> CheckResult:
    """Return what `check` says of an angle under the conditions of a moment."""
    there = rig
    if rig.guiding.faintest_mag is None:
        sky = {"sky.brightness_mag_arcsec2": moment.sky_v_mag_arcsec2}
        there = rig.with_values({"guiding.airmass": moment.airmass, **sky})
    question = Question(angle_deg, rig.guiding.rotation_accuracy_deg)
    return check(place, there, source, epoch_year=epoch_year, question=question)


def turning(rig: Rig, site: Site, course: Course) -> Turning | None:
    """Return how the field turns through the windows; None for a mount that keeps it still."""
    if rig.mount.kind != "altaz":
        return None
    pieces = [
        np.append(np.arange(a, b, _FINE_S), b) for a, b in zip(course.parts.start_s, course.parts.end_s, strict=True)
    ]
    at = np.concatenate(pieces)
    altitude, azimuth = course.track.at(at)
    rate = np.abs(turning_deg_per_hour(azimuth, altitude, site.latitude_deg))
    fastest = int(np.argmax(rate))
    half_diagonal_px = np.hypot(rig.camera.width_mm, rig.camera.height_mm) / 2.0 * 1000.0 / rig.camera.pixel_um
    radians_per_s = np.radians(rate[fastest]) / 3600.0
    return Turning(
        total_deg=_turned_deg(course.cells),
        fastest_deg_per_hour=float(rate[fastest]),
        fastest_at=moment_of(at[fastest]),
        exposure_limit_s=float(1.0 / (radians_per_s * half_diagonal_px)),
    )


def _turned_deg(cells: Cells) -> float:
    """Return by how much the camera turns in all, back and forth added, gaps between windows left out."""
    return float(np.abs(cells.end_deg - cells.start_deg).sum())
