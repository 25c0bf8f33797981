"""Galactic coordinates and the equinox of date against SOFA, Meeus and astropy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from guidestar.sky.frames import date_to_icrs, icrs_to_date, icrs_to_galactic
from guidestar.sky.plane import separation_deg

RA = np.array([0.0, 41.054063, 123.4, 269.9, 359.999, 10.0, 10.0])
DEC = np.array([0.0, 49.227750, -33.0, 66.6, -0.001, 89.99, -90.0])


def test_published_value_of_sofa_galactic():
    """SOFA test program t_sofa_c, Icrs2g."""
    l_deg, b_deg = icrs_to_galactic(*np.degrees([5.9338074302227188048671087, -1.1784870613579944551540570]))
    assert np.radians(l_deg) == pytest.approx(5.5850536063818546461558, abs=1e-14)
    assert np.radians(b_deg) == pytest.approx(-0.7853981633974483096157, abs=1e-14)


def test_galactic_as_astropy():
    from astropy.coordinates import SkyCoord

    theirs = SkyCoord(RA, DEC, unit="deg", frame="icrs").galactic
    l_deg, b_deg = icrs_to_galactic(RA, DEC)
    assert np.all((l_deg >= 0) & (l_deg < 360))
    # Astropy hangs the galactic system on FK5 J2000, SOFA on ICRS: the axes of the two frames lie about 0.02″
    # apart (0.025″ between the answers, measured).
    assert np.max(separation_deg(l_deg, b_deg, theirs.l.deg, theirs.b.deg)) * 3600 < 0.03


def test_published_matrix_of_sofa():
    """SOFA test program t_sofa_c, Pnm06a at MJD 50123.9999 (TT): the columns are where the ICRS axes go."""
    year = 2000.0 + (50123.9999 - 51544.5) / 365.25
    published = [
        [0.9999995832794205484, 0.8372382772630962111e-3, 0.3639684771140623099e-3],
        [-0.8372533744743683605e-3, 0.9999996486492861646, 0.4132905944611019498e-4],
        [-0.3639337469629464969e-3, -0.4163377605910663999e-4, 0.9999999329094260057],
    ]
    ra, dec = np.radians(icrs_to_date([0.0, 90.0, 0.0], [0.0, 0.0, 90.0], year))
    axes = np.array([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
    # The Julian year is a double near 2000: 2e-13 of it is 0.007 s of time, in which nothing moves by 1e-12.
    assert np.allclose(axes, published, rtol=0, atol=2e-12)


def test_theta_persei_of_meeus():
    """Meeus, Astronomical Algorithms, examples 21.b and 23.a: mean place plus nutation, without aberration.

    2028 November 13.19 TD: α = 41.547214° + 15.843″, δ = 49.348483° + 6.218″. The older theories of his day, FK5 for
    ICRS and places printed to 0.004″ leave 0.1″.
    """
    year = 2000.0 + (2462088.69 - 2451545.0) / 365.25
    ra_deg, dec_deg = icrs_to_date(41.054063, 49.227750, year)
    assert (ra_deg - (41.547214 + 15.843 / 3600)) * 3600 == pytest.approx(0.0, abs=0.1)
    assert (dec_deg - (49.348483 + 6.218 / 3600)) * 3600 == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("year", [1975.3, 2000.0, 2014.7, 2024.5])
def test_as_astropy_true_equator(year):
    """Astropy's GCRS → TETE is the same step, without the aberration that ICRS → TETE would add.

    The years are those that its bundled table of the Earth's orientation covers, so that it needs no network
    and no recent table.
    """
    from astropy.coordinates import GCRS, TETE, SkyCoord
    from astropy.time import Time
    from astropy.utils import iers

    moment = Time(year, format="jyear", scale="tt")
    with iers.earth_orientation_table.set(iers.IERS_B.open()):
        theirs = SkyCoord(RA, DEC, unit="deg", frame=GCRS(obstime=moment)).transform_to(TETE(obstime=moment))
    ra_deg, dec_deg = icrs_to_date(RA, DEC, year)
    assert np.max(separation_deg(ra_deg, dec_deg, theirs.ra.deg, theirs.dec.deg)) * 3600 < 1e-6


def test_as_astropy_mean_equinox_but_for_nutation():
    """FK5 at the same equinox has no nutation: 17.3″ along the ecliptic and 9.2″ in obliquity at most."""
    from astropy.coordinates import FK5, SkyCoord

    theirs = SkyCoord(RA, DEC, unit="deg", frame="icrs").transform_to(FK5(equinox="J2026.9"))
    ra_deg, dec_deg = icrs_to_date(RA, DEC, 2026.9)
    apart = separation_deg(ra_deg, dec_deg, theirs.ra.deg, theirs.dec.deg) * 3600
    assert np.max(apart) < 20.0
    moved = separation_deg(RA, DEC, ra_deg, dec_deg) * 60
    assert np.max(moved) > 20.0  # arcmin: what forgetting the equinox costs


def test_limits_of_right_ascension_and_nan():
    assert icrs_to_galactic(np.nan, 0.0)[0] != icrs_to_galactic(np.nan, 0.0)[0]
    ra_deg, dec_deg = icrs_to_date(np.linspace(0, 360, 721), np.zeros(721), 2026.9)
    assert np.all((ra_deg >= 0) & (ra_deg < 360))
    assert dec_deg.shape == (721,)
    assert np.shape(icrs_to_date(1.0, np.zeros((2, 3)), 2026.9)[0]) == (2, 3)


@settings(derandomize=True, deadline=None, max_examples=50)
@given(ra=st.floats(0.0, 360.0, exclude_max=True), dec=st.floats(-90.0, 90.0), year=st.floats(1900.0, 2100.0))
def test_there_and_back(ra, dec, year):
    back = date_to_icrs(*icrs_to_date(ra, dec, year), year)
    assert separation_deg(ra, dec, *back) * 3600 < 1e-8
