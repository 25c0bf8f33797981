import math

import numpy as np
import pytest
from scipy.stats import norm

from guidestar.signal.centroid import (
    centroid_error_arcsec,
    centroid_error_px,
    combined_error,
    in_main_pixels,
    pixel_arcsec,
)
from guidestar.signal.flux import star_electrons
from guidestar.signal.noise import background_variance_e2_per_px, noise_equivalent_area_px
from guidestar.signal.snr import snr_of


def cramer_rao_px(star_e, background, sigma_px, x=0.0, y=0.0):
    """Return the exact bound for a Gaussian integrated over pixels, Poisson noise and a known flat background."""
    half = math.ceil(6 * sigma_px) + 2
    edges = np.arange(-half, half + 2) - 0.5
    share_x, share_y = (np.diff(norm.cdf(edges, loc=place, scale=sigma_px)) for place in (x, y))
    slope_x = -np.diff(norm.pdf(edges, loc=x, scale=sigma_px))
    image, slope = np.outer(share_y, share_x), np.outer(share_y, slope_x)
    return np.sum((star_e * slope) ** 2 / (star_e * image + background)) ** -0.5


def cramer_rao_over_places(star_e, background, sigma_px):
    """Return the rms of the bound over where in its pixel the star stands."""
    places = (np.arange(8) + 0.5) / 8 - 0.5
    return math.sqrt(
        np.mean([[cramer_rao_px(star_e, background, sigma_px, x, y) ** 2 for x in places] for y in places])
    )


def sampled(sigma_px):
    return math.sqrt(sigma_px**2 + 1 / 12)


def test_published_limits():
    """σ/√N and √2 σ/SNR (published-values: σ 2 px, N 1e4 give 0.0200 px; with B = 1e4 a pixel 0.2005 px)."""
    assert centroid_error_px(1e4, 0.0, 2.0) == pytest.approx(0.0200, abs=1e-12)
    sky_only = math.sqrt(float(centroid_error_px(1e4, 1e4, 2.0)) ** 2 - 0.02**2)
    assert sky_only == pytest.approx(0.2005, abs=5e-5)
    background_snr = 1e4 / math.sqrt(4 * math.pi * 4 * 1e4)
    assert sky_only == pytest.approx(math.sqrt(2) * 2.0 / background_snr, rel=1e-12)


def test_far_from_the_cross_over_it_is_the_exact_bound():
    for sigma in (0.6, 1.0, 2.0, 4.0):
        assert centroid_error_px(1e6, 1e-4, sampled(sigma)) == pytest.approx(cramer_rao_px(1e6, 1e-4, sigma), rel=0.01)
        weak = 1e3  # star of 1e3 electrons on 1e6 a pixel
        assert centroid_error_px(weak, 1e6, sampled(sigma)) == pytest.approx(
            cramer_rao_over_places(weak, 1e6, sigma), rel=0.09 if sigma < 1.5 else 0.025
        )


@pytest.mark.parametrize(("sigma_px", "hopeful"), [(0.4, 0.16), (0.5, 0.11), (0.6, 0.11), (1.0, 0.11), (2.0, 0.11)])
def test_between_the_limits_it_is_a_little_hopeful(sigma_px, hopeful):
    """The docstring's figures, over stars of 100 to 1e6 electrons on 0.01 to 1e4 a pixel."""
    ratios = [
        float(centroid_error_px(star, background, sampled(sigma_px)))
        / cramer_rao_over_places(star, background, sigma_px)
        for star in (100.0, 1e3, 1e4, 1e5, 1e6)
        for background in (0.01, 1.0, 100.0, 1e4)
    ]
    assert 1 - hopeful < min(ratios) < 0.97
    assert max(ratios) < 1.01


def test_published_cross_over():
    """Quadrature sum 0.028 px where the exact bound is 0.031 px (N = 1e4, B = 100, σ = 2)."""
    assert centroid_error_px(1e4, 100.0, 2.0) == pytest.approx(0.028, abs=5e-4)
    # Their bound samples the Gaussian at the pixels' centres instead of integrating it over them.
    x, y = np.meshgrid(np.arange(-20, 21), np.arange(-20, 21))
    image = 1e4 * np.exp(-(x**2 + y**2) / 8.0) / (8.0 * math.pi)
    assert np.sum((image * x / 4.0) ** 2 / (image + 100.0)) ** -0.5 == pytest.approx(0.031, abs=5e-4)


def test_undersampled_stars_are_worse_than_the_formula_says():
    """The docstring's warning: at σ = 0.25 px 1.3 to 2 times worse where background counts."""
    for star, background, low, high in ((1e3, 100.0, 1.3, 2.0), (300.0, 100.0, 1.3, 2.1)):
        ratio = cramer_rao_over_places(star, background, 0.25) / centroid_error_px(star, background, sampled(0.25))
        assert low < ratio < high


def test_in_arcsec_it_is_the_pixel_figure_times_the_binned_scale(vary):
    setup = vary(binning=2)
    star = star_electrons(12.0, 0.4, setup)
    background = background_variance_e2_per_px(0.4, setup)
    in_px = centroid_error_px(star, background, setup.sigma_effective_px)
    assert centroid_error_arcsec(12.0, 0.4, setup) == pytest.approx(float(in_px) * setup.binned_pixel_arcsec)


def test_it_is_the_sum_of_the_photon_and_the_background_limit(vary):
    """σ/√N and √2 σ/SNR, where the SNR holds the background alone."""
    setup = vary(binning=2)
    star, background = float(star_electrons(12.0, 0.4, setup)), float(background_variance_e2_per_px(0.4, setup))
    sigma = setup.sigma_effective_px * setup.binned_pixel_arcsec
    background_snr = star / math.sqrt(noise_equivalent_area_px(setup) * background)
    limits = sigma / math.sqrt(star), math.sqrt(2) * sigma / background_snr
    assert math.hypot(*limits) == pytest.approx(float(centroid_error_arcsec(12.0, 0.4, setup)))


def test_error_over_snr_lies_between_the_two_limits():
    """σ/SNR (bright) to √2 σ/SNR (faint), with the full SNR."""
    for star in np.geomspace(10, 1e8, 15):
        ratio = float(centroid_error_px(star, 50.0, 2.0)) * float(snr_of(star, 50.0, 16 * math.pi)) / 2.0
        assert 1.0 <= ratio <= math.sqrt(2) + 1e-12


def test_several_stars():
    assert combined_error([0.2] * 4) == pytest.approx(0.1)
    assert combined_error([0.3, 0.4]) == pytest.approx(0.24)
    assert combined_error([0.3, math.inf]) == pytest.approx(0.3)
    assert combined_error([]) == math.inf
    assert combined_error([[0.2, 0.2], [0.3, math.inf]], axis=1) == pytest.approx([0.2 / math.sqrt(2), 0.3])


def test_combined_error_equals_seeded_trials():
    rng = np.random.default_rng(5)
    errors = np.array([0.1, 0.2, 0.5])
    weights = errors**-2 / np.sum(errors**-2)
    means = rng.normal(0.0, errors, (200_000, 3)) @ weights
    assert np.std(means) == pytest.approx(float(combined_error(errors)), rel=0.01)


def test_no_light_has_no_place(usual):
    assert centroid_error_arcsec(12.0, 0.0, usual) == math.inf


def test_main_camera_pixels():
    assert pixel_arcsec(2000.0, 3.76) == pytest.approx(0.38778, abs=1e-5)
    assert in_main_pixels(0.2, 2000.0, 3.76) == pytest.approx(0.51576, abs=1e-5)
