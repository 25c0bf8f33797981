"""Image motion: how much the air moves a star about, however bright: a floor under every centroid error."""

from __future__ import annotations

from guidestar.constants import ARCSEC_PER_RADIAN, G_MEAN_WAVELENGTH_UM
from guidestar.signal.setup import GuideSetup

TILT_COEFFICIENT = 0.170
"""Variance of the mean wavefront slope over a round aperture, one axis, in units of λ² r₀^(−5/3) D^(−1/3).
Kolmogorov turbulence; the tests get it by integration. Half the 0.340 of two far apertures in Tokovinin 2002 (PASP
114, 1156; attribution from memory)."""

FWHM_IN_LAMBDA_OVER_R0 = 0.98
"""Seeing FWHM of a long exposure, in units of λ/r₀ (Fried's parameter); textbook value."""

USUAL_WIND_M_PER_S = 10.0
"""Speed of the turbulent layers; an estimate, 5 to 20 m/s are common."""


def image_motion_arcsec(
    setup: GuideSetup, wind_m_per_s: float = USUAL_WIND_M_PER_S, seeing_arcsec: float | None = None
) -> float:
    """Return the rms motion of a star along one axis from exposure to exposure, arcsec. An estimate.

    √[0.170 λ² r₀^(−5/3) (D + v·t/2)^(−1/3)] with r₀ = 0.98 λ/FWHM. A snapshot has D alone. Air blown past
    during the exposure averages like a longer aperture; D + v·t/2 matches the numerical integral over the
    frozen, wind-blown spectrum to 4 % in rms. So longer exposures calm a star only as t^(−1/6).

    It is an upper estimate: real turbulence has an outer scale of some 10–50 m that takes slow motion out, and
    without `seeing_arcsec` (FWHM of the air alone, at the airmass) the whole star size counts as seeing. For
    a small guide scope, whose own diffraction widens the star, hand over the main telescope's.
    """
    seeing = setup.fwhm_at_airmass_arcsec if seeing_arcsec is None else seeing_arcsec
    wavelength_m = G_MEAN_WAVELENGTH_UM * 1e-6
    r0_m = FWHM_IN_LAMBDA_OVER_R0 * wavelength_m * ARCSEC_PER_RADIAN / seeing
    length_m = setup.aperture_mm * 1e-3 + wind_m_per_s * setup.exposure_s / 2.0
    variance = TILT_COEFFICIENT * wavelength_m**2 * r0_m ** (-5.0 / 3.0) * length_m ** (-1.0 / 3.0)
    return ARCSEC_PER_RADIAN * float(variance**0.5)
