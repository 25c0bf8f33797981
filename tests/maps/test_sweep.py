"""The sweep against one check after another: the same numbers, for every kind of rig."""

from __future__ import annotations

import numpy as np
import pytest
from support import wcs_twin
from support.places import PLACES
from support.rigs import COMPOUND, FAST, NEWTONIAN, REFRACTOR, rig

from guidestar.field.check import check
from guidestar.maps.result import COLUMNS
from guidestar.maps.sweep import at_places
from guidestar.maps.twin import coverage_by_checks
from guidestar.sky.place import Place
from guidestar.stars.source import cone
from guidestar.stars.tycho2 import tycho2

YEAR = 2026.9

_NARROW_PRISM = {"prism__width_mm": 4.0, "guide_camera__width_mm": 11.2}
RIGS = {
    "fixed limit": rig(COMPOUND, guiding__faintest_mag=12.0),
    "fixed limit, mirrored, cut by the prism, turned": rig(NEWTONIAN, guiding__faintest_mag=11.0),
    "light": rig(COMPOUND),
    "light, mirrored, turned": rig(NEWTONIAN, guiding__exposure_s=0.03),
    "light, any side": rig(REFRACTOR, guiding__exposure_s=0.03),
    "two stars": rig(NEWTONIAN, guiding__min_stars=2, guiding__exposure_s=0.2),
    "two stars, fixed limit": rig(REFRACTOR, guiding__min_stars=2, guiding__faintest_mag=11.0, camera__mirrored=True),
    "no flip": rig(COMPOUND, mount__kind="altaz"),
    "prism known exactly": rig(COMPOUND, prism__offset_accuracy_mm=0.0),
    "light falls off": rig(REFRACTOR, telescope__image_circle_mm=30.0, guiding__exposure_s=0.1),
    "most stars need much light": rig(COMPOUND, guiding__exposure_s=0.02, sky__brightness_mag_arcsec2=18.0),
    "ring of light": rig(FAST, guiding__exposure_s=0.02),
    "ring of light, two stars": rig(FAST, guiding__exposure_s=0.05, guiding__min_stars=2),
    "narrow prism before a wide sensor": rig(COMPOUND, **_NARROW_PRISM),
    "narrow prism before a wide sensor, two stars": rig(COMPOUND, **_NARROW_PRISM, guiding__min_stars=2),
    "light, prism known exactly": rig(FAST, guiding__exposure_s=0.02, prism__offset_accuracy_mm=0.0),
}
AXIS_INSIDE = rig(
    COMPOUND,
    guide_camera__height_mm=30.0,
    guide_camera__width_mm=20.0,
    prism__height_mm=20.0,
    prism__width_mm=20.0,
    guiding__faintest_mag=9.5,
)
"""A guide sensor so large that it holds the axis: no circle's arcs are near one direction."""

MANY = ("fixed limit", "light")
"""Rigs that are compared at a hundred places, the others at a few."""

WITHIN = {
    "usable_fraction": 1e-6,
    "flip_safe_fraction": 1e-6,
    "sure_fraction": 1e-6,
    "mean_stars": 1e-5,
    "longest_blind_deg": 2e-4,
    "expected_fraction": 1e-4,
}
"""What is left: needs of light are kept as 32-bit numbers, and star counts on a grid. Far below 0.02° an end."""

SURE_OF_LIGHT = 3e-4
"""Where stars need much light, both look for sure angles in steps of 0.05°, not the same ones: 0.1° of the circle."""


def places(number: int, awkward: int) -> tuple[np.ndarray, np.ndarray]:
    """Return some awkward places and some at random, ICRS degrees."""
    chance = np.random.default_rng(5)
    ra, dec = chance.uniform(0, 360, number), np.degrees(np.arcsin(chance.uniform(-1, 1, number)))
    chosen = np.array(list(PLACES.values()))[:awkward]
    return np.append(chosen[:, 0], ra), np.append(chosen[:, 1], dec)


@pytest.mark.slow  # the first to run compiles the kernels
@pytest.mark.parametrize("name", RIGS)
def test_the_sweep_equals_checks(name: str) -> None:
    few = (2, 4) if name.startswith("ring of light") else (3, 8)
    assert_equal_to_checks(RIGS[name], *(places(100, 20) if name in MANY else places(*few)))


@pytest.mark.slow
def test_with_the_axis_on_the_guide_sensor() -> None:
    assert_equal_to_checks(AXIS_INSIDE, *places(8, 8))


def assert_equal_to_checks(a_rig, ra: np.ndarray, dec: np.ndarray) -> None:
    found = at_places(a_rig, tycho2(), ra, dec, epoch_year=YEAR).coverage
    wanted = coverage_by_checks(a_rig, tycho2(), ra, dec, epoch_year=YEAR)
    for column in COLUMNS:
        one, other = getattr(found, column), getattr(wanted, column)
        assert np.array_equal(np.isnan(one), np.isnan(other)), column
        lit = column == "sure_fraction" and a_rig.guiding.faintest_mag is None
        off = np.max(np.abs(one - other)[~np.isnan(one)], initial=0.0)
        assert off < (SURE_OF_LIGHT if lit else WITHIN[column]), (column, off)
    assert np.any(wanted.usable_fraction < 1), "all places would be easy"


def share_by_twin(asked, ends) -> float:
    """Return the share of the circle at which a question asked angle by angle has the answer yes.

    Every degree and beside the `ends` that a check gives, so that no narrow range is stepped over; each change between
    two such angles is located by halving to 0.001°.
    """
    beside = np.ravel(ends)[:, None] + [-0.02, 0.02] if len(ends) else np.empty(0)
    angles = np.unique(np.append(np.arange(360.0), np.mod(beside, 360.0)))
    answers = [asked(angle) for angle in angles]
    total = 0.0
    for i, (low, here) in enumerate(zip(angles, answers, strict=True)):
        start, high = low, angles[i + 1] if i + 1 < len(angles) else angles[0] + 360.0
        there, end = answers[(i + 1) % len(angles)], high
        while here != there and high - low > 0.001:
            middle = (low + high) / 2
            low, high = (middle, high) if asked(middle) == here else (low, middle)
        total += end - start if here and there else low - start if here else end - high if there else 0.0
    return total / 360.0


@pytest.mark.slow
@pytest.mark.parametrize("name", ["fixed limit", "fixed limit, mirrored, cut by the prism, turned"])
@pytest.mark.parametrize("place", ["a galaxy away from the plane", "beside the south pole", "just before 24 h"])
def test_the_sweep_equals_the_slow_twin(name: str, place: str) -> None:
    """Through astropy's WCS, rectangles asked one by one; at most 60 ends, of the sure ones 0.02° each."""
    a_rig, at = RIGS[name], PLACES[place]
    found = at_places(a_rig, tycho2(), *([value] for value in at), epoch_year=YEAR).coverage
    limit = a_rig.guiding.faintest_mag
    table = cone(tycho2(), *at, 1.5, faintest_mag=limit, epoch_year=YEAR)
    stars = (table.ra_deg, table.dec_deg)
    result = check(Place("", *at, "coordinates"), a_rig, tycho2(), epoch_year=YEAR).usable
    close = 60 * 0.001 / 360
    usable = share_by_twin(lambda angle: wcs_twin.usable(a_rig, at, stars, angle), result.angles_deg)
    assert found.usable_fraction[0] == pytest.approx(usable, abs=close)
    safe = share_by_twin(
        lambda angle: wcs_twin.usable(a_rig, at, stars, angle) and wcs_twin.usable(a_rig, at, stars, angle + 180.0),
        result.flip_safe_angles_deg,
    )
    assert found.flip_safe_fraction[0] == pytest.approx(safe, abs=close)
    sure = share_by_twin(lambda angle: wcs_twin.sure(a_rig, at, stars, angle), result.sure_angles_deg)
    assert found.sure_fraction[0] == pytest.approx(sure, abs=60 * 0.02 / 360)
