import erfa
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from guidestar.sky import altaz


def zenith_seen(hour_angle_rad, dec_rad, latitude_rad):
    """The zenith stands at right ascension = sidereal time (taken as 1.7 rad) and declination = latitude."""
    time = 1.7
    values = (time - hour_angle_rad, dec_rad, time, latitude_rad)
    return np.radians(altaz.zenith_angle_deg(*(np.degrees(value) for value in values)))


def test_published_parallactic_angle_of_sofa():
    """SOFA's test program t_sofa_c: Hd2pa(1.1, 1.2, 0.3) = 1.906227428001995580 rad."""
    assert zenith_seen(1.1, 1.2, 0.3) == pytest.approx(1.906227428001995580, abs=1e-12)


def test_published_parallactic_angle_and_rate_of_slalib():
    """SLALIB `sla_ALTAZ` (SUN/67 and its test program): HA 0.7, declination −0.7, latitude −0.65 rad."""
    assert zenith_seen(0.7, -0.7, -0.65) == pytest.approx(1.707639969653937, abs=1e-12)
    azimuth, altitude = np.degrees(4.400560746660174), np.degrees(1.026646506651396)
    rate = altaz.turning_deg_per_hour(azimuth, altitude, np.degrees(-0.65))
    assert rate / altaz.SIDEREAL_DEG_PER_HOUR == pytest.approx(0.4717832355365627, abs=1e-12)
    assert altaz.hour_angle_deg(azimuth, altitude, np.degrees(-0.65)) == pytest.approx(np.degrees(0.7), abs=1e-10)


@pytest.mark.parametrize(
    ("latitude", "azimuth", "altitude", "expected"), [(52.0, 180.0, 38.0, 11.7514), (45.0, 0.0, 45.0, -15.0411)]
)
def test_turning_on_the_meridian(latitude, azimuth, altitude, expected):
    assert altaz.turning_deg_per_hour(azimuth, altitude, latitude) == pytest.approx(expected, abs=1e-3)


def test_no_turning_due_east_and_west():
    assert altaz.turning_deg_per_hour(np.array([90.0, 270.0]), 40.0, 50.0) == pytest.approx(0.0, abs=1e-12)


@settings(derandomize=True, deadline=None)
@given(st.floats(-170, 170), st.floats(-80, 80), st.floats(-80, 80))
def test_the_rate_is_the_parallactic_angle_s_own_change(hour_angle, dec, latitude):
    azimuth, altitude = (np.degrees(v) for v in erfa.hd2ae(*np.radians([hour_angle, dec, latitude])))
    if altitude > 89.0:  # it changes too fast there for a difference
        return
    step = 1e-4
    ahead, behind = (erfa.hd2pa(*np.radians([hour_angle + s, dec, latitude])) for s in (step, -step))
    slope = np.degrees((ahead - behind + np.pi) % (2 * np.pi) - np.pi) / (2 * step)
    expected = altaz.turning_deg_per_hour(azimuth, altitude, latitude) / altaz.SIDEREAL_DEG_PER_HOUR
    assert slope == pytest.approx(expected, rel=1e-3, abs=1e-4)


@settings(derandomize=True, deadline=None)
@given(st.floats(-179, 179), st.floats(-85, 85), st.floats(-85, 85))
def test_hour_angle_goes_there_and_back(hour_angle, dec, latitude):
    azimuth, altitude = (np.degrees(v) for v in erfa.hd2ae(*np.radians([hour_angle, dec, latitude])))
    back = altaz.hour_angle_deg(azimuth, altitude, latitude)
    assert (back - hour_angle + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-6)
