"""Nights that are really worked out, for tests: invented targets under skies full of invented stars."""

from __future__ import annotations

from datetime import date
from functools import cache

import numpy as np

from guidestar.night.plan import Wanted, plan
from guidestar.night.result import NightResult, TargetNight
from guidestar.rig import Rig, Site
from guidestar.sky.place import Place
from support.rigs import COMPOUND, rig
from support.stars import sky_around

SITE = Site(latitude_deg=50.1, longitude_deg=10.2, elevation_m=450.0, time_zone="Europe/Berlin")
EVENING = date(2026, 11, 25)
TARGET = (339.267, 34.416)
MOUNTS = ("german", "fork", "altaz")


def invented(target, known: Rig, *, stars=60, seed=7, faintest=14.5):
    """Return stars strewn about a target out to a little beyond the guide field, seeded."""
    random = np.random.default_rng(seed)
    reach_mm = known.prism.offset_mm + 10.0
    radius = reach_mm * np.sqrt(random.uniform(0.1, 1.0, stars))
    return sky_around(
        target, known, radius, random.uniform(0, 360, stars), random.uniform(7.5, faintest, stars), complete_to_mag=20.0
    )


@cache
def one(
    mount="german", target=TARGET, site=SITE, evening=EVENING, stars=60, seed=7, faintest=14.5, asked=None, **changes
) -> tuple[NightResult, TargetNight, object]:
    """Return a night's result, its only target, and the stars; keys of the rig as `guiding__exposure_s`."""
    known = rig(COMPOUND, mount__kind=mount, **changes)
    source = invented(target, known, stars=stars, seed=seed, faintest=faintest)
    wanted = [Wanted(Place("made-up target", *target, "coordinates"), source)]
    result = plan(wanted, known, site, evening, epoch_year=2026.9, asked_deg=asked)
    return result, result.targets[0], source
