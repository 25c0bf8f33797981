"""What the answers of the Python interface share: reading the rig, options in its values' place, target, stars."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Final, Literal

from guidestar.api.arguments import NO_PAIR, TARGET
from guidestar.errors import InputError, MissingPackageError
from guidestar.field.light import USUAL_EXPOSURES_S
from guidestar.field.needs import star_needs
from guidestar.rig import Rig, read_rig
from guidestar.rig.wording import shown
from guidestar.sky.dates import parse_epoch, year_today
from guidestar.sky.place import Place, place
from guidestar.stars.choose import Choice, choose
from guidestar.stars.source import StarSource
from guidestar.stars.store import store_at

if TYPE_CHECKING:
    import pandas as pd
    from _typeshed import DataclassInstance

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


def values_of(result: DataclassInstance) -> dict[str, Any]:
    """Return a result's fields by name: what the answer that can show itself is made of."""
    return {field.name: getattr(result, field.name) for field in fields(result)}


def frame_of(rows: object, columns: Sequence[str] | None = None) -> pd.DataFrame:
    """Return a table from what pandas makes one of.

    Raises
    ------
    MissingPackageError
        pandas is not installed.
    """
    try:
        import pandas as pd
    except ImportError as error:
        raise MissingPackageError("An answer as a table", ["pandas"], "frames") from error
    return pd.DataFrame(rows, columns=columns)


def rig_of(rig: Rig | str | os.PathLike[str]) -> Rig:
    """Return the rig itself, or the one in a TOML file."""
    return rig if isinstance(rig, Rig) else read_rig(rig)


def place_of(target: str | tuple[float, float] | Place, year: float, equinox: str, online_names: bool) -> Place:
    """Return where a name, coordinates in degrees or a place are, ICRS."""
    if isinstance(target, Place):
        return target
    text = target if isinstance(target, str) else _pair(target)
    return place(text, equinox=equinox, epoch_year=year, online=online_names)


def _pair(target: Any) -> str:
    try:
        ra_deg, dec_deg = () if isinstance(target, NO_PAIR) else tuple(float(angle) for angle in target)
    except (TypeError, ValueError) as error:
        raise InputError(f"target: found {shown(target)}, must be {TARGET}.") from error
    return f"{ra_deg!r}d {dec_deg:+}d"


def chosen_stars(
    stars: StarSource | str | None,
    store: str | os.PathLike[str] | None,
    there: Place,
    rig: Rig,
    *,
    any_exposure: bool = False,
    further_deg: float = 0.0,
) -> Choice:
    """Choose the source of stars for a place, or for framings up to `further_deg` from it.

    Where the exposure is looked for (`any_exposure`), the longest usual one says how faint.
    """
    if isinstance(stars, StarSource):
        return Choice(stars)
    longest = {"guiding.exposure_s": USUAL_EXPOSURES_S[-1]}
    needs = star_needs(rig.with_values(longest) if any_exposure else rig)
    where = (there.ra_deg, there.dec_deg, needs.radius_deg + further_deg)
    return choose(stars or "auto", *where, needs.faintest_mag, store_at(store))


def with_options(
    rig: Rig,
    *,
    faintest_mag: float | None,
    min_stars: int | None,
    exposure: float | Literal["auto"] | None = None,
    airmass: float | None = None,
    sky: float | None = None,
) -> Rig:
    """Return the rig with options in place of its own values.

    Raises
    ------
    InputError
        A value cannot be used, or an option acts on the light where a fixed magnitude limit switches that off.
    """
    light: dict[str, object] = {"--exposure": exposure, "--airmass": airmass, "--sky": sky}
    _require_light(rig, faintest_mag, light)
    options = {"--faintest-mag": faintest_mag, "--min-stars": min_stars} | light
    return changed(rig, {name: value for name, value in options.items() if value != "auto"})


def year_of(epoch: float | str | None) -> float:
    """Return a date as a Julian year; today's where none is given."""
    return year_today() if epoch is None else parse_epoch(str(epoch))


def turn_of(option: str, angle: float) -> float:
    """Return an angle that can be meant as one, degrees; another is an `InputError` that names the option."""
    if not -360 <= angle <= 720:
        raise InputError(f"{option} {angle:g}: an angle is given in degrees, from 0 to 360.")
    return angle


def tolerance_of(rig: Rig, tolerance: float | None) -> float:
    """Return how far a camera angle may be off either way, degrees: the rig's accuracy unless given."""
    within = rig.guiding.rotation_accuracy_deg if tolerance is None else tolerance
    if not 0 <= within < 180:
        raise InputError(f"--tolerance {within:g}: must be from 0 to less than 180 degrees.")
    return within


def _require_light(rig: Rig, faintest_mag: float | None, light: Mapping[str, object]) -> None:
    """Refuse options that act on the light where a fixed limit switches it off: they would change nothing."""
    given = [option for option, value in light.items() if value is not None]
    if not given:
        return
    if faintest_mag is not None:
        raise InputError(
            f"--faintest-mag {faintest_mag:g} is a fixed limit and switches the reckoning of light off, so {given[0]} "
            "would change nothing: leave one of the two out."
        )
    if rig.guiding.faintest_mag is not None:
        raise InputError(
            f"The rig's fixed limit guiding.faintest_mag = {rig.guiding.faintest_mag:g} switches the reckoning of "
            f"light off, so {given[0]} would change nothing: take faintest_mag out of the rig file."
        )
