"""Which sky and how deep `guidestar stars fetch` is to bring, and why: from its options."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from guidestar.errors import InputError

if TYPE_CHECKING:
    from guidestar.sky.regions import Region

_DEFAULT_G: Final = 16.0
_DEFAULT_RADIUS_DEG: Final = 1.0
_FAINTEST_G: Final = 21.0


@dataclass(frozen=True)
class Wanted:
    """A region and a depth; `radius_deg` around targets, None for other kinds of region; `why` as sentences."""

    region: Region
    faintest_mag: float
    radius_deg: float | None
    why: tuple[str, ...]


@dataclass(frozen=True)
class _Needs:
    radius_deg: float
    faintest_mag: float
    why_radius: str = ""
    why_depth: str = ""


def wanted(target: str, options: dict[str, Any]) -> Wanted:
    """Return what the options ask for.

    Raises
    ------
    InputError
        No sky or more than one was asked for, an option has an impossible value, a target or the rig cannot be used.
    """
    from guidestar.sky import regions

    ways = (bool(target), bool(options["targets"]), options["sky"], options["declination"] is not None)
    if sum(ways) != 1:
        raise InputError("Say which sky: one TARGET, --targets FILE, --declination FROM TO, or --sky.")
    needs = _needs(options)
    depth = (needs.why_depth,) if needs.why_depth else ()
    if options["sky"]:
        return Wanted(regions.whole_sky(), needs.faintest_mag, None, depth)
    if options["declination"] is not None:
        return Wanted(_band(*options["declination"]), needs.faintest_mag, None, depth)
    places = [target] if target else _listed(options["targets"])
    region = regions.union(*(_around(text, needs.radius_deg) for text in places))
    why = (*depth, *((needs.why_radius,) if needs.why_radius else ()))
    return Wanted(region, needs.faintest_mag, needs.radius_deg, why)


def positive(value: float, option: str, unit: str) -> float:
    """Return a value above 0 and finite, or raise an InputError that names its option."""
    if not 0.0 < value < float("inf"):
        raise InputError(f"{option} {value:g}: must be above 0 {unit}.")
    return float(value)


def _needs(options: dict[str, Any]) -> _Needs:
    needs = _of_rig(options["rig_path"]) if options["rig_path"] else _Needs(_DEFAULT_RADIUS_DEG, _DEFAULT_G)
    radius_deg, faintest_mag = needs.radius_deg, needs.faintest_mag
    why_radius, why_depth = needs.why_radius, needs.why_depth
    if options["radius_deg"] is not None:
        radius_deg, why_radius = positive(options["radius_deg"], "--radius-deg", "degrees"), ""
    if options["faintest_mag"] is not None:
        faintest_mag, why_depth = options["faintest_mag"], ""
    if not 0.0 < faintest_mag <= _FAINTEST_G:
        raise InputError(f"--faintest-mag {faintest_mag:g}: Gaia's magnitudes G go from about 2 to 21.")
    return _Needs(radius_deg, round(faintest_mag, 2), why_radius, why_depth)


def _of_rig(path: str) -> _Needs:
    """Return what a rig needs, with the reasons."""
    from guidestar.field.needs import star_needs
    from guidestar.rig import read_rig

    rig = read_rig(path)
    needs = star_needs(rig)
    # To the next tenth, so that a slightly longer exposure later on does not ask for all of it again.
    depth = min(round(-(-needs.faintest_mag // 0.1) * 0.1, 2), _FAINTEST_G)
    if rig.guiding.faintest_mag is None:
        reach = f'where its field is best lit, "{rig.name}" reaches G {needs.faintest_mag:.2f} in '
        reach += f"{rig.guiding.exposure_s:g} s at airmass {rig.guiding.airmass:g}"
    else:
        reach = f'"{rig.name}" has the fixed limit G {needs.faintest_mag:g}'
    if needs.faintest_mag > _FAINTEST_G:
        reach += ", and Gaia ends at about G 21"
    wide, near = 60.0 * needs.wide_radius_deg, 60.0 * needs.radius_deg
    radius = (
        f"Radius {wide:.0f}′ around a target: the guide field sweeps the sky out to {near:.0f}′ as the camera turns, "
        "and the nearest misses just outside are looked at too."
    )
    return _Needs(needs.wide_radius_deg, depth, radius, f"Stars to G {depth:g}: {reach}.")


def _band(low: float, high: float) -> Region:
    from guidestar.sky import regions

    if not -90.0 <= low < high <= 90.0:
        raise InputError(f"--declination {low:g} {high:g}: give two values from −90 to 90, the lower one first.")
    return regions.declination_band(low, high)


def _listed(path: str) -> list[str]:
    from guidestar.sky.targetlist import read_targets

    return [row.require_text() for row in read_targets(path)]


def _around(text: str, radius_deg: float) -> Region:
    from guidestar.sky import regions
    from guidestar.sky.place import place

    there = place(text)
    return regions.around(there.ra_deg, there.dec_deg, radius_deg)
