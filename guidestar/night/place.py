"""A site from options instead of the rig file: "LAT LON [ELEVATION]", a horizon line, a time zone."""

from __future__ import annotations

import re
from typing import Any

from guidestar.errors import InputError, RigError
from guidestar.rig import Rig, Site

_NO_SITE = (
    'This needs to know where you are: write a [site] section into the rig file, or give --site "LATITUDE LONGITUDE" '
    'in degrees, north and east positive, such as --site "50.1 10.2".'
)


def site_of(rig: Rig, site: str | Site | None, horizon: str | None, time_zone: str | None) -> Site:
    """Return the site to plan for.

    Parameters
    ----------
    rig : Rig
        Its own site is used where none is given, changed by `horizon` and `time_zone`; those of the rig do not go
        over to another place.
    site : str or Site, optional
        "LAT LON" or "LAT LON ELEVATION", degrees (north and east positive) and metres.
    horizon : str, optional
        One altitude, or azimuth:altitude pairs in ascending azimuth, "0:20,90:35,180:15".
    time_zone : str, optional
        A name of the tz database.

    Raises
    ------
    InputError
        There is no site, or a value cannot be used.
    """
    if site is None and rig.site is None:
        raise InputError(_NO_SITE)
    if isinstance(site, Site):
        raw: dict[str, Any] = {name: getattr(site, name) for name in Site.__dataclass_fields__}
    elif site is not None:
        raw = _numbers(site)
    else:
        raw = dict(rig.source.get("site", {}))
    if horizon is not None:
        raw["horizon_deg"] = _horizon(horizon)
    if time_zone is not None:
        raw["time_zone"] = time_zone
    try:
        built = rig.with_values({"site": raw}, where="the place").site
    except RigError as error:
        raise InputError(_by_option(error)) from error
    if built is None:
        raise InputError(_NO_SITE)
    return built


def _numbers(text: str) -> dict[str, Any]:
    """Read "LAT LON [ELEVATION]"."""
    parts = [part for part in re.split(r"[,;\s]+", text.strip().replace("−", "-")) if part]
    try:
        numbers = [float(part) for part in parts]
    except ValueError:
        numbers = []
    if len(numbers) not in (2, 3):
        raise InputError(
            f'--site "{text}": give latitude and longitude in degrees, north and east positive, and if you like metres '
            'above the sea, such as "50.1 10.2 450".'
        )
    return dict(zip(("latitude_deg", "longitude_deg", "elevation_m"), numbers, strict=False))


def _horizon(text: str) -> float | list[list[float]]:
    """Read one altitude, or azimuth:altitude pairs."""
    try:
        if ":" not in text:
            return float(text.replace("−", "-"))
        return [[float(part) for part in _pair(item)] for item in text.replace("−", "-").split(",") if item.strip()]
    except ValueError as error:
        raise InputError(
            f'--horizon "{text}": give one altitude in degrees, such as 25, or azimuth:altitude pairs in ascending '
            "azimuth, such as 0:20,90:35,180:15."
        ) from error


def _pair(item: str) -> tuple[str, str]:
    azimuth, altitude = item.split(":")
    return azimuth, altitude


_OPTIONS = {
    "site.latitude_deg": "--site (latitude)",
    "site.longitude_deg": "--site (longitude)",
    "site.elevation_m": "--site (elevation)",
    "site.horizon_deg": "--horizon",
    "site.time_zone": "--time-zone",
}


def _by_option(error: RigError) -> str:
    """Name the option instead of the rig file's key."""
    sentences = []
    for fault in error.faults:
        key, _, rest = fault.partition(": ")
        sentences.append(f"{_OPTIONS.get(key, key)}: {rest}{'' if rest.endswith('?') else '.'}")
    return " ".join(sentences)
