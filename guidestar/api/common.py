"""What the answers of the Python interface share: reading the rig, options in its values' place, target, stars."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import Final

from guidestar.field.light import USUAL_EXPOSURES_S
from guidestar.field.needs import star_needs
from guidestar.rig import Rig, read_rig
from guidestar.sky.place import Place, place
from guidestar.stars.choose import Choice, choose
from guidestar.stars.source import StarSource
from guidestar.stars.store import store_at

_RIG_KEYS: Final = {
    "--faintest-mag": "guiding.faintest_mag",
    "--min-stars": "guiding.min_stars",
    "--exposure": "guiding.exposure_s",
    "--airmass": "guiding.airmass",
    "--sky": "sky.brightness_mag_arcsec2",
}


def changed(rig: Rig, options: Mapping[str, object]) -> Rig:
    """Return the rig with the options that were given in place of its own values; a bad one is named in the error."""
    for option, value in options.items():
        if value is not None:
            rig = rig.with_values({_RIG_KEYS[option]: value}, where=option)
    return rig


def rig_of(rig: Rig | str | os.PathLike[str]) -> Rig:
    """Return the rig itself, or the one in a TOML file."""
    return rig if isinstance(rig, Rig) else read_rig(rig)


def place_of(target: str | tuple[float, float] | Place, year: float, equinox: str, online_names: bool) -> Place:
    """Return where a name, coordinates in degrees or a place are, ICRS."""
    if isinstance(target, Place):
        return target
    text = target if isinstance(target, str) else f"{float(target[0])!r}d {float(target[1]):+}d"
    return place(text, equinox=equinox, epoch_year=year, online=online_names)


def chosen_stars(
    stars: StarSource | str | None, store: str | os.PathLike[str] | None, there: Place, rig: Rig, any_exposure: bool
) -> Choice:
    """Choose the source of stars; where the exposure is looked for, the longest one says how faint."""
    if isinstance(stars, StarSource):
        return Choice(stars)
    longest = {"guiding.exposure_s": USUAL_EXPOSURES_S[-1]}
    needs = star_needs(rig.with_values(longest) if any_exposure else rig)
    where = (there.ra_deg, there.dec_deg, needs.radius_deg)
    return choose(stars or "auto", *where, needs.faintest_mag, store_at(store))
