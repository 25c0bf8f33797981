"""The sweep against one check after another: the same numbers, for every kind of rig."""

from __future__ import annotations

import numpy as np
import pytest
from support.places import PLACES
from support.rigs import COMPOUND, FAST, NEWTONIAN, REFRACTOR, rig

from guidestar.maps.result import COLUMNS
from guidestar.maps.sweep import at_places
from guidestar.maps.twin import coverage_by_checks
from guidestar.stars.tycho2 import tycho2

YEAR = 2026.9

RIGS = {
    "fixed limit": rig(COMPOUND, guiding__faintest_mag=12.0),
    "fixed limit, mirrored, cut by the prism, turned": rig(NEWTONIAN, guiding__faintest_mag=11.0),
    "light": rig(COMPOUND),
    "light, mirrored, turned": rig(NEWTONIAN),
    "light, any side": rig(REFRACTOR),
    "two stars": rig(NEWTONIAN, guiding__min_stars=2),
    "two stars, fixed limit": rig(REFRACTOR, guiding__min_stars=2, guiding__faintest_mag=11.0, camera__mirrored=True),
    "no flip": rig(COMPOUND, mount__kind="altaz"),
    "prism known exactly": rig(COMPOUND, prism__offset_accuracy_mm=0.0),
    "light falls off": rig(REFRACTOR, telescope__image_circle_mm=30.0, guiding__exposure_s=0.1),
    "most stars need much light": rig(COMPOUND, guiding__exposure_s=0.02, sky__brightness_mag_arcsec2=18.0),
    "ring of light": rig(FAST, guiding__exposure_s=0.02),
    "ring of light, two stars": rig(FAST, guiding__exposure_s=0.05, guiding__min_stars=2),
    "light, prism known exactly": rig(FAST, guiding__exposure_s=0.02, prism__offset_accuracy_mm=0.0),
    "axis on the guide sensor": rig(COMPOUND, guide_camera__height_mm=30.0, guide_camera__width_mm=20.0),
}


def places(number):
    """Return the awkward places and some at random, ICRS degrees."""
    chance = np.random.default_rng(5)
    ra, dec = chance.uniform(0, 360, number), np.degrees(np.arcsin(chance.uniform(-1, 1, number)))
    return np.append([ra for ra, _ in PLACES.values()], ra), np.append([dec for _, dec in PLACES.values()], dec)


END_DEG = 0.02
LARGEST = {
    "usable_fraction": END_DEG / 360.0,
    "flip_safe_fraction": END_DEG / 360.0,
    # Where light decides, `check` looks for handing over in steps of 0.05°: what is narrower either may overlook.
    "sure_fraction": 0.1 / 360.0,
    "mean_stars": 1e-4,
    "longest_blind_deg": END_DEG,
    "expected_fraction": 1e-4,  # the counts are looked up on a grid, not summed at every place
}


@pytest.mark.slow
@pytest.mark.parametrize("name", RIGS)
def test_the_sweep_equals_checks(name):
    ra, dec = places(12)
    if (
        name == "axis on the guide sensor"
    ):  # where every star for a degree round is a candidate, and a check takes seconds
        ra, dec = ra[::8], dec[::8]
    found = at_places(RIGS[name], tycho2(), ra, dec, epoch_year=YEAR).coverage
    wanted = coverage_by_checks(RIGS[name], tycho2(), ra, dec, epoch_year=YEAR)
    for column in COLUMNS:
        ours, theirs = getattr(found, column), getattr(wanted, column)
        np.testing.assert_allclose(ours, theirs, rtol=0.0, atol=LARGEST[column], err_msg=column, equal_nan=True)
