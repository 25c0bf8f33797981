"""Names from the offline database."""

import re
import sqlite3

import numpy as np
import pytest

from guidestar.errors import DataError, InputError
from guidestar.sky import names
from guidestar.sky.names import resolve
from guidestar.sky.plane import separation_deg


def _rows(query):
    from pyongc import DBPATH

    connection = sqlite3.connect(DBPATH)
    try:
        return connection.execute(query).fetchall()
    finally:
        connection.close()


def test_position_against_the_published_row():
    """The row of NGC 7000 as the database's authors print it: 20:59:17.14 +44:31:43.6 (PyOngc's description)."""
    place = resolve("NGC 7000")
    ra_deg = (20 + 59 / 60 + 17.14 / 3600) * 15
    dec_deg = 44 + 31 / 60 + 43.6 / 3600
    assert (place.ra_deg, place.dec_deg) == pytest.approx((ra_deg, dec_deg), abs=0.06 / 3600)
    assert place.kind == "HII Ionized region"


@pytest.mark.parametrize("spelling", ["NGC 7331", "ngc 7331", "NGC7331", "NGC-7331", "ngc  07331", " NGC_7331 "])
def test_spellings_of_a_designation(spelling):
    place = resolve(spelling)
    assert place.name == "NGC 7331"
    assert (place.ra_deg, place.dec_deg) == pytest.approx((339.26671, 34.41553), abs=1e-5)
    assert place.kind == "Galaxy"
    assert isinstance(place.ra_deg, float)


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("m31", "M 31"),
        ("M 031", "M 31"),
        ("Messier 31", "M 31"),
        ("NGC 224", "NGC 224 (M 31)"),
        ("Andromeda Galaxy", "Andromeda Galaxy (M 31)"),
        ("andromeda", "Andromeda Galaxy (M 31)"),
        ("IC 434", "IC 434"),
        ("B33", "B 33"),
        ("Barnard 33", "B 33"),
        ("Pelican", "Pelican Nebula (IC 5070)"),
        ("the pelican NEBULA", "Pelican Nebula (IC 5070)"),
        ("Caldwell 33", "C 33 (NGC 6992)"),
        ("c14", "C 14"),
        ("Cats eye nebula", "Cat's Eye Nebula (NGC 6543)"),
        ("Cat’s Eye", "Cat's Eye Nebula (NGC 6543)"),
        ("Bow Tie Nebula", "Bow-Tie nebula (NGC 40)"),
        ("h and chi persei", "h & chi Persei (C 14)"),
        ("Pleiades", "Pleiades (M 45)"),
        ("Pleiades cluster", "Pleiades (M 45)"),
        ("Melotte 22", "Mel 22 (M 45)"),
        ("Collinder 399", "Cr 399"),
        ("Hickson 92", "HCG 92"),
        ("47 Tuc", "47 Tuc Cluster (NGC 104)"),
        ("UGC 12113", "UGC 12113 (NGC 7331)"),
        ("MCG+06-49-045", "MCG +06-49-045 (NGC 7331)"),
        ("MCG -02-01-031", "MCG -02-01-031 (IC 2)"),
        ("MCG \u221202-01-031", "MCG -02-01-031 (IC 2)"),
        ("ESO 056-115", "ESO 56-115"),
        ("IC 2431 NED02", "IC 2431 NED02"),
        ("IC 11", "IC 11 (NGC 281)"),  # an entry that duplicates another
        ("M 102", "M 102 (M 101)"),
        ("Eagle Nebula", "Eagle Nebula (M 16)"),  # of two objects of that name, the one on Messier's list
    ],
)
def test_names_and_what_they_are_shown_as(asked, name):
    assert resolve(asked).name == name


def test_the_flame_nebula_is_not_the_emission_behind_the_dark_b33():
    flame = resolve("Flame Nebula")
    assert flame.name == "Flame Nebula (NGC 2024)"
    dark = resolve("B 33")
    apart = separation_deg(flame.ra_deg, flame.dec_deg, dark.ra_deg, dark.dec_deg)
    assert apart * 60 == pytest.approx(37.7, abs=0.5)
    # If this fails, the database has been mended, and the exception in names.py can go.
    assert _rows("SELECT name FROM objects WHERE commonnames LIKE '%Flame Nebula%'") == [("IC0434",)]


def test_every_messier_and_caldwell_number_has_a_place():
    """Charles Messier's list has 110 numbers, the Caldwell list 109, and their objects differ."""
    for catalogue, count in (("M", 110), ("C", 109)):
        found = {(p.ra_deg, p.dec_deg) for p in (resolve(f"{catalogue} {n}") for n in range(1, count + 1))}
        assert len(found) == count - (catalogue == "M")  # M 102 is M 101 again
        with pytest.raises(InputError, match="did you mean"):
            resolve(f"{catalogue} {count + 1}")


def test_every_common_name_leads_somewhere_or_names_its_objects():
    unsettled = set()
    for (held,) in _rows("SELECT commonnames FROM objects WHERE commonnames != ''"):
        for common in held.split(","):
            try:
                assert common.strip() in resolve(common).name
            except InputError:
                unsettled.add(common)
    assert unsettled == {
        "Antennae Galaxies",
        "Butterfly Galaxies",
        "Eastern Veil",
        "Eyes",
        "Network Nebula",
        "Siamese Twins",
    }


def test_main_names_come_back_at_their_own_place():
    """Every seventh entry that exists and is no duplicate, by the name it is shown under."""
    query = "SELECT name, ra, dec FROM objects WHERE type NOT IN ('NonEx', 'Dup') AND id % 7 = 0"
    rows = _rows(query)
    assert len(rows) > 1800
    places = [resolve(names._spaced(name)) for name, _, _ in rows]
    found = np.array([(p.ra_deg, p.dec_deg) for p in places])
    listed = np.degrees(np.array([(ra, dec) for _, ra, dec in rows]))
    assert np.max(separation_deg(*found.T, *listed.T)) * 3600 < 1e-6


def test_every_duplicate_is_followed():
    for (name,) in _rows("SELECT name FROM objects WHERE type = 'Dup'"):
        place = resolve(name)
        assert place.kind != "Duplicated record"
        assert place.name.startswith(f"{names._spaced(name)} (")


@pytest.mark.parametrize("name", ["IC 1064", "NGC 412"])
def test_entries_without_an_object_are_refused(name):
    """IC 1064 has no position in the database; NGC 412 has one, and nothing is there."""
    with pytest.raises(InputError, match="without an object on the sky") as caught:
        resolve(name)
    assert name in str(caught.value)


@pytest.mark.parametrize(
    ("asked", "near"),
    [
        ("7331", ["NGC 7331"]),
        ("2024", ["NGC 2024", "IC 2024"]),
        ("NGC 73331", ["NGC 7331"]),
        ("NCG 7331", ["NGC 7331"]),
        ("M 111", ["M 110"]),
        ("NGC 4038A", ["NGC 4038"]),
        ("Andromeda Galaxi", ["Andromeda Galaxy"]),
        ("North American Nebula", ["North America Nebula"]),
        ("Omega Cen", ["Omega Centauri"]),
        ("Polarissima", ["Polarissima Australis", "Polarissima Borealis"]),
    ],
)
def test_unknown_names_get_near_ones(asked, near):
    with pytest.raises(InputError, match="No object named") as caught:
        resolve(asked)
    message = str(caught.value)
    offered = re.findall(r'"([^"]*)"', re.search(r"\(did you mean (.*?)\?\)", message)[1])
    assert set(near) <= set(offered)
    assert len(offered) <= 3
    assert f'"{asked}"' in message
    assert "RA DEC" in message
    for name in set(offered) - {"Antennae Galaxies"}:  # that one is two objects
        resolve(name)  # what is offered works


@pytest.mark.parametrize("asked", ["xyzzy", "NGC", "Vega", 'a" OR "1"="1', "%", "_", "NGC 1; DROP TABLE objects"])
def test_unknown_names_without_near_ones(asked):
    with pytest.raises(InputError, match="No object named"):
        resolve(asked)


@pytest.mark.parametrize(
    ("asked", "listed"),
    [("Helix", ["NGC 2685 (Helix Galaxy)", "NGC 7293 (Helix Nebula)"]), ("Antennae", ["NGC 4038", "NGC 4039"])],
)
def test_a_name_of_several_objects_is_refused_with_their_designations(asked, listed):
    with pytest.raises(InputError, match="give one of the designations") as caught:
        resolve(asked)
    assert all(name in str(caught.value) for name in listed)


@pytest.mark.parametrize("damage", ["missing", "not a database", "empty"])
@pytest.mark.parametrize("asked", ["NGC 7331", "Pelican"])
def test_a_damaged_database_is_a_data_failure(monkeypatch, tmp_path, damage, asked):
    path = tmp_path / "objects #1 50%.db"
    if damage != "missing":
        path.write_bytes(b"" if damage == "empty" else b"no database at all" * 100)
    monkeypatch.setattr("pyongc.DBPATH", str(path))
    monkeypatch.setattr("pyongc.ongc.DBPATH", str(path))
    with pytest.raises(DataError, match=r"reinstall it with .pip install --force-reinstall pyongc"):
        resolve(asked)


def test_a_path_with_odd_signs_is_no_obstacle(monkeypatch, tmp_path):
    from pathlib import Path

    import pyongc

    path = tmp_path / "objects #1 50%.db"
    path.write_bytes(Path(pyongc.DBPATH).read_bytes())
    monkeypatch.setattr("pyongc.DBPATH", str(path))
    assert len(names._common_names()) > 150
