"""`check` with the light model against its slow twin: transmission and both signal-to-noise ratios, star by star, angle
by angle. Positions come from astropy.wcs as in the geometric twin; the transmission and the signal are the plain
functions, never their inverses, and have authorities of their own (tests/optics, tests/signal)."""

import numpy as np
import pytest
from support import wcs_twin
from support.compare import asserted_equal, just_beside
from support.places import PLACES
from support.rigs import COMPOUND, FAST, NEWTONIAN, REFRACTOR, rig

from guidestar.angles import circular
from guidestar.field.check import check
from guidestar.field.light import rig_light
from guidestar.signal.snr import peak_snr, snr
from guidestar.sky.place import Place
from guidestar.stars.source import cone
from guidestar.stars.tycho2 import tycho2

EPOCH = 2026.9

# Short exposures, so that the reach runs through the magnitudes of the built-in catalogue (G 9 to 12): with usual ones
# every catalogue star would be usable wherever it stands on the sensor, and nothing would be tested.
RIGS = {
    "f/4, 0.4 obstructed, 8 × 8 mm at 60 mm": rig(FAST, guiding__exposure_s=0.01, guiding__min_snr=12.0),
    "newtonian": rig(
        NEWTONIAN,
        guiding__exposure_s=0.004,
        guiding__min_snr=8.0,
        telescope__image_circle_mm=36.0,
        prism__ahead_mm=55.0,
    ),
    "refractor": rig(REFRACTOR, guiding__exposure_s=0.01, guiding__min_snr=9.0, guiding__min_stars=2),
    "compound": rig(
        COMPOUND,
        guiding__exposure_s=0.05,
        prism__width_mm=8.0,
        guide_camera__width_mm=11.2,
        guide_camera__height_mm=6.3,
        guide_camera__turned_deg=-25.0,
    ),
}


class Twin:
    def __init__(self, camera, place):
        self.camera, self.place, self.light = camera, place, rig_light(camera)
        reach = np.degrees(np.arctan(40.0 / camera.telescope.focal_length_mm))
        self.table = cone(tycho2(), *place, reach, faintest_mag=self.light.deepest_mag + 0.5, epoch_year=EPOCH)

    def there(self, angle, moves):
        """Return (stars, moves): on the sensor less its margin, in enough light for both wishes."""
        camera = self.camera
        x, y = wcs_twin.rig_frame(camera, self.place, angle, self.table.ra_deg, self.table.dec_deg)
        inside, slope = wcs_twin.distances(camera, x, y)
        on_sensor = np.all(inside[:4, :, None] + slope[:4, None, None] * moves >= 0, axis=0)
        star, move = np.nonzero(on_sensor)
        # the prism moved by d lights (x, y) as it lights (x, y − d) unmoved; the telescope's own edge stays
        lit = self.light.transmission(x[star], y[star] - moves[move]) * self.light.vignetting(np.hypot(x, y))[star]
        magnitude = self.table.g_mag[star]
        enough = (snr(magnitude, lit, self.light.setup) >= camera.guiding.min_snr) & (
            peak_snr(magnitude, lit, self.light.setup) >= camera.guiding.min_peak_snr
        )
        on_sensor[star, move] = enough
        return on_sensor

    def usable(self, angle):
        return bool(np.sum(self.there(angle, np.zeros(1))) >= self.camera.guiding.min_stars)

    def sure(self, angle, steps):
        accuracy = self.camera.prism.offset_accuracy_mm / self.light.footprint.scale
        there = self.there(angle, np.linspace(-accuracy, accuracy, steps))
        return bool(np.all(np.sum(there, axis=0) >= self.camera.guiding.min_stars))


@pytest.mark.parametrize("camera", RIGS.values(), ids=RIGS.keys())
@pytest.mark.parametrize("place", PLACES.values(), ids=PLACES.keys())
def test_usable_and_sure_angles_equal_the_twin(place, camera):
    result = check(Place("somewhere", *place, "coordinates"), camera, tycho2(), epoch_year=EPOCH)
    twin = Twin(camera, place)
    steps = np.arange(0.7, 360, 4.0)
    usable, sure = result.usable.angles_deg, result.usable.sure_angles_deg
    asserted_equal(usable, np.concatenate((steps, just_beside(usable))), twin.usable)

    def sure_by_looking(angle):
        # A coarse look settles most angles; where every coarse move is good, gaps are looked for: in steps of 2 µm, of
        # 0.25 µm where the answer under test claims that there is one.
        return twin.sure(angle, 33) and twin.sure(angle, 1001 if circular.contains(sure, angle) else 8001)

    asserted_equal(sure, np.concatenate((steps[::3], just_beside(sure)[:40])), sure_by_looking)


def test_the_light_decides_in_these_rigs():
    """The comparison above means little unless many stars are usable on part of the sensor only."""
    for camera in RIGS.values():
        light = rig_light(camera)
        partly = 0
        for place in PLACES.values():
            table = Twin(camera, place).table
            needed = light.needed_transmission(np.full(len(table), 18.0), table.g_mag)
            partly += np.count_nonzero((needed > light.fully_lit) & (needed < light.grid_transmission.max()))
        assert partly > 20


def test_saturated_stars_count_with_a_flag():
    camera = rig(COMPOUND, guiding__exposure_s=8.0, telescope__fwhm_arcsec=1.0)
    result = check(Place("somewhere", 290.0, 11.0, "coordinates"), camera, tycho2(), epoch_year=EPOCH)
    bright, faint = result.guide_stars[0], result.guide_stars[-1]
    assert bright.light.peak_fill > 1
    assert "saturated" in bright.flags
    assert faint.light.peak_fill < 1
    assert "saturated" not in faint.flags
