"""Too bright: when a star's brightest pixel is full."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.signal.flux import magnitude_of, star_electrons
from guidestar.signal.noise import peak_fraction
from guidestar.signal.setup import GuideSetup
from guidestar.signal.sky import sky_rate_e_per_s_px

FloatArray = NDArray[np.float64]


def peak_fill(g_mag: ArrayLike, throughput: ArrayLike, setup: GuideSetup) -> FloatArray:
    """Return how full a star's brightest pixel gets in one exposure, share of the full well; 1 = saturated.

    Star, sky and dark together. Counted in single pixels, also when binning: pixels are summed after readout,
    so it is the single one that overflows. The star is taken to stand on the pixel's centre, the worst case.
    """
    star = _single_pixel_fraction(setup) * star_electrons(g_mag, throughput, setup)
    return np.asarray((star + _background_e(throughput, setup)) / setup.full_well_e)


def saturation_mag(throughput: ArrayLike, setup: GuideSetup) -> FloatArray:
    """Return the G magnitude at which `peak_fill` is 1; brighter stars saturate.

    −inf at throughput 0 (none does); +inf where sky and dark alone fill the pixel (all do).
    """
    room = np.maximum(setup.full_well_e - _background_e(throughput, setup), 0.0)
    return magnitude_of(room / _single_pixel_fraction(setup), throughput, setup)


def _single_pixel_fraction(setup: GuideSetup) -> float:
    """Return the brightest unbinned pixel's share of the star."""
    return peak_fraction(setup.sigma_px * setup.binning)


def _background_e(throughput: ArrayLike, setup: GuideSetup) -> FloatArray:
    """Return sky and dark electrons in one unbinned pixel and one exposure."""
    rate = np.asarray(throughput, dtype=np.float64) * sky_rate_e_per_s_px(setup) + setup.dark_e_per_s
    return np.asarray(rate * setup.exposure_s)
