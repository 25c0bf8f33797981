import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j1

from guidestar.errors import InputError
from guidestar.signal.centroid import centroid_error_arcsec, in_main_pixels
from guidestar.signal.guidescope import AIRY_FWHM, flexure_of_one_pixel, guide_scope_setup
from guidestar.signal.snr import faintest_mag


def test_airy_width_equals_the_diffraction_integral():
    half = brentq(lambda u: (2 * j1(math.pi * u) / (math.pi * u)) ** 2 - 0.5, 0.1, 1.0)
    assert pytest.approx(2 * half, abs=1e-3) == AIRY_FWHM


def test_guide_scope_by_hand(usual):
    scope = guide_scope_setup(usual, focal_length_mm=120.0, aperture_mm=30.0)
    assert scope.pixel_arcsec == pytest.approx(206.2648 * 2.9 / 120, rel=1e-6)
    assert scope.collecting_area_m2 == pytest.approx(math.pi * 0.015**2)
    assert scope.transmission == 0.9
    diffraction = 1.029 * 0.62e-6 / 0.030 * 206264.8
    assert scope.fwhm_at_airmass_arcsec == pytest.approx(math.hypot(usual.fwhm_at_airmass_arcsec, diffraction))
    assert scope.quantum_efficiency == usual.quantum_efficiency
    assert scope.exposure_s == usual.exposure_s


def test_guide_scope_measures_the_same_star_worse_and_reaches_less_deep(usual):
    scope = guide_scope_setup(usual, focal_length_mm=200.0, aperture_mm=50.0)
    magnitudes = np.array([8.0, 10.0, 12.0])
    assert np.all(centroid_error_arcsec(magnitudes, 1.0, scope) > 3 * centroid_error_arcsec(magnitudes, 1.0, usual))
    assert faintest_mag(1.0, scope) < faintest_mag(1.0, usual) - 1


@pytest.mark.parametrize(
    ("focal", "aperture", "words"),
    [
        (0.0, 30.0, "focal length 0 mm"),
        (120.0, -30.0, "aperture -30 mm"),
        (math.inf, 30.0, "focal length inf mm"),
        (30.0, 120.0, "focal length comes first"),
    ],
)
def test_impossible_guide_scopes_are_refused(usual, focal, aperture, words):
    with pytest.raises(InputError, match=words):
        guide_scope_setup(usual, focal_length_mm=focal, aperture_mm=aperture)


def test_flexure_by_hand():
    """2000 mm and 3.76 µm: a pixel is 1.88 µrad; 120 mm guide focal length moves 0.226 µm, a 300 mm lever 0.564 µm."""
    found = flexure_of_one_pixel(main_focal_length_mm=2000, main_pixel_um=3.76, guide_focal_length_mm=120, lever_mm=300)
    assert found.arcsec == pytest.approx(0.38778, abs=1e-5)
    assert found.at_guide_sensor_um == pytest.approx(0.2256, abs=1e-6)
    assert found.at_lever_um == pytest.approx(0.564, abs=1e-6)
    assert found.rate_arcsec_per_min(300.0) == pytest.approx(0.38778 / 5, abs=1e-5)
    assert in_main_pixels(found.arcsec, 2000, 3.76) == pytest.approx(1.0)
