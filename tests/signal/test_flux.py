import math

import numpy as np
import pytest

from guidestar.signal.flux import g0_rate_e_per_s, magnitude_of, star_electrons, star_rate_e_per_s
from guidestar.signal.sky import sky_rate_e_per_s_arcsec2, sky_rate_e_per_s_px

ONE_SQUARE_METRE = {"aperture_mm": 2000 / math.sqrt(math.pi), "central_obstruction_mm": 0.0, "transmission": 1.0}


def test_zero_point_of_gaia_itself(vary):
    """Riello et al. 2021 (G zero point 25.68737) and the pupil area 0.7278 m²: 2.5878e10 e⁻/s/m² at G = 0."""
    gaia_like = vary(**ONE_SQUARE_METRE, quantum_efficiency=0.63)
    assert g0_rate_e_per_s(gaia_like) == pytest.approx(2.5878e10, rel=1e-4)
    for g_mag, rate in ((10, 2.5878e6), (12, 4.1014e5), (14, 6.5003e4)):
        above_the_air = vary(**ONE_SQUARE_METRE, quantum_efficiency=0.63, extinction_mag=0.0)
        assert star_rate_e_per_s(g_mag, above_the_air) == pytest.approx(rate, rel=1e-4)


def test_perfect_camera_counts_the_photons_of_vega(vary):
    """Vega's published spectrum: 3.979e10 photons/s/m² over 400–900 nm, with G(Vega) about +0.03. To 1 %."""
    perfect = vary(**ONE_SQUARE_METRE, quantum_efficiency=1.0, extinction_mag=0.0)
    assert star_rate_e_per_s(0.03, perfect) == pytest.approx(3.979e10, rel=0.01)


def test_rate_by_hand(usual):
    area = math.pi / 4 * (0.2**2 - 0.07**2)
    by_hand = 2.58782e10 * 0.6 / 0.63 * area * 0.8 * 10 ** (-0.4 * (12.0 + 0.25 * 1.3))
    assert star_rate_e_per_s(12.0, usual) == pytest.approx(by_hand, rel=1e-5)
    assert star_electrons(12.0, 0.5, usual) == pytest.approx(by_hand, rel=1e-5)  # 2 s at half the light


def test_five_magnitudes_are_a_factor_of_a_hundred(usual):
    bright, faint = star_rate_e_per_s(np.array([8.0, 13.0]), usual)
    assert bright / faint == pytest.approx(100.0)


@pytest.mark.parametrize("tau", [1e-4, 0.3, 1.0])
def test_magnitude_of_is_the_inverse(usual, tau):
    g_mag = np.linspace(-2.0, 25.0, 109)
    assert magnitude_of(star_electrons(g_mag, tau, usual), tau, usual) == pytest.approx(g_mag, abs=1e-9)


def test_no_light_reaches_nothing(usual):
    found = magnitude_of([100.0, 100.0, 0.0, 0.0], [0.0, 0.5, 0.5, 0.0], usual)
    assert found[0] == -math.inf
    assert math.isfinite(found[1])
    assert found[2] == math.inf
    assert found[3] == -math.inf


def test_sky_by_hand_is_a_star_of_its_colour_corrected_brightness(vary):
    """One arcsec² of V = 20.5 sky with V − G = 0.7 shines like a star of G = 19.8 above the air."""
    setup = vary()
    no_air = vary(extinction_mag=0.0)
    assert sky_rate_e_per_s_arcsec2(setup) == pytest.approx(float(star_rate_e_per_s(19.8, no_air)))
    assert sky_rate_e_per_s_px(setup) == pytest.approx(sky_rate_e_per_s_arcsec2(setup) * (206.264806 * 2.9e-3) ** 2)


def test_sky_does_not_depend_on_extinction_or_airmass(vary):
    assert sky_rate_e_per_s_px(vary(airmass=3.0, extinction_mag=0.9)) == sky_rate_e_per_s_px(vary())
