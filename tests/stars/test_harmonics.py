"""The spherical harmonics against scipy's Legendre functions, and against what holds for any right ones."""

import numpy as np
import pytest
from scipy.special import gammaln, lpmv

from guidestar.stars.harmonics import degrees_of_terms, harmonics, term_count

DEGREE = 80


def by_scipy(ra_deg, dec_deg, degree, order):
    """One harmonic from the textbook's formula; scipy's Legendre functions carry the sign (−1)^m, ours do not."""
    m = abs(order)
    log_norm = 0.5 * (np.log((2 * degree + 1) / (4 * np.pi)) + gammaln(degree - m + 1) - gammaln(degree + m + 1))
    legendre = (-1.0) ** m * lpmv(m, degree, np.sin(np.radians(dec_deg))) * np.exp(log_norm)
    turn = np.radians(ra_deg) * m
    return legendre * (1.0 if m == 0 else np.sqrt(2.0) * (np.cos(turn) if order > 0 else np.sin(turn)))


@pytest.mark.parametrize("degree", [0, 1, 2, 7, 40, 64, 80])
def test_against_scipy(degree):
    random = np.random.default_rng(11)
    ra, dec = random.uniform(-360, 720, 9), np.degrees(np.arcsin(random.uniform(-1, 1, 9)))
    ours = harmonics(ra, dec, DEGREE)
    for order in range(-degree, degree + 1):
        theirs = by_scipy(ra, dec, degree, order)
        assert ours[:, degree * degree + degree + order] == pytest.approx(theirs, rel=1e-9, abs=1e-11)


@pytest.mark.parametrize("dec", [-90.0, -89.999, -30.0, 0.0, 1e-9, 60.0, 89.9999, 90.0])
def test_the_squares_of_one_degree_add_up_everywhere(dec):
    # Addition theorem: Σ_m Y_lm² = (2l + 1)/4π at any place, poles included.
    squares = harmonics(123.4, dec, DEGREE)[0] ** 2
    sums = np.bincount(degrees_of_terms(DEGREE), weights=squares)
    assert sums == pytest.approx((2 * np.arange(DEGREE + 1) + 1) / (4 * np.pi), rel=1e-10)


def test_a_lower_degree_is_the_beginning_of_a_higher_one():
    assert np.array_equal(harmonics(10.0, 20.0, 12), harmonics(10.0, 20.0, DEGREE)[:, : term_count(12)])


def test_shapes():
    assert harmonics(0.0, 0.0, 0).shape == (1, 1)
    assert harmonics(0.0, 0.0, 0)[0, 0] == pytest.approx(np.sqrt(1 / (4 * np.pi)))
    assert harmonics([1.0, 2.0, 3.0], [4.0, 5.0, 6.0], 3).shape == (3, 16)
    assert harmonics([], [], 3).shape == (0, 16)
