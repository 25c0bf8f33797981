import datetime as dt
import warnings

import numpy as np
import pytest

from guidestar.sky import ephemeris as e
from guidestar.sky.plane import separation_deg


def unix(*when):
    return dt.datetime(*when, tzinfo=dt.UTC).timestamp()


def around(when, hours=2.0):
    return e.moments(when - hours * 3600, when + hours * 3600)


def placed(coordinates, when, observer):
    """Altitude and azimuth of an astropy place."""
    import astropy.units as u
    from astropy.coordinates import AltAz
    from astropy.time import Time

    with e.installed_tables():
        frame = AltAz(obstime=Time(when, format="unix"), location=observer.location(), pressure=0 * u.hPa)
        found = coordinates.transform_to(frame)
    return found.alt.deg, found.az.deg


@pytest.mark.parametrize(
    ("body", "ra", "dec", "minutes", "tolerance_arcsec"),
    [
        ("sun", "00h16m31.00s", "+01d47m16.9s", 8.294858, 5.0),
        ("moon", "07h32m02.62s", "+18d34m05.0s", 0.021921, 25.0),
    ],
)
def test_sun_and_moon_of_jpl_horizons(body, ra, dec, minutes, tolerance_arcsec):
    """Apparent geocentric places of 1980 March 25, 0 h, by JPL Horizons (2016-03-28), as astropy's own tests hold them.

    The distance is printed to a part in 20 000, which for the Moon's parallax of 1° is 0.2″.
    """
    import astropy.units as u
    from astropy.constants import c
    from astropy.coordinates import TETE, SkyCoord
    from astropy.time import Time

    when = unix(1980, 3, 25)
    observer = e.Observer(50.0, 10.0, 300.0)
    there = SkyCoord(ra, dec, distance=c * minutes * u.min, frame=TETE(obstime=Time(when, format="unix")))
    altitude, azimuth = placed(there, when, observer)
    ours = getattr(e.sky_tracks(around(when), observer), body).at(when)
    apart = separation_deg(azimuth, altitude, ours[1][0], ours[0][0]) * 3600.0
    assert apart < tolerance_arcsec


def test_altitude_and_azimuth_of_the_worked_example():
    """Meeus, example 13.b: Venus at 23h09m16.641s, −6°43′11.61″ (apparent), from the US Naval Observatory.

    1987 April 10, 19:21 UT, 77°03′56″ W, 38°55′17″ N: azimuth 68.0337° from south, altitude 15.1249°.
    """
    import astropy.units as u
    from astropy.coordinates import TETE, SkyCoord
    from astropy.time import Time

    when, observer = unix(1987, 4, 10, 19, 21), e.Observer(38 + 55 / 60 + 17 / 3600, -(77 + 3 / 60 + 56 / 3600))
    frame = TETE(obstime=Time(when, format="unix"), location=observer.location())
    icrs = SkyCoord("23h09m16.641s", "-06d43m11.61s", frame=frame, distance=1e6 * u.pc).icrs
    (track,) = e.star_tracks(icrs.ra.deg, icrs.dec.deg, around(when), observer)
    altitude, azimuth = track.at(when)
    assert altitude[0] == pytest.approx(15.1249, abs=0.002)
    assert azimuth[0] == pytest.approx(248.0337, abs=0.002)


def test_interpolation_is_good_to_a_hundredth_of_an_arcsecond():
    observer = e.Observer(50.1, 10.2, 450.0)
    start = unix(2026, 11, 25, 11)
    grid, between = e.moments(start, start + 86400.0), e.moments(start + 77.0, start + 86300.0)
    coarse, fine = e.sky_tracks(grid, observer), e.sky_tracks(between, observer)
    for name in ("sun", "moon", "zenith"):
        off = getattr(coarse, name).vectors_at(between) - getattr(fine, name).vectors
        assert np.abs(off).max() < np.radians(0.01 / 3600.0)


def test_a_star_through_the_zenith_keeps_its_directions():
    observer = e.Observer(50.1, 10.2, 450.0)
    start = unix(2026, 12, 4, 11)
    grid, between = e.moments(start, start + 86400.0), e.moments(start + 77.0, start + 86300.0)
    (coarse,), (fine,) = (e.star_tracks(100.0, 50.1, at, observer) for at in (grid, between))
    assert coarse.at(grid)[0].max() > 89.5
    assert np.abs(coarse.vectors_at(between) - fine.vectors).max() < np.radians(0.01 / 3600.0)


def test_the_zenith_among_the_stars_is_where_a_star_stands_overhead():
    observer = e.Observer(-33.9, 151.2)
    when = unix(2026, 6, 1, 12)
    dec, ra = e.sky_tracks(around(when), observer).zenith.at(when)
    (track,) = e.star_tracks(ra[0], dec[0], around(when), observer)
    assert track.at(when)[0][0] > 89.999


def test_nothing_of_astropy_s_own_settings_is_left_changed():
    from astropy.coordinates import solar_system_ephemeris
    from astropy.utils import iers

    before = (iers.conf.auto_download, iers.conf.auto_max_age, iers.conf.iers_degraded_accuracy)
    table = iers.earth_orientation_table.get()
    with e.installed_tables():
        assert not iers.conf.auto_download
    assert (iers.conf.auto_download, iers.conf.auto_max_age, iers.conf.iers_degraded_accuracy) == before
    assert iers.earth_orientation_table.get() is table
    assert solar_system_ephemeris.get() == "builtin"


@pytest.mark.parametrize("year", [1974, 2000, 2099])
def test_all_years_work_without_a_network_and_without_a_warning(year):
    """Sockets are closed in these tests, and warnings are errors."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        tracks = e.sky_tracks(around(unix(year, 6, 21, 0)), e.Observer(50.0, 10.0))
    assert np.all(np.isfinite(tracks.sun.vectors))
    assert tracks.sun.at(unix(year, 6, 21, 0))[0][0] == pytest.approx(-16.0, abs=1.0)


def test_old_tables_do_not_stop_an_answer(monkeypatch):
    """Years after the installation the tables are stale; the answer goes on, with nothing fetched."""
    from astropy.utils import iers

    monkeypatch.setattr(iers.LeapSeconds, "_today", staticmethod(lambda: iers.Time("2035-01-01", scale="tai")))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        tracks = e.sky_tracks(around(unix(2035, 6, 21, 0)), e.Observer(50.0, 10.0))
    assert np.all(np.isfinite(tracks.moon.vectors))
    assert e.rotation_known_until() < unix(2035, 1, 1)
