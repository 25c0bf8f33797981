import pytest
from support.rigs import COMPOUND, rig

from guidestar.errors import InputError
from guidestar.night.place import site_of
from guidestar.rig import Site

BARE = rig(COMPOUND)
AT_HOME = rig(
    COMPOUND, site__latitude_deg=50.0, site__longitude_deg=10.0, site__horizon_deg=25.0, site__time_zone="Europe/Berlin"
)


def test_the_rig_s_own_site():
    assert site_of(AT_HOME, None, None, None) == AT_HOME.site


def test_a_place_is_read_and_brings_nothing_of_the_rig_s_with_it():
    assert site_of(AT_HOME, "-33.9 151.2 50", None, None) == Site(
        latitude_deg=-33.9, longitude_deg=151.2, elevation_m=50.0
    )


@pytest.mark.parametrize("text", ["50.1 10.2", "50.1,10.2", "50.1, 10.2", " 50.1;10.2 "])
def test_ways_to_write_a_place(text):
    found = site_of(BARE, text, None, None)
    assert (found.latitude_deg, found.longitude_deg) == (50.1, 10.2)


def test_a_true_minus_sign():
    assert site_of(BARE, "−33.9 18.4", None, None).latitude_deg == -33.9


def test_horizon_and_time_zone_change_the_rig_s_site():
    found = site_of(AT_HOME, None, "0:20,90:35,180:15", "Europe/Paris")
    assert found.horizon_deg == ((0.0, 20.0), (90.0, 35.0), (180.0, 15.0))
    assert (found.time_zone, found.latitude_deg) == ("Europe/Paris", 50.0)
    assert site_of(AT_HOME, None, "15", None).horizon_deg == 15.0


def test_a_site_as_a_value():
    assert site_of(BARE, AT_HOME.site, "30", None).horizon_deg == 30.0


@pytest.mark.parametrize(
    ("site", "horizon", "zone", "words"),
    [
        (None, None, None, r"\[site\] section into the rig file, or give --site"),
        ("50", None, None, '--site "50": give latitude and longitude'),
        ("north pole", None, None, '--site "north pole": give'),
        ("50 10 20 30", None, None, "give latitude and longitude"),
        ("95 10", None, None, r"^--site \(latitude\): found 95.0, must be a number from -90 to 90°.$"),
        ("50 400", None, None, r"--site \(longitude\): found 400"),
        ("nan 10", None, None, r"--site \(latitude\): found nan"),
        ("50 10 99999", None, None, r"--site \(elevation\): found 99999"),
        ("50 10", "abc", None, '--horizon "abc": give one altitude'),
        ("50 10", "0:20,90", None, "azimuth:altitude pairs"),
        ("50 10", "90:20,10:5", None, "--horizon: found a list, .*ascending order"),
        ("50 10", "95", None, "--horizon: found 95"),
        ("50 10", None, "Europe/Pari", r"--time-zone: found \"Europe/Pari\".*did you mean Europe/Paris\?$"),
    ],
)
def test_what_cannot_be_a_place_is_told(site, horizon, zone, words):
    with pytest.raises(InputError, match=words):
        site_of(BARE, site, horizon, zone)
