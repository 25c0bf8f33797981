"""From what a person typed to a place on the sky: the one entry point for targets."""

from __future__ import annotations

import re

from guidestar.errors import InputError
from guidestar.sky.coordinates import LONGEST, Place, looks_like_coordinates, parse_coordinates

__all__ = ["Place", "place"]


def place(text: str, *, equinox: str = "J2000", epoch_year: float = 2000.0, online: bool = False) -> Place:
    """Find the place that a target's name or coordinates mean.

    Parameters
    ----------
    text : str
        A name of the offline database ("NGC 7331", "m31", "Pelican"), or "RA DEC" (see `parse_coordinates`).
    equinox : "J2000" or "date"
        What coordinates in `text` refer to: ICRS/J2000, or the true equator and equinox of `epoch_year`, without
        aberration (see `guidestar.sky.frames`). Names are not touched by it.
    epoch_year : float
        Julian epoch for `equinox` "date".
    online : bool
        Ask a name service on the network for a name that the offline database does not settle.

    Returns
    -------
    Place
        ICRS degrees; for coordinates `name` is the text as typed and `kind` is "coordinates".

    Raises
    ------
    InputError
        Unknown name, unreadable or impossible coordinates.
    DataError
        A damaged database, or with `online` a failure of the network.
    """
    asked = " ".join(text.split())
    if equinox not in ("J2000", "date"):
        raise InputError(f'The equinox "{equinox}" is not known: use "J2000" or "date".')
    if not asked:
        raise InputError('The target is empty: give a name such as "NGC 7331", or coordinates as "RA DEC".')
    if len(asked) > LONGEST:
        raise InputError(
            f'The target "{asked[:40]}…" is {len(asked)} characters long: give one name, or one pair of coordinates.'
        )
    if looks_like_coordinates(asked):
        return _coordinates(asked, equinox, epoch_year)
    return _named(asked, online)


def _coordinates(asked: str, equinox: str, epoch_year: float) -> Place:
    ra_deg, dec_deg = parse_coordinates(asked)
    if equinox == "J2000":
        return Place(asked, ra_deg, dec_deg, "coordinates")
    if re.search(r"J2000|ICRS", asked, re.IGNORECASE):
        raise InputError(f'"{asked}" says J2000 or ICRS, but the equinox asked for is "date": leave one out.')
    from guidestar.sky.frames import date_to_icrs

    ra, dec = date_to_icrs(ra_deg, dec_deg, epoch_year)
    return Place(f"{asked} (equinox {epoch_year:.1f})", float(ra), float(dec), "coordinates")


def _named(asked: str, online: bool) -> Place:
    from guidestar.sky.names import resolve

    try:
        return resolve(asked)
    except InputError:
        if not online:
            raise
    from guidestar.sky.online import resolve_online

    return resolve_online(asked)
