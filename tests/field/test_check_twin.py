"""`check` against the slow twin: a camera turned step by step through astropy.wcs (tests/support/wcs_twin.py)."""

import numpy as np
import pytest
from support import wcs_twin
from support.compare import asserted_as_check, asserted_equal
from support.places import PLACES
from support.rigs import COMPOUND, NEWTONIAN, REFRACTOR, rig

from guidestar.field.check import check
from guidestar.sky.place import Place
from guidestar.stars.source import cone
from guidestar.stars.tycho2 import tycho2

EPOCH = 2026.9
STEP_DEG = 1.5

RIGS = {
    "compound": rig(COMPOUND, guiding__faintest_mag=11.0),
    "newtonian": rig(NEWTONIAN, guiding__faintest_mag=10.5),
    "refractor": rig(REFRACTOR, guiding__faintest_mag=9.0),
    "two stars": rig(NEWTONIAN, guiding__faintest_mag=11.0, guiding__min_stars=2, guide_camera__turned_deg=-70.0),
    "cut by the prism": rig(
        COMPOUND,
        guiding__faintest_mag=11.0,
        guide_camera__width_mm=17.0,
        guide_camera__height_mm=10.0,
        prism__offset_mm=9.0,
    ),
}


def stars_of(place, camera, limit):
    """Return every star to the limit far beyond the field, at the epoch (the catalogue itself is tested apart)."""
    reach = np.degrees(np.arctan(40.0 / camera.telescope.focal_length_mm))
    table = cone(tycho2(), *place, reach, faintest_mag=limit, epoch_year=EPOCH)
    return table.ra_deg, table.dec_deg


@pytest.mark.parametrize("camera", RIGS.values(), ids=RIGS.keys())
@pytest.mark.parametrize("place", PLACES.values(), ids=PLACES.keys())
def test_usable_and_sure_angles_equal_the_twin(place, camera):
    result = check(Place("somewhere", *place, "coordinates"), camera, tycho2(), epoch_year=EPOCH)
    stars = stars_of(place, camera, result.stars.faintest_mag)
    asserted_as_check(result.usable, camera, place, stars, STEP_DEG)


def test_each_stars_own_angles_and_place_on_the_sensor_equal_the_twin():
    camera, place = RIGS["newtonian"], PLACES["in the plane"]
    result = check(Place("somewhere", *place, "coordinates"), camera, tycho2(), epoch_year=EPOCH)
    assert result.best is not None
    seen = {item.star_id: item for item in result.best.placements}
    found = 0
    for star in result.guide_stars:
        own = (np.array([star.ra_deg]), np.array([star.dec_deg]))
        steps = np.arange(0.1, 360, 7.0)
        asserted_equal(star.angles_deg, steps, lambda angle, own=own: bool(wcs_twin.usable(camera, place, own, angle)))
        if star.id in seen:
            x, y = wcs_twin.rig_frame(camera, place, result.best.angle_deg, *own)
            assert (seen[star.id].x_mm, seen[star.id].y_mm) == pytest.approx((x[0], y[0]), abs=1e-6)
            found += 1
    assert found >= 1
