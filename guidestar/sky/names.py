"""Object names from the offline database of the pyongc package (OpenNGC: NGC, IC, Messier and more).

A designation ("NGC 7331", "m31", "Caldwell 33", "B33", "ESO 56-115") goes to the package's own look-up, which
follows duplicate entries. Common names ("Andromeda Galaxy", "Pelican") and near names come from the same
database file, read here directly: the package would build every object first, twenty times as slow.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final, NoReturn

import numpy as np

from guidestar.errors import DataError, InputError
from guidestar.sky.coordinates import Place

_CATALOGUES: Final = frozenset(
    ("NGC", "IC", "M", "B", "C", "CL", "ESO", "H", "HCG", "LBN", "MCG", "MEL", "MWSC", "PGC", "LEDA", "UGC", "UGCA")
)
"""Prefixes that the database's look-up understands."""

_SPELLED_OUT: Final = {
    "MESSIER": "M",
    "BARNARD": "B",
    "CALDWELL": "C",
    "COLLINDER": "CL",
    "CR": "CL",
    "HARVARD": "H",
    "HICKSON": "HCG",
    "MELOTTE": "MEL",
}
_SHOWN: Final = {"CL": "Cr", "Cl": "Cr", "MEL": "Mel"}
"""Prefixes in the usual spelling, where the database has another."""

_COMMON_NAME_MOVED: Final = {"Flame Nebula": "NGC2024"}
"""Common names that the database hangs on another object than everybody does.

It lists the Flame Nebula under IC 434, the emission behind the dark nebula B 33, 37′ from it; the nebula of that name
by ζ Orionis is NGC 2024 (common practice in observing lists).
"""

_SORT_WORDS: Final = ("nebula", "galaxy", "galaxies", "cluster", "group")
_NEAR_NAMES: Final = 3


def resolve(name: str) -> Place:
    """Look a name up, offline.

    Parameters
    ----------
    name : str
        A designation, with or without space, in any case; or a common name, with or without "the", apostrophes
        or its last word ("Pelican" for "Pelican Nebula"), as long as a single object answers to it, or a
        single one on Messier's list has it in full.

    Returns
    -------
    Place
        ICRS degrees as the database has them (for extended objects good to some arcseconds); `name` is the
        object's usual designation, after the name asked if that is another: "Andromeda Galaxy (M 31)".

    Raises
    ------
    InputError
        Unknown (with up to three near names), not unique, or listed as not existing.
    DataError
        If the database file is missing or damaged.
    """
    asked = " ".join(name.split())
    try:
        return _resolve(asked)
    except (sqlite3.Error, OSError) as error:
        raise DataError(
            f"The object database of the pyongc package cannot be read ({error}): reinstall it with "
            '"pip install --force-reinstall pyongc", or give coordinates as "RA DEC".'
        ) from error


def _resolve(asked: str) -> Place:
    designation = _designation(asked)
    if designation:
        found = _object(designation)
        if found is None:
            _refuse(asked, _near(designation, _identifiers()))
        return _place(found, asked, _spaced(designation))
    named = _one_of_messier(_commonly(asked), asked)
    if len(named) > 1:
        which = " and ".join(sorted(f"{_spaced(key)} ({common})" for key, common in named.items()))
        raise InputError(f'"{asked}" is the name of {which}: give one of the designations.')
    for key, common in named.items():
        return _place(_object(key), asked, common)
    return _refuse(asked, _suggestions(asked))


def _designation(text: str) -> str | None:
    """Spell a catalogue designation as the database's look-up wants it, or None if the text is none."""
    found = re.fullmatch(r"([A-Za-z]+)([\s._-]*)([+-]?\d.*)", text.translate({0x2013: "-", 0x2212: "-"}))
    catalogue = _SPELLED_OUT.get(found[1].upper(), found[1].upper()) if found else ""
    if not found or catalogue not in _CATALOGUES:
        return None
    number = found[3]
    if catalogue == "MCG":  # its number begins with a sign, which must not be taken for a separator
        return f"MCG {(found[2] + number).strip(' ._')}"
    return f"{catalogue} {re.sub(r'^0+(?=[0-9])', '', number).upper()}"


def _object(designation: str) -> Any:
    """Fetch an object of the database, duplicates followed; None if there is none of that designation."""
    from pyongc import ongc

    return ongc.get(designation)


def _place(found: Any, asked: str, known_as: str) -> Place:
    """Turn an object into a place, if it has one."""
    if found.type == "Nonexistent object" or found.rad_coords is None:
        raise InputError(
            f'"{asked}" is in the object database as an entry without an object on the sky: '
            'give another name, or coordinates as "RA DEC".'
        )
    ra_deg, dec_deg = (float(angle) for angle in np.degrees(found.rad_coords))
    usual = _spaced(found.identifiers[0] or found.name)
    name = usual if _key(known_as) == _key(usual) else f"{known_as} ({usual})"
    return Place(name, ra_deg % 360.0, dec_deg, str(found.type))


def _commonly(asked: str) -> dict[str, str]:
    """Find the objects (main designation → common name) of a common name: the best kind of agreement only."""
    names = _common_names()
    key, short = _key(asked), _without_sort(_key(asked))
    for agrees in (
        lambda common: common == key,
        lambda common: _without_sort(common) == key,
        lambda common: common == short != key,
    ):
        found = {designation: common for designation, common in names if agrees(_key(common))}
        if found:
            return found
    return {}


def _one_of_messier(named: dict[str, str], asked: str) -> dict[str, str]:
    """Keep, of several objects with the very name asked, the one on Messier's list if there is just one."""
    listed = {
        key: common
        for key, common in named.items()
        if len(named) > 1 and _key(common) == _key(asked) and _object(key).identifiers[0]
    }
    return listed if len(listed) == 1 else named


def _common_names() -> list[tuple[str, str]]:
    """List every (main designation, common name) of the database, moved where it is known to be wrong."""
    rows = _select("SELECT name, commonnames FROM objects WHERE commonnames != ''")
    pairs = [(row[0], common.strip()) for row in rows for common in row[1].split(",")]
    kept = [(designation, common) for designation, common in pairs if common not in _COMMON_NAME_MOVED]
    return kept + [(designation, common) for common, designation in _COMMON_NAME_MOVED.items()]


def _identifiers() -> list[str]:
    messier = [row[0] for row in _select("SELECT 'M' || messier FROM objects WHERE messier != ''")]
    return messier + [row[0] for row in _select("SELECT identifier FROM objIdentifiers")]


def _select(query: str) -> list[tuple[str, ...]]:
    from pyongc import DBPATH

    connection = sqlite3.connect(f"{Path(DBPATH).as_uri()}?mode=ro", uri=True)
    try:
        return connection.execute(query).fetchall()
    finally:
        connection.close()


def _suggestions(asked: str) -> list[str]:
    """Find near names for a text that is no designation the database understands."""
    if re.fullmatch(r"\d{1,4}[A-Za-z]?", asked):
        return [name for name in (f"NGC {asked}", f"IC {asked}") if _object(name)]
    if re.search(r"\d", asked):
        main = re.compile(r"(?:NGC|IC|M|C)\d")
        return _near(asked, (name for name in _identifiers() if main.match(name)))
    common = {_key(name): name for _, name in _common_names()}
    close = get_close_matches(_key(asked), common, _NEAR_NAMES, 0.6)
    words = set(_key(asked).split())
    held = [key for key in common if words and words <= set(key.split())]
    return [common[key] for key in dict.fromkeys(held + close)][:_NEAR_NAMES]


def _near(designation: str, names: Iterable[str]) -> list[str]:
    """Find names like a designation: of the same catalogue if it is one, compared without leading zeros."""
    spelled = {_key(_spaced(name)).replace(" ", ""): _spaced(name) for name in names}
    asked = _key(_spaced(designation)).replace(" ", "")
    same = [key for key in spelled if _letters(key) == _letters(asked)]
    return [spelled[key] for key in get_close_matches(asked, same or spelled, _NEAR_NAMES, 0.6)]


def _letters(key: str) -> str:
    """Return the letters that a designation begins with: its catalogue."""
    return key[: len(key) - len(key.lstrip("abcdefghijklmnopqrstuvwxyz"))]


def _refuse(asked: str, near: list[str]) -> NoReturn:
    guess = f" (did you mean {_or(near)}?)" if near else ""
    raise InputError(
        f'No object named "{asked}" is in the offline database{guess}: give another name, or coordinates as '
        '"RA DEC", for instance "22 37 04.1 +34 24 56"; --online-names asks a name service on the network.'
    )


def _or(names: list[str]) -> str:
    *rest, last = [f'"{name}"' for name in names]
    return f"{', '.join(rest)} or {last}" if rest else last


def _key(name: str) -> str:
    """Reduce a name to what two spellings of it share."""
    plain = re.sub(r"['’`´]", "", name.casefold()).replace("&", " and ")
    words = re.sub(r"[^\w+-]|_|-(?=[^\W\d])", " ", plain).split()
    return " ".join(words[1:] if words[:1] == ["the"] else words)


def _without_sort(key: str) -> str:
    """Cut from a common name's key the word that says what sort of object it is."""
    words = key.split()
    return " ".join(words[:-1]) if len(words) > 1 and words[-1] in _SORT_WORDS else key


def _spaced(designation: str) -> str:
    """Write a database designation as people do: "NGC0224" as "NGC 224", "ESO056-115" as "ESO 56-115"."""
    found = re.fullmatch(r"([A-Za-z]+)\s*0*([+-]?\d.*)", designation)
    return f"{_SHOWN.get(found[1], found[1])} {found[2]}" if found else designation
