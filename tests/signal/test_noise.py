import math
from dataclasses import asdict, astuple

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.stats import norm

from guidestar.signal.noise import (
    background_variance_e2_per_px,
    noise_budget,
    noise_equivalent_area_px,
    peak_fraction,
)
from guidestar.signal.snr import snr


def pixel_shares(sigma_px, shift_px):
    """Return a Gaussian's share in each pixel of one row; two of these multiplied give the image."""
    edges = np.arange(-40, 41) - 0.5
    return np.diff(norm.cdf(edges, loc=shift_px, scale=sigma_px))


def sum_of_squares_averaged(sigma_px):
    """Return Σp² of the image, averaged over where in its pixel the star stands."""
    row = [np.sum(pixel_shares(sigma_px, shift) ** 2) for shift in (np.arange(200) + 0.5) / 200 - 0.5]
    return np.mean(row) ** 2


def with_sigma(vary, sigma_px):
    """Make a setup whose star has that σ in pixels."""
    scale = 206.264806247 * 2.9 / 1000
    return vary(airmass=1.0, fwhm_arcsec=sigma_px * scale * 2.3548200450309493)


def test_noise_equivalent_area_is_lssts(vary):
    """LSST SMTN-002: n_eff = 2.266 (FWHM/pixel)², for well sampled stars."""
    setup = with_sigma(vary, 8.0)
    assert noise_equivalent_area_px(setup) == pytest.approx(2.266 * (8 * 2.35482) ** 2, rel=2e-3)
    # King 1983: 50.265 px for σ = 2 px; the pixel's own width adds π/3.
    assert noise_equivalent_area_px(with_sigma(vary, 2.0)) == pytest.approx(50.265 + math.pi / 3, abs=1e-3)


@pytest.mark.parametrize(
    ("sigma_px", "within"),
    [(0.01, 0.08), (0.1, 0.08), (0.2, 0.08), (0.3, 0.08), (0.4, 0.02), (1.0, 0.02), (3.0, 0.001)],
)
def test_noise_equivalent_area_with_its_floor_equals_the_exact_average(vary, sigma_px, within):
    found = noise_equivalent_area_px(with_sigma(vary, sigma_px))
    assert found >= 1.0
    assert found == pytest.approx(1 / sum_of_squares_averaged(sigma_px), rel=within)


@pytest.mark.parametrize("sigma_px", [0.2, 0.5, 1.0, 2.5])
def test_peak_fraction_equals_quadrature(sigma_px):
    def density(y, x):
        return math.exp(-(x * x + y * y) / (2 * sigma_px**2)) / (2 * math.pi * sigma_px**2)

    assert peak_fraction(sigma_px) == pytest.approx(dblquad(density, -0.5, 0.5, -0.5, 0.5)[0], rel=1e-7)


@pytest.mark.parametrize(("sigma_px", "less"), [(1.0, 0.07), (0.3, 0.29)])
def test_how_much_the_centred_peak_flatters(sigma_px, less):
    """The figures in `peak_fraction`'s docstring: the brightest pixel, averaged over the star's place in it."""
    row = np.mean([np.max(pixel_shares(sigma_px, shift)) for shift in (np.arange(200) + 0.5) / 200 - 0.5])
    assert 1 - row**2 / peak_fraction(sigma_px) == pytest.approx(less, abs=0.005)


def test_background_by_hand_with_binning(vary):
    """Binned 2 × 2 after readout: four pixels' sky, dark and read variance."""
    plain, binned = vary(), vary(binning=2)
    one = float(background_variance_e2_per_px(0.7, plain))
    assert float(background_variance_e2_per_px(0.7, binned)) == pytest.approx(4 * one)
    dark_and_read = 0.1 * 2.0 + 1.5**2
    assert float(background_variance_e2_per_px(0.0, plain)) == pytest.approx(dark_and_read)
    # The sky's own figure is worked out in test_flux; here only that it scales with the throughput.
    full = float(background_variance_e2_per_px(1.0, plain))
    assert one - dark_and_read == pytest.approx(0.7 * (full - dark_and_read))


def test_binning_after_readout_costs_only_sampling(vary):
    """For a star of many pixels SNR hardly changes with binning, since the same pixels are added up."""
    wide = {"fwhm_arcsec": 12.0}
    assert snr(13.0, 1.0, vary(binning=2, **wide)) == pytest.approx(snr(13.0, 1.0, vary(**wide)), rel=0.01)


def largest(budget):
    parts = asdict(budget)
    return max(parts, key=parts.get)


def test_budget_adds_up_and_its_parts_grow_with_what_makes_them(vary):
    setup = vary()
    budget = noise_budget(12.0, 0.8, setup)
    signal, noise = budget.star_e2, math.sqrt(sum(astuple(budget)))
    assert signal / noise == pytest.approx(float(snr(12.0, 0.8, setup)))
    assert largest(noise_budget(6.0, 0.8, setup)) == "star_e2"
    assert largest(noise_budget(17.0, 0.8, vary(read_noise_e=8.0))) == "read_e2"
    assert largest(noise_budget(17.0, 0.8, vary(sky_v_mag_arcsec2=17.0))) == "sky_e2"
    assert largest(noise_budget(17.0, 0.8, vary(dark_e_per_s=50.0))) == "dark_e2"
