"""The sweep against what is known of star fields: Poisson's law, and Tycho-2's published densities."""

from __future__ import annotations

import numpy as np
import pytest
from support.rigs import COMPOUND, NEWTONIAN, rig
from support.stars import MadeUpSky

from guidestar.field import geometry
from guidestar.maps.sweep import sky_map
from guidestar.sky import frames
from guidestar.stars.tycho2 import tycho2

pytestmark = pytest.mark.slow

WHOLE_DEG2 = 4.0 * np.pi * np.degrees(1.0) ** 2
PLAIN = rig(NEWTONIAN, guiding__faintest_mag=20.0, guide_camera__turned_deg=0.0)


def field_deg2(a_rig) -> float:
    """Return the area of the guide field, plane and small, by the shoelace rule."""
    x, y = geometry.field_polygon(a_rig).T
    area_mm2 = abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2
    return area_mm2 / a_rig.telescope.focal_length_mm**2 * np.degrees(1.0) ** 2


def uniform_sky(number: int) -> MadeUpSky:
    """Return invented stars, evenly at random all over the sky."""
    chance = np.random.default_rng(20)
    ra, dec = chance.uniform(0, 360, number), np.degrees(np.arcsin(chance.uniform(-1, 1, number)))
    return MadeUpSky(ra, dec, np.full(number, 10.0))


@pytest.mark.parametrize("mean", [0.2, 1.0, 2.0])
def test_availability_on_a_uniform_sky_is_poissons(mean: float) -> None:
    """The chance of at least one star is 1 − exp(−nA): Ragazzoni 1999, A&AS 136, 205, eq. 9.

    The whole sky holds 630,000 fields of this size, so that the share is known to 0.0006; three times that is allowed.
    """
    source = uniform_sky(int(mean / field_deg2(PLAIN) * WHOLE_DEG2))
    coverage = sky_map(PLAIN, source, nside=32, epoch_year=2000.0).coverage
    assert np.mean(coverage.usable_fraction) == pytest.approx(1.0 - np.exp(-mean), abs=0.002)
    assert np.mean(coverage.mean_stars) == pytest.approx(mean, rel=0.005)
    assert np.std(coverage.usable_fraction) > 0.01, "not a field like any other"


def test_two_stars_and_flips_on_a_uniform_sky() -> None:
    """At least two: 1 − exp(−m)(1 + m); here and half a turn away, far enough apart to be independent: squared."""
    mean = 1.0
    source = uniform_sky(int(mean / field_deg2(PLAIN) * WHOLE_DEG2))
    two = sky_map(PLAIN.with_values({"guiding.min_stars": 2}), source, nside=32, epoch_year=2000.0).coverage
    assert np.mean(two.usable_fraction) == pytest.approx(1.0 - 2.0 * np.exp(-1.0), abs=0.003)
    assert np.mean(two.flip_safe_fraction) == pytest.approx((1.0 - 2.0 * np.exp(-1.0)) ** 2, abs=0.003)


def test_mean_numbers_are_tycho2s_published_densities() -> None:
    """Star density of Tycho-2: 150, 50 and 25 a square degree at |b| = 0, 30 and 90° (ReadMe of CDS I/259).

    Rounded figures for belts of no stated width. Counted again in the files: 144.5 for |b| < 2.5, 49.1 for 30 ± 2.5,
    23.6 for |b| > 80.
    """
    a_rig = rig(COMPOUND, guiding__faintest_mag=20.0)
    found = sky_map(a_rig, tycho2(), nside=64, epoch_year=2000.0, columns=("mean_stars",))
    b = np.abs(frames.icrs_to_galactic(found.sweep.ra_deg, found.sweep.dec_deg)[1])
    per_deg2 = found.coverage.mean_stars / field_deg2(a_rig)
    for low, high, published, counted in ((0, 2.5, 150, 144.5), (27.5, 32.5, 50, 49.1), (80, 90, 25, 23.6)):
        belt = np.mean(per_deg2[(b >= low) & (b <= high)])
        assert belt == pytest.approx(published, rel=0.08)
        assert belt == pytest.approx(counted, rel=0.02)
