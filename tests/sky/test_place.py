"""The one entry point for targets."""

import subprocess
import sys

import pytest

from guidestar.errors import DataError, InputError
from guidestar.sky.coordinates import Place
from guidestar.sky.place import place
from guidestar.sky.plane import separation_deg


def test_names_and_coordinates():
    named = place("  ngc  7331 ")
    assert named.name == "NGC 7331"
    given = place(" 22 37 04.1   +34 24 56 ")
    assert given.name == "22 37 04.1 +34 24 56"
    assert given.kind == "coordinates"
    assert separation_deg(named.ra_deg, named.dec_deg, given.ra_deg, given.dec_deg) * 3600 < 2.0


def test_equinox_of_date_moves_coordinates_and_not_names():
    """Meeus, Astronomical Algorithms, examples 21.b and 23.a, without aberration: see test_frames."""
    year = 2000.0 + (2462088.69 - 2451545.0) / 365.25
    found = place("41.551615 49.350210", equinox="date", epoch_year=year)
    assert separation_deg(found.ra_deg, found.dec_deg, 41.054063, 49.227750) * 3600 < 0.15
    assert found.name == "41.551615 49.350210 (equinox 2028.9)"
    assert isinstance(found.ra_deg, float)
    assert place("M 31", equinox="date", epoch_year=year) == place("M 31")


def test_contradictions_and_empty_texts():
    with pytest.raises(InputError, match="says J2000"):
        place("10 20 J2000", equinox="date", epoch_year=2026.9)
    with pytest.raises(InputError, match='equinox "B1950"'):
        place("10 20", equinox="B1950")
    with pytest.raises(InputError, match="target is empty"):
        place("  ")
    with pytest.raises(InputError, match="is 5000 characters long"):
        place("NGC 7" * 1000)


def test_bad_coordinates_and_unknown_names():
    with pytest.raises(InputError, match="91 degrees"):
        place("10 91", online=True)  # never asked online
    with pytest.raises(InputError, match="--online-names"):
        place("some star")


def test_online_only_when_asked_and_only_for_what_is_not_known(monkeypatch):
    """A stand-in for the resolver counts what it is asked."""
    asked = []

    def stand_in(name):
        asked.append(name)
        if name == "lost":
            raise DataError("The stand-in failed.")
        return Place(name, 1.0, 2.0, "stand-in")

    monkeypatch.setattr("guidestar.sky.online.resolve_online", stand_in)
    assert place("some star", online=True) == Place("some star", 1.0, 2.0, "stand-in")
    assert place("NGC 7331", online=True).name == "NGC 7331"
    with pytest.raises(InputError):
        place("some star")
    with pytest.raises(DataError):
        place("lost", online=True)
    assert asked == ["some star", "lost"]


def test_the_default_path_imports_nothing_heavy():
    code = (
        "import sys; from guidestar.sky.place import place; place('Pelican'); place('10 20'); "
        "place('10 20', equinox='date', epoch_year=2026.9); "
        "print([m for m in ('astropy', 'pandas', 'scipy', 'matplotlib', 'pyarrow', 'healpy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == "[]"
