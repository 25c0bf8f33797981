"""Searches at a date against moving and measuring every star (the slow twin), on INVENTED stars."""

import erfa
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from guidestar.sky import epoch
from guidestar.stars.search import Motion, Ring, stars_in_ring, widening_deg


def invented(ra_deg: float, dec_deg: float, spread_deg: float) -> Motion:
    """600 stars around a point, some very fast, some of unknown motion."""
    rng = np.random.default_rng(7)
    distance, bearing = spread_deg * np.sqrt(rng.uniform(0.0, 1.0, 600)), rng.uniform(0.0, 2.0 * np.pi, 600)
    motion = distance * 3.6e6  # milliarcseconds in one year carry a star standing at the point to its place
    ra, dec = epoch.moved(
        np.full(600, ra_deg), np.full(600, dec_deg), motion * np.sin(bearing), motion * np.cos(bearing), 1.0
    )
    pm_ra, pm_dec = rng.normal(0.0, 2000.0, 600), rng.normal(0.0, 2000.0, 600)
    pm_ra[:50] = pm_dec[:50] = np.nan
    return Motion(ra, dec, rng.choice([1991.25, 2000.0], 600), pm_ra, pm_dec)


def slow_twin(stars: Motion, ring: Ring, epoch_year: float) -> set[int]:
    """Move every star, measure every distance with ERFA."""
    found = set()
    for i, columns in enumerate(
        zip(stars.ra_deg, stars.dec_deg, stars.epoch_year, stars.pm_ra, stars.pm_dec, strict=True)
    ):
        ra, dec, year, *motion = columns
        ra_then, dec_then = epoch.moved(ra, dec, *np.nan_to_num(motion), epoch_year - year)
        distance = np.degrees(erfa.seps(*np.radians([ring.ra_deg, ring.dec_deg, ra_then, dec_then])))
        if ring.inner_deg <= distance <= ring.outer_deg:
            found.add(i)
    return found


@settings(derandomize=True, deadline=None, max_examples=40)
@given(
    ra_deg=st.floats(0.0, 360.0),
    dec_deg=st.floats(-90.0, 90.0),
    inner_deg=st.floats(0.0, 0.8),
    width_deg=st.floats(0.001, 1.0),
    epoch_year=st.floats(1900.0, 2100.0),
)
@example(ra_deg=0.0, dec_deg=90.0, inner_deg=0.2, width_deg=0.5, epoch_year=2030.0)
@example(ra_deg=0.0, dec_deg=-90.0, inner_deg=0.0, width_deg=0.5, epoch_year=1950.0)
@example(ra_deg=359.99, dec_deg=0.0, inner_deg=0.3, width_deg=0.3, epoch_year=2026.0)
@example(ra_deg=0.0, dec_deg=0.0, inner_deg=0.0, width_deg=1.0, epoch_year=2000.0)
def test_a_ring_holds_what_the_slow_twin_finds(
    ra_deg: float, dec_deg: float, inner_deg: float, width_deg: float, epoch_year: float
) -> None:
    stars = invented(ra_deg, dec_deg, 1.6)
    ring = Ring(ra_deg, dec_deg, inner_deg, inner_deg + width_deg)
    widen_deg = widening_deg(epoch_year, (1991.25, 2000.0))
    indices, ra_then, dec_then = stars_in_ring(stars, ring, epoch_year, widen_deg)
    assert set(indices.tolist()) == slow_twin(stars, ring, epoch_year)
    years = epoch_year - stars.epoch_year[indices]
    pm_ra, pm_dec = np.nan_to_num(stars.pm_ra[indices]), np.nan_to_num(stars.pm_dec[indices])
    expected = epoch.moved(stars.ra_deg[indices], stars.dec_deg[indices], pm_ra, pm_dec, years)
    assert np.array_equal(np.stack([ra_then, dec_then]), np.stack(expected))


def test_a_search_is_widened_by_the_fastest_star_since_the_farther_epoch() -> None:
    assert widening_deg(2026.0, (1991.0, 2000.0)) == pytest.approx(10.4 * 35.0 / 3600.0)
    assert widening_deg(1950.0, (1991.0, 2000.0)) == pytest.approx(10.4 * 50.0 / 3600.0)


def test_both_edges_of_a_ring_belong_to_it() -> None:
    at_pole = np.zeros(3)
    stars = Motion(at_pole, np.array([89.0, 88.5, 88.0]), np.full(3, 2000.0), at_pole, at_pole)
    indices, _, _ = stars_in_ring(stars, Ring(0.0, 90.0, 1.0 - 1e-12, 2.0 + 1e-12), 2000.0, 0.0)
    assert indices.tolist() == [0, 1, 2]


def test_the_whole_sphere_holds_every_star() -> None:
    stars = invented(10.0, 10.0, 60.0)
    indices, _, _ = stars_in_ring(stars, Ring(200.0, -30.0, 0.0, 180.0), 2026.0, 0.1)
    assert len(indices) == 600
