"""Signal-to-noise ratio and reach: how faint, at which throughput, and which wish limits.

A usable star satisfies two wishes. Its whole light stands `min_snr` times above the noise of its image, so
that the centroid is good; and its brightest binned pixel stands `min_peak_snr` times above the noise of a
pixel beside it, so that it can be told from noise at all. Throughput τ = T·V scales star and sky alike.

With S = s·τ electrons of the star, background variance b = β·τ + c per binned pixel (β sky, c camera), area
A: SNR = S/√(S + A·b) (the "CCD equation", e.g. Howell, Handbook of CCD Astronomy; weighted by the star's
image as in LSST SMTN-002) and peak SNR = p·S/√b. The peak is held against a pixel without the star, so its
own photons do not count as noise there. Both rise steadily with τ: S²/(S + A·b) = s²τ/(s + A·β + A·c/τ),
likewise the other. Hence each wish asks a smallest τ for a star and a faintest star for a τ, both roots of a
quadratic.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.signal.flux import magnitude_of, star_electrons
from guidestar.signal.noise import (
    background_variance_e2_per_px,
    camera_variance_e2_per_px,
    noise_equivalent_area_px,
    peak_fraction,
    sky_e_per_px,
)
from guidestar.signal.setup import GuideSetup

FloatArray = NDArray[np.float64]

LIMITED_BY_SNR = "snr"
LIMITED_BY_PEAK = "peak"
NO_LIGHT = "no light"


class Reach(NamedTuple):
    """Faintest usable G magnitude and what limits it, arrays of one shape.

    `limited_by` holds "snr", "peak" or, where the throughput is 0 and nothing is reached, "no light".
    """

    faintest_mag: FloatArray
    limited_by: NDArray[np.str_]


def snr_of(star_e: ArrayLike, background_e2_per_px: ArrayLike, area_px: float) -> FloatArray:
    """Return S/√(S + A·b): star electrons S, background variance b (e² per pixel), area A (pixels).

    0 for a star without electrons.
    """
    star = np.asarray(star_e, dtype=np.float64)
    variance = star + area_px * np.asarray(background_e2_per_px, dtype=np.float64)
    return np.asarray(star / np.sqrt(np.where(variance > 0.0, variance, 1.0)))


def star_e_for_snr(min_snr: float, background_e2_per_px: ArrayLike, area_px: float) -> FloatArray:
    """Return the star electrons S that give SNR q: the positive root of S² − q²·S − q²·A·b = 0."""
    squared = min_snr**2
    noise = area_px * np.asarray(background_e2_per_px, dtype=np.float64)
    return np.asarray((squared + np.sqrt(squared**2 + 4.0 * squared * noise)) / 2.0)


def snr(g_mag: ArrayLike, throughput: ArrayLike, setup: GuideSetup) -> FloatArray:
    """Return the SNR of stars of magnitude G at throughput τ, one exposure; broadcast together."""
    background = background_variance_e2_per_px(throughput, setup)
    return snr_of(star_electrons(g_mag, throughput, setup), background, noise_equivalent_area_px(setup))


def peak_snr(g_mag: ArrayLike, throughput: ArrayLike, setup: GuideSetup) -> FloatArray:
    """Return the star's electrons in its brightest binned pixel over the noise of a pixel without the star.

    The star is taken to stand on the centre of that pixel. Infinite without any noise, 0 without light.
    """
    peak = peak_fraction(setup.sigma_px) * star_electrons(g_mag, throughput, setup)
    noise = np.sqrt(background_variance_e2_per_px(throughput, setup))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = peak / noise
    return np.asarray(np.where(peak == 0.0, 0.0, ratio))


def needed_throughput(g_mag: ArrayLike, setup: GuideSetup) -> FloatArray:
    """Return the smallest τ = T·V at which stars of magnitude G are usable (both wishes met).

    Same shape as `g_mag`. More than 1 means out of reach everywhere: so much more light would be needed.
    Inverse of `faintest_mag`.
    """
    star = star_electrons(g_mag, 1.0, setup)
    sky, camera = sky_e_per_px(setup), camera_variance_e2_per_px(setup)
    area, peak = noise_equivalent_area_px(setup), peak_fraction(setup.sigma_px)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # S = s·τ in each wish, divided by s so that nothing is squared that could vanish.
        whole = setup.min_snr**2 * (1.0 + area * sky / star)
        tau_snr = (whole + np.sqrt(whole**2 + 4.0 * setup.min_snr**2 * area * camera)) / (2.0 * star)
        brightest = setup.min_peak_snr**2 * sky / (peak * star)
        tau_peak = (brightest + np.sqrt(brightest**2 + 4.0 * setup.min_peak_snr**2 * camera)) / (2.0 * peak * star)
    return np.asarray(np.maximum(tau_snr, tau_peak))


def faintest_mag(throughput: ArrayLike, setup: GuideSetup) -> FloatArray:
    """Return the faintest usable G at throughput(s) τ; −inf where τ = 0. Inverse of `needed_throughput`."""
    return magnitude_of(np.maximum(*_electrons_by_wish(throughput, setup)), throughput, setup)


def reach(throughput: ArrayLike, setup: GuideSetup) -> Reach:
    """Return the faintest usable G at throughput(s) τ = T·V, 0 … 1, and which wish limits it; any shape."""
    tau = np.asarray(throughput, dtype=np.float64)
    whole_e, peak_e = _electrons_by_wish(tau, setup)
    limit = np.where(whole_e >= peak_e, LIMITED_BY_SNR, LIMITED_BY_PEAK)
    return Reach(faintest_mag(tau, setup), np.where(tau > 0.0, limit, NO_LIGHT))


def _electrons_by_wish(throughput: ArrayLike, setup: GuideSetup) -> tuple[FloatArray, FloatArray]:
    """Return the star electrons that each wish asks for (SNR, peak SNR) at throughput(s) τ."""
    background = background_variance_e2_per_px(throughput, setup)
    whole_e = star_e_for_snr(setup.min_snr, background, noise_equivalent_area_px(setup))
    return whole_e, np.asarray(setup.min_peak_snr * np.sqrt(background) / peak_fraction(setup.sigma_px))
