"""`check`: one target, one rig, one star source → one result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.angles.acceptance import direction_to_turn, turn_to_camera
from guidestar.field import geometry
from guidestar.field.acceptance import Acceptance, accepting
from guidestar.field.asked import Question, answer
from guidestar.field.expected import expected
from guidestar.field.hints import hints
from guidestar.field.light import USUAL_EXPOSURES_S, RigLight, star_light
from guidestar.field.nearby import NearbyStars, stars_around
from guidestar.field.result import (
    CheckResult,
    Expected,
    GuideStar,
    StarLight,
    StarsUsed,
    Surroundings,
    Target,
    Usable,
    UsableRange,
)
from guidestar.field.settings import Sweep, setting
from guidestar.optics.guidefield import half_planes
from guidestar.rig import Rig
from guidestar.signal.saturation import peak_fill
from guidestar.sky import frames
from guidestar.sky.place import Place
from guidestar.stars.flags import SPOILED, flag_names
from guidestar.stars.source import StarSource

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_LOOKS_PER_ARC = 33


def check(
    place: Place, rig: Rig, source: StarSource, *, epoch_year: float, question: Question | None = None
) -> CheckResult:
    """Find the camera angles at which the prism shows the guide camera enough stars.

    Parameters
    ----------
    place : Place
        The target, ICRS.
    rig : Rig
        Telescope, cameras and prism.
    source : StarSource
        Where the stars come from.
    epoch_year : float
        Julian year to which the stars are moved.
    question : Question, optional
        One framing to judge besides.

    Raises
    ------
    InputError
        If nothing is left of the guide field.
    DataError
        If the star source cannot be read.
    """
    field, light, accepts = accepting(rig)
    nearby = stars_around(source, place.ra_deg, place.dec_deg, rig, field.outer_mm + accepts.accuracy_mm, epoch_year)
    swept = sweep(rig, nearby, accepts, light)
    flip_safe = _flip_safe(swept)
    further = expected(place, swept, source, field, accepts)
    return CheckResult(
        target=target_of(place),
        epoch_year=epoch_year,
        rig=rig,
        field=field,
        stars=_stars_used(source, nearby, accepts),
        usable=_usable(swept, flip_safe, further),
        ranges=tuple(_range(swept, flip_safe, start, end) for start, end in swept.usable),
        best=setting(swept, swept.usable),
        best_sure=setting(swept, swept.sure),
        best_flip_safe=None if flip_safe is None else setting(swept, flip_safe, twin=True),
        guide_stars=_guide_stars(swept),
        asked=None if question is None else answer(swept, question),
        hints=() if len(swept.usable) else hints(rig, nearby, accepts),
        warnings=tuple(_warnings(rig, source, further)),
        surroundings=_surroundings(swept),
        exposure_s=None if light is None else light.setup.exposure_s,
        expected=further,
    )


def check_at_shortest_exposure(
    place: Place, rig: Rig, source: StarSource, *, epoch_year: float, question: Question | None = None
) -> CheckResult:
    """Do as `check` at the shortest usual exposure that makes the asked framing, or any camera angle, usable.

    Where none does, the answer is that of the longest, with a warning.
    """
    for exposure in USUAL_EXPOSURES_S:
        tried = rig.with_values({"guiding.exposure_s": exposure})
        result = check(place, tried, source, epoch_year=epoch_year, question=question)
        enough = bool(result.usable.angles_deg) if result.asked is None else result.asked.usable
        if enough:
            return replace(result, exposure_chosen=True)
    what = "any camera angle" if question is None else f"the camera angle {question.angle_deg:g}°"
    longest = f"{USUAL_EXPOSURES_S[-1]:g} s"
    warning = f"No usual exposure up to {longest} makes {what} usable; this is the answer for {longest}."
    return replace(result, exposure_chosen=True, warnings=(*result.warnings, warning))


def sweep(rig: Rig, nearby: NearbyStars, accepts: Acceptance, light: RigLight | None) -> Sweep:
    """Return each star's own camera angles and the sure angles of all together."""
    mirrored = rig.camera.mirrored
    magnitudes = nearby.table.g_mag
    owner, arcs = accepts.arcs(nearby.radius_mm, magnitudes)
    turns = direction_to_turn(nearby.phase_deg, owner, arcs)
    sure = accepts.sure_turns(nearby.radius_mm, magnitudes, nearby.phase_deg, rig.guiding.min_stars)
    return Sweep(
        rig=rig,
        nearby=nearby,
        star=owner,
        arcs=turn_to_camera(turns, mirrored),
        sure=circular.at_least(turn_to_camera(sure, mirrored)),
        on_sensor=half_planes(_visible(rig, light)),
        light=light,
        spoiled=_spoiled(nearby, light),
    )


def _visible(rig: Rig, light: RigLight | None) -> FloatArray:
    """Return the outline of what the guide camera can see at all; with the light model T decides besides."""
    outline = geometry.field_polygon if light is None else geometry.sensor_polygon
    return outline(rig, edge_margin_mm=0.0)


def _spoiled(nearby: NearbyStars, light: RigLight | None) -> NDArray[np.bool_]:
    """Return which stars may be no clean single image: listed as double or close, or saturated where best lit."""
    spoiled = (nearby.table.flags & int(SPOILED)) != 0
    if light is not None:
        spoiled |= peak_fill(nearby.table.g_mag, light.grid_throughput.max(), light.setup) >= 1.0
    return np.asarray(spoiled)


def _flip_safe(swept: Sweep) -> FloatArray | None:
    """Return the camera angles usable here and half a turn away; None for a mount that does not flip."""
    if not swept.rig.mount.flips:
        return None
    return circular.intersection(swept.usable, circular.turned(swept.usable, 180.0))


def target_of(place: Place) -> Target:
    """Return a place with its galactic coordinates."""
    l_deg, b_deg = frames.icrs_to_galactic(place.ra_deg, place.dec_deg)
    return Target(place.name, place.ra_deg, place.dec_deg, float(l_deg), float(b_deg))


def _stars_used(source: StarSource, nearby: NearbyStars, accepts: Acceptance) -> StarsUsed:
    in_ring = (nearby.radius_mm >= accepts.inner_mm) & (nearby.radius_mm <= accepts.outer_mm)
    bright = nearby.table.g_mag <= accepts.faintest_mag
    return StarsUsed(
        source=source.name,
        band=source.band,
        complete_to_mag=source.complete_to_mag,
        faintest_mag=accepts.faintest_mag,
        candidates=int(np.count_nonzero(in_ring & bright)),
    )


def _usable(swept: Sweep, flip_safe: FloatArray | None, further: Expected | None) -> Usable:
    fraction = circular.total_deg(swept.usable) / 360.0
    return Usable(
        fraction=fraction,
        angles_deg=circular.as_tuples(swept.usable),
        sure_fraction=circular.total_deg(swept.sure) / 360.0,
        sure_angles_deg=circular.as_tuples(swept.sure),
        flip_safe_fraction=None if flip_safe is None else circular.total_deg(flip_safe) / 360.0,
        flip_safe_angles_deg=None if flip_safe is None else circular.as_tuples(flip_safe),
        expected_fraction=fraction if further is None else further.fraction,
    )


def _range(swept: Sweep, flip_safe: FloatArray | None, start: float, end: float) -> UsableRange:
    own = np.array([[start, end]])
    stars = swept.stars_within(start, end)
    return UsableRange(
        start_deg=float(start),
        end_deg=float(end),
        sure_deg=circular.total_deg(circular.intersection(own, swept.sure)),
        brightest_id=swept.nearby.table.names(int(stars[0])),
        brightest_mag=float(swept.nearby.table.g_mag[stars[0]]),
        star_count=len(stars),
        flip_safe=None if flip_safe is None else _share(own, flip_safe),
        settable=bool(end - start >= 2 * swept.rig.guiding.rotation_accuracy_deg),
    )


def _share(own: FloatArray, flip_safe: FloatArray) -> Literal["all", "part", "none"]:
    common = circular.total_deg(circular.intersection(own, flip_safe))
    if common <= 0:
        return "none"
    return "all" if common >= circular.total_deg(own) - circular.SLIVER_DEG else "part"


def _guide_stars(swept: Sweep) -> tuple[GuideStar, ...]:
    """Return every star that is usable at some angle, brightest first."""
    stars, firsts = np.unique(swept.star, return_index=True)
    own_arcs = np.split(swept.arcs, firsts[1:])
    lights = _best_lights(swept, firsts, stars)
    order = np.argsort(swept.nearby.table.g_mag[stars], kind="stable")
    return tuple(_guide_star(swept, int(stars[i]), own_arcs[i], lights[i]) for i in order)


def _guide_star(swept: Sweep, i: int, arcs: FloatArray, light: StarLight | None) -> GuideStar:
    nearby, table = swept.nearby, swept.nearby.table
    saturated = ("saturated",) if light is not None and light.peak_fill >= 1.0 else ()
    return GuideStar(
        id=table.names(i),
        ra_deg=float(table.ra_deg[i]),
        dec_deg=float(table.dec_deg[i]),
        g_mag=float(table.g_mag[i]),
        v_mag=float(table.v_mag[i]),
        separation_arcmin=geometry.radius_to_arcmin(float(nearby.radius_mm[i]), swept.rig.telescope.focal_length_mm),
        position_angle_deg=float(nearby.position_angle_deg[i]),
        radius_mm=float(nearby.radius_mm[i]),
        angles_deg=circular.as_tuples(circular.at_least(arcs)),
        flags=flag_names(int(table.flags[i])) + saturated,
        light=light,
    )


def _best_lights(swept: Sweep, firsts: IntArray, stars: IntArray) -> Sequence[StarLight | None]:
    """Return what the guide camera gets of each star at the best lit of its camera angles, to about a degree.

    `firsts`: where each star's own arcs begin in the sweep.
    """
    if swept.light is None or not len(stars):
        return [None] * len(stars)
    angles = np.linspace(swept.arcs[:, 0], swept.arcs[:, 1], _LOOKS_PER_ARC, axis=1)
    turns = -angles if swept.rig.camera.mirrored else angles
    direction = np.radians(swept.nearby.phase_deg[swept.star, None] - turns)
    x, y = (swept.nearby.radius_mm[swept.star, None] * f(direction) for f in (np.sin, np.cos))
    lit = swept.light.transmission(x, y)
    best_look = np.argmax(lit, axis=1)
    best_lit = lit[np.arange(len(lit)), best_look]
    by_star = [first + int(np.argmax(part)) for first, part in zip(firsts, np.split(best_lit, firsts[1:]), strict=True)]
    looks = best_look[by_star]
    return star_light(swept.light, swept.nearby.table.g_mag[stars], x[by_star, looks], y[by_star, looks])


def _surroundings(swept: Sweep) -> Surroundings:
    nearby = swept.nearby
    usable = np.zeros(len(nearby), dtype=np.bool_)
    usable[swept.star] = True
    return Surroundings(nearby.x_mm, nearby.y_mm, nearby.table.g_mag, usable)


def _warnings(rig: Rig, source: StarSource, further: Expected | None) -> Sequence[str]:
    """Return what the person should know before trusting the answer."""
    found = list(rig.warnings)
    limit = rig.guiding.faintest_mag
    if limit is not None and further is not None and further.mostly_unlisted:
        found.append(
            f"You ask for stars to {source.band} {limit:g}, but {source.name} is complete only to {source.band} "
            f"{source.complete_to_mag:g}: by star counts, most of the fainter stars that are there are not counted."
        )
    return found
