"""Nights for tests. All invented: sites, stars, times, stretches; only the `check` of each side is really worked out.

A night here need not be one that could happen: it only has to be consistent enough to be drawn, so that rare cases
(five stars in turn, no star at all, two windows, a flip back) can be had without looking for a sky that has them.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np

from guidestar.field.asked import Question
from guidestar.field.check import check
from guidestar.night.result import (
    Choice,
    Curve,
    Dark,
    Moment,
    Moon,
    NightResult,
    Run,
    SideOfNight,
    Span,
    TargetNight,
    Turning,
    Window,
)
from guidestar.rig import Rig, Site
from guidestar.sky.place import Place
from support.rigs import rig as invented_rig
from support.stars import MadeUpSky, sky_around

PLACE = (339.267, 34.416)
SITE = Site(latitude_deg=50.1, longitude_deg=10.2, time_zone="Europe/Berlin")
DUSK = datetime(2026, 11, 25, 17, 20, tzinfo=UTC)
DAWN = datetime(2026, 11, 26, 4, 53, tzinfo=UTC)


def sky_of(rig: Rig, *, stars: int = 60, seed: int = 1, faintest: float = 12.5) -> MadeUpSky:
    """Return stars spread evenly over the ring that the guide field sweeps; counts grow 2.4-fold a magnitude."""
    rng = np.random.default_rng(seed)
    reach = rig.prism.offset_mm + rig.guide_camera.width_mm + rig.guide_camera.height_mm
    magnitudes = faintest + np.log10(np.maximum(rng.random(stars), 1e-3)) / 0.38
    return sky_around(PLACE, rig, reach * np.sqrt(rng.random(stars)), 360.0 * rng.random(stars), magnitudes)


def at(hour: float) -> datetime:
    """Return the moment so many hours after dusk, to the second."""
    return DUSK + timedelta(seconds=round(3600.0 * hour))


def dark_of(start: datetime = DUSK, end: datetime = DAWN, *, kind: str = "astronomical", notes=()) -> Dark:
    """Return the dark hours between two moments."""
    empty = Curve(np.empty(0), np.empty(0), np.empty(0))
    moon = Moon(0.4, 101.0, True, None, None, 0.0, empty)
    spans = () if kind == "none" else (Span(start, end),)
    evening = date(start.year, start.month, start.day)
    noon = datetime(start.year, start.month, start.day, 11, 20, tzinfo=UTC)
    whole = Span(noon, noon + timedelta(hours=24))
    sun = "never sets" if kind == "none" else "rises and sets"
    return Dark(evening, whole, sun, None, None, -30.0, spans, spans, spans, kind, moon, tuple(notes))


def side_of(rig: Rig, sky: MadeUpSky, name: str, start: datetime, end: datetime, angle_deg: float) -> SideOfNight:
    """Return a side of the flip with its real check."""
    question = Question(angle_deg, rig.guiding.rotation_accuracy_deg)
    place = Place("a made-up target", *PLACE, "coordinates")
    found = check(place, rig, sky, epoch_year=2026.9, question=question)
    return SideOfNight(
        start=start,
        end=end,
        side=name,
        camera_angle_deg=angle_deg % 360.0,
        hardest=Moment(
            start, 30.0, 120.0, 2.0, 0.5, 4.5, 20.0, -20.0, 80.0, 20.5, 0.0, 12.0, 0.4, name == "after flip"
        ),
        check=found,
        usable=found.usable.angles_deg,
        sure=found.usable.sure_angles_deg,
        own_angle_deg=None if found.best is None else found.best.angle_deg,
    )


def runs_of(side: SideOfNight, count: int, *, exposure_s: float | None = 0.5) -> tuple[Run, ...]:
    """Return so many stretches of a side, served in turn by the stars that stand there; without a star if none do."""
    asked = side.check.asked
    assert asked is not None
    here = [item for item in sorted(asked.placements, key=lambda item: item.g_mag) if item.usable]
    length = (side.end - side.start) / count
    found = []
    for i in range(count):
        star = here[i % len(here)] if here else None
        found.append(
            Run(
                side.start + i * length,
                side.start + (i + 1) * length,
                side.side,
                side.camera_angle_deg,
                side.camera_angle_deg,
                None if star is None else star.star_id,
                None if star is None else star.g_mag,
                None if star is None else exposure_s,
            )
        )
    return tuple(found)


def night(
    *,
    rig: Rig | None = None,
    sky: MadeUpSky | None = None,
    name: str = "NGC 0000 (invented)",
    angle_deg: float | None = None,
    holds: str = "sure",
    asked: bool = False,
    margin_deg: float = 7.77,
    flip_hour: float | None = 4.0,
    stretches: int = 1,
    site: Site = SITE,
    dark: Dark | None = None,
    warnings=(),
    notes=(),
    **more,
) -> NightResult:
    """Return a night of one target, from dusk to dawn, with a flip (None: none) at so many hours after dusk.

    `angle_deg` None: the best angle of the check, for both sides of a flip if there is one. `stretches` on each side.
    `more` replaces fields of the target's night.
    """
    rig = rig or invented_rig()
    sky = sky or sky_of(rig)
    if angle_deg is None:
        found = side_of(rig, sky, "all night", DUSK, DAWN, 0.0).check
        best = found.best if flip_hour is None else found.best_flip_safe or found.best
        angle_deg = 0.0 if best is None else best.angle_deg
    if flip_hour is None:
        sides = (side_of(rig, sky, "all night", DUSK, DAWN, angle_deg),)
    else:
        turn = at(flip_hour)
        sides = (
            side_of(rig, sky, "before flip", DUSK, turn, angle_deg),
            side_of(rig, sky, "after flip", turn, DAWN, angle_deg + 180.0),
        )
    planned = TargetNight(
        target=replace(sides[0].check.target, name=name),
        row=None,
        curve=Curve(np.empty(0), np.empty(0), np.empty(0)),
        windows=(Window(DUSK, DAWN, "dusk", "dawn"),),
        no_window=None,
        transit=None if flip_hour is None else at(flip_hour),
        transit_altitude_deg=70.0,
        flip=None if flip_hour is None else at(flip_hour),
        moon_least_separation_deg=None,
        sun_separation_deg=100.0,
        moments=tuple(side.hardest for side in sides),
        usable=sides[0].usable,
        sure=sides[0].sure,
        choice=Choice(angle_deg % 360.0, asked, holds, margin_deg),
        runs=tuple(run for side in sides for run in runs_of(side, stretches)),
        sides=sides,
        turning=None,
        warnings=tuple(warnings),
        notes=tuple(notes),
    )
    return NightResult(dark or dark_of(), site, rig, 0.0, (replace(planned, **more),))


def no_hours(reason: str = "It never rises here: at its highest it is 12° below the horizon.", **more) -> NightResult:
    """Return a night in which the target cannot be imaged."""
    empty = {
        "windows": (),
        "moments": (),
        "runs": (),
        "sides": (),
        "choice": None,
        "flip": None,
        "usable": (),
        "sure": (),
    }
    return night(no_window=reason, **{**empty, **more})


def turning_night(*, stretches: int = 5, **more) -> NightResult:
    """Return a night on an alt-azimuth mount, whose field turns by 80°."""
    rig = invented_rig(mount__kind="altaz")
    plain = night(rig=rig, flip_hour=None, stretches=stretches, **more)
    (target,) = plain.targets
    assert target.choice is not None
    first = target.choice.angle_deg
    edges = np.linspace(first, first + 80.0, len(target.runs) + 1) % 360.0
    runs = tuple(
        replace(run, camera_angle_deg=float(low), camera_angle_end_deg=float(high))
        for run, low, high in zip(target.runs, edges[:-1], edges[1:], strict=True)
    )
    turned = replace(
        target,
        runs=runs,
        turning=Turning(80.0, 22.0, at(3.0), 6.87),
        choice=replace(target.choice, roll_deg=312.34, margin_deg=0.0),
    )
    return replace(plain, targets=(turned,))
