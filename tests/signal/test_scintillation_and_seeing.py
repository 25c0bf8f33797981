import math

import numpy as np
import pytest
from scipy.special import j1

from guidestar.signal.scintillation import scintillation_osborn
from guidestar.signal.seeing import TILT_COEFFICIENT, image_motion_arcsec


def scintillation_young(aperture_cm, exposure_s):
    """Return the rms flicker at the zenith at sea level after Young 1967 (as given by Dravins et al. 1998)."""
    return 0.09 * aperture_cm ** (-2 / 3) / math.sqrt(2 * exposure_s)


def test_osborn_published_values():
    assert scintillation_osborn(200.0, 1.0, 1.0) == pytest.approx(0.01387, abs=1e-5)
    assert scintillation_osborn(200.0, 1.0, 1.0, site=1.0) == pytest.approx(0.00925, abs=1e-5)
    airmass = 1 / math.cos(math.radians(20.0))
    assert scintillation_osborn(3600.0, airmass, 0.09, 2500.0) ** 2 == pytest.approx(2.9229e-5, abs=1e-9)


def test_the_two_laws_differ_by_what_their_authors_say():
    """Osborn et al.: Young's law underestimates the median; with C_Y = 1 they agree to some 10 %."""
    assert scintillation_young(20.0, 1.0) == pytest.approx(0.008637, abs=1e-6)  # the published value
    young, osborn = scintillation_young(25.0, 2.0), scintillation_osborn(250.0, 1.0, 2.0)
    assert 1.4 < osborn / young < 1.8
    assert scintillation_osborn(250.0, 1.0, 2.0, site=1.0) == pytest.approx(young, rel=0.1)


def slope_variance(wind_over_aperture):
    """Return the mean-slope variance, one axis, in λ² r₀^(−5/3) D^(−1/3): integral over the frozen turbulence.

    Kolmogorov phase spectrum 0.0229 r₀^(−5/3) f^(−11/3), slope 2πf, filtered by the aperture and, if air is blown
    past by that many diameters during the exposure, by the streak; mean of the two axes.
    """
    f = np.exp(np.linspace(math.log(1e-9), math.log(60.0), 8001))
    aperture = (2 * j1(math.pi * f) / (math.pi * f)) ** 2
    angle = (np.arange(600) + 0.5) / 600 * math.pi / 2
    streak = np.mean(np.sinc(wind_over_aperture * f[:, None] * np.cos(angle)) ** 2, axis=1)
    integrand = 0.5 * 0.0229 * f ** (-11 / 3) * f**2 * aperture * streak * 2 * math.pi * f
    return np.trapezoid(integrand * f, np.log(f))


def test_tilt_coefficient_equals_the_integral():
    assert slope_variance(0.0) == pytest.approx(TILT_COEFFICIENT, rel=0.01)


@pytest.mark.parametrize("blown", [0.3, 1.0, 3.0, 10.0, 50.0, 200.0])
def test_averaging_by_wind_equals_the_integral_to_4_percent(vary, blown):
    setup = vary(aperture_mm=200.0, exposure_s=blown * 0.2 / 10.0)
    still = vary(aperture_mm=200.0, exposure_s=1e-9)
    ratio = image_motion_arcsec(setup) / image_motion_arcsec(still)
    assert ratio == pytest.approx(math.sqrt(slope_variance(blown) / slope_variance(0.0)), rel=0.04)


def test_image_motion_by_hand(vary):
    """FWHM 2″ at the zenith at 0.62 µm: r₀ = 6.27 cm; 2 s of 10 m/s wind: L = 0.2 + 10 m."""
    r0 = 0.98 * 0.62e-6 * 206264.8 / 2.0
    by_hand = 206264.8 * 0.62e-6 / r0 * math.sqrt(0.170 * (10.2 / r0) ** (-1 / 3))
    found = image_motion_arcsec(vary(fwhm_arcsec=2.0, airmass=1.0))
    assert found == pytest.approx(by_hand, rel=1e-6)
    assert 0.2 < found < 0.6


def test_image_motion_grows_with_star_size_and_calms_slowly(vary):
    assert image_motion_arcsec(vary(fwhm_arcsec=4.0)) / image_motion_arcsec(vary(fwhm_arcsec=2.0)) == pytest.approx(
        2 ** (5 / 6)
    )
    ratio = image_motion_arcsec(vary(exposure_s=64.0)) / image_motion_arcsec(vary(exposure_s=1.0))
    assert ratio == pytest.approx(0.5, abs=0.01)


def test_seeing_alone_may_be_given_instead_of_the_star_size(vary):
    wide, seeing = vary(fwhm_arcsec=9.0, airmass=1.0), vary(fwhm_arcsec=2.0, airmass=1.0)
    assert image_motion_arcsec(wide, seeing_arcsec=2.0) == pytest.approx(image_motion_arcsec(seeing))
