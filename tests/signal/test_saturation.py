import math

import numpy as np
import pytest

from guidestar.signal.flux import star_rate_e_per_s
from guidestar.signal.noise import peak_fraction
from guidestar.signal.saturation import peak_fill, saturation_mag
from guidestar.signal.sky import sky_rate_e_per_s_px


def test_brightest_pixel_is_just_full_at_the_saturation_magnitude(usual):
    tau = np.array([0.05, 0.3, 1.0])
    assert peak_fill(saturation_mag(tau, usual), tau, usual) == pytest.approx([1, 1, 1], rel=1e-12)


def test_peak_fill_by_hand(usual):
    electrons = (
        2.0 * 0.5 * float(star_rate_e_per_s(9.0, usual)) * peak_fraction(usual.sigma_px)
        + 2.0 * 0.5 * sky_rate_e_per_s_px(usual)
        + 2.0 * 0.1
    )
    assert peak_fill(9.0, 0.5, usual) == pytest.approx(electrons / 12000)


def test_less_light_saturates_only_on_brighter_stars(usual):
    assert np.all(np.diff(saturation_mag(np.linspace(0.1, 1.0, 10), usual)) > 0)


def test_single_pixels_overflow_also_when_binning(vary):
    assert saturation_mag(0.8, vary(binning=3)) == pytest.approx(float(saturation_mag(0.8, vary())))


def test_extremes(vary):
    assert saturation_mag(0.0, vary()) == -math.inf  # no star saturates without light
    bright_sky = vary(sky_v_mag_arcsec2=3.0, exposure_s=30.0)
    assert saturation_mag(1.0, bright_sky) == math.inf  # the sky alone fills the pixel
    assert peak_fill(20.0, 1.0, bright_sky) > 1
