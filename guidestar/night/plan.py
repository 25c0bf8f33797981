"""`night`: targets, one rig, one evening at one site → a plan for each target, the best of the night first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.constants import SEEING_AIRMASS_POWER
from guidestar.field.check import target_of
from guidestar.night import safety, window
from guidestar.night.choosing import Angles, angles_of, choose
from guidestar.night.clock import moment_of
from guidestar.night.course import Course, course
from guidestar.night.darkness import curve_of, observer_of, tonight
from guidestar.night.explain import no_window, notes
from guidestar.night.ground import Ground, ground
from guidestar.night.result import Dark, Moment, NightResult, TargetNight
from guidestar.night.runs import Serving, runs
from guidestar.night.sides import sides, turning
from guidestar.rig import Rig, Site
from guidestar.sky.ephemeris import SkyTracks, Track, star_tracks
from guidestar.sky.place import Place
from guidestar.stars.source import StarSource

FloatArray = NDArray[np.float64]

_RANKS = {"sure": 0, "usable": 1, "partly": 2, "never": 3}


@dataclass(frozen=True)
class Wanted:
    """One target to plan: where it is, which stars to ask, its row in a list if it comes from one."""

    place: Place
    source: StarSource
    row: int | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Evening:
    """What all targets of an evening share."""

    rig: Rig
    site: Site
    least_altitude_deg: float
    asked_deg: float | None
    epoch_year: float
    dark: Dark
    sky: SkyTracks

    @property
    def dark_pairs(self) -> FloatArray:
        """The dark spans, Unix seconds (n, 2)."""
        pairs = [(span.start.timestamp(), span.end.timestamp()) for span in self.dark.spans]
        return np.array(pairs, dtype=np.float64).reshape(-1, 2)


def plan(
    wanted: Sequence[Wanted],
    rig: Rig,
    site: Site,
    evening: date,
    *,
    epoch_year: float,
    least_altitude_deg: float = 0.0,
    asked_deg: float | None = None,
) -> NightResult:
    """Plan an evening's targets.

    Parameters
    ----------
    wanted : sequence of Wanted
        At least one.
    rig, site
        What is used and where; the rig's own site is not looked at.
    evening : date
        The evening's date, as the site's clocks have it.
    epoch_year : float
        Julian year to which the stars are moved.
    least_altitude_deg : float
        Besides the site's horizon line.
    asked_deg : float, optional
        Plan for this camera angle (as it stands when the first window begins) instead of the best.

    Raises
    ------
    InputError
        Nothing is left of the guide field, or no light reaches it.
    DataError
        A star source cannot be read.
    """
    dark, sky = tonight(evening, site)
    shared = _Evening(rig, site, least_altitude_deg, asked_deg, epoch_year, dark, sky)
    places = [item.place for item in wanted]
    ra, dec = [place.ra_deg for place in places], [place.dec_deg for place in places]
    tracks = star_tracks(ra, dec, sky.sun.unix_s, observer_of(site))
    planned = [_one(shared, item, track) for item, track in zip(wanted, tracks, strict=True)]
    return NightResult(dark, site, rig, least_altitude_deg, tuple(sorted(planned, key=_rank)))


def _rank(night: TargetNight) -> tuple[float, float, int, float, int]:
    """Order targets: longest with a star, longest up, how well the angle holds, its margin, the list's own order."""
    holds, margin = (3, 0.0) if night.choice is None else (_RANKS[night.choice.holds], night.choice.margin_deg)
    hours = (round(night.guidable_hours, 2), round(night.hours, 2))
    return (-hours[0], -hours[1], holds, -margin, night.row or 0)


def _one(shared: _Evening, item: Wanted, track: Track) -> TargetNight:
    """Plan one target."""
    place, whole = item.place, (float(track.unix_s[0]), float(track.unix_s[-1]))
    up = window.up_spans(track, shared.site, shared.least_altitude_deg)
    pairs = window.windows(up, shared.dark_pairs)
    windows = window.named(pairs, shared.dark_pairs, whole)
    crossings = window.meridian(track, shared.rig.mount, shared.site.latitude_deg)
    transit = _nearest(crossings.upper, pairs.mean() if len(pairs) else sum(whole) / 2.0)
    bare = TargetNight(
        target=target_of(place),
        row=item.row,
        curve=curve_of(track),
        windows=windows,
        no_window=None if windows else no_window(shared.dark, shared.site, shared.least_altitude_deg, track, up),
        transit=None if transit is None else moment_of(transit),
        transit_altitude_deg=None if transit is None else float(track.at(transit)[0][0]),
        flip=_flip(crossings.flips, pairs),
        moon_least_separation_deg=None,
        sun_separation_deg=safety.sun_separation_deg(track, shared.sky),
        moments=(),
        usable=(),
        sure=(),
        choice=None,
        runs=(),
        sides=(),
        turning=None,
        warnings=safety.warnings(track, shared.sky, windows),
        notes=item.notes,
    )
    return _guided(shared, item, bare, track, pairs) if windows else bare


def _guided(shared: _Evening, item: Wanted, bare: TargetNight, track: Track, pairs: FloatArray) -> TargetNight:
    """Add the stars to a target's hours."""
    rig, place = shared.rig, item.place
    way = course(rig, shared.site, (place.ra_deg, place.dec_deg), track, shared.sky, pairs)
    base = ground(place, rig, item.source, shared.epoch_year)
    angles = angles_of(base, way)
    usable, sure = angles.held(way, np.arange(len(way.parts)))
    choice = choose(way, angles, usable, sure, shared.asked_deg)
    if rig.mount.kind == "altaz":
        choice = replace(choice, roll_deg=float((choice.angle_deg - way.at.zenith_angle_deg[0]) % 360.0))
    moments = _moments(base, way, angles)
    serving = Serving(base, way.parts, way.cells, angles.arcs, angles.sweep.spoiled, way.sides)
    planned = replace(
        bare,
        moon_least_separation_deg=_least_moon(way),
        moments=moments,
        usable=circular.as_tuples(usable),
        sure=circular.as_tuples(sure),
        choice=choice,
        runs=runs(serving, choice.angle_deg),
        sides=sides(place, rig, item.source, shared.epoch_year, way, angles, choice, moments),
        turning=turning(rig, shared.site, way),
    )
    return replace(planned, notes=(*notes(planned, rig), *item.notes))


def _moments(base: Ground, way: Course, angles: Angles) -> tuple[Moment, ...]:
    at, rig = way.at, base.rig
    reach = base.faintest_mag(at.airmass, at.sky_v)
    found = []
    for i in range(len(at.unix_s)):
        part = way.part_of(i)
        found.append(
            Moment(
                time=moment_of(at.unix_s[i]),
                altitude_deg=float(at.altitude_deg[i]),
                azimuth_deg=float(at.azimuth_deg[i]),
                airmass=float(at.airmass[i]),
                extinction_mag=float(at.airmass[i]) * rig.sky.extinction_mag,
                fwhm_arcsec=rig.telescope.fwhm_arcsec * float(at.airmass[i]) ** SEEING_AIRMASS_POWER,
                parallactic_deg=float((at.zenith_angle_deg[i] + 180.0) % 360.0 - 180.0),
                moon_altitude_deg=float(at.moon_altitude_deg[i]),
                moon_separation_deg=float(at.moon_separation_deg[i]),
                sky_v_mag_arcsec2=float(at.sky_v[i]),
                moonlight_mag=float(at.moonlight_mag[i]),
                faintest_mag=float(reach[i]),
                usable_fraction=circular.total_deg(angles.usable_of[part]) / 360.0,
                flipped=bool(way.parts.flipped[part]),
            )
        )
    return tuple(found)


def _least_moon(way: Course) -> float | None:
    """Return how near the Moon comes while it is up, None if it is not."""
    up = way.at.moon_altitude_deg > 0.0
    return float(way.at.moon_separation_deg[up].min()) if np.any(up) else None


def _nearest(marks: FloatArray, to: float) -> float | None:
    return float(marks[np.argmin(np.abs(marks - to))]) if len(marks) else None


def _flip(flips: FloatArray, pairs: FloatArray) -> datetime | None:
    """Return the first flip within the windows."""
    inside = [flip for flip in flips if np.any((pairs[:, 0] < flip) & (flip < pairs[:, 1]))]
    return moment_of(inside[0]) if inside else None
