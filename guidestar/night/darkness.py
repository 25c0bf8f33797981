"""The dark hours of an evening: Sun and Moon at a site."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.night import spans
from guidestar.night.clock import moment_of, noon_before, offset_changes, unix_of
from guidestar.night.result import Curve, Dark, Darkness, Moon, Span, SunDay
from guidestar.rig import Site
from guidestar.sky.airmass import HORIZON_REFRACTION_DEG
from guidestar.sky.ephemeris import Observer, SkyTracks, Track, moments, rotation_known_until, sky_tracks

FloatArray = NDArray[np.float64]

NAUTICAL_DEG: Final = -12.0
ASTRONOMICAL_DEG: Final = -18.0
_RADIUS_DEG: Final = 16.0 / 60.0
"""Half the apparent width of Sun and Moon, as almanacs take it."""
EDGE_AT_HORIZON_DEG: Final = -(_RADIUS_DEG + HORIZON_REFRACTION_DEG)
"""Geometric altitude of the Sun's centre, −50′, when its upper edge is seen on a level horizon."""


def observer_of(site: Site) -> Observer:
    """Return a site as the ephemerides take it."""
    return Observer(site.latitude_deg, site.longitude_deg, site.elevation_m)


def whole_night(evening: date, site: Site) -> FloatArray:
    """Return the moments of the 24 hours that belong to an evening, Unix seconds."""
    start = unix_of(noon_before(evening, site))
    return moments(start, start + 86400.0)


def height_above(track: Track, level_deg: float) -> spans.Height:
    """Return how far a body is above a level altitude, as a function of the moment."""

    def height(unix_s: FloatArray) -> FloatArray:
        return track.at(unix_s)[0] - level_deg

    return height


def dark_hours(evening: date, site: Site, tracks: SkyTracks) -> Dark:
    """Return what an evening's Sun and Moon do at a site.

    `tracks` run through `whole_night`.
    """
    unix_s = tracks.sun.unix_s
    whole = np.array([[unix_s[0], unix_s[-1]]])
    up, nautical_up, astronomical_up = (
        spans.above(height_above(tracks.sun, level), unix_s[0], unix_s[-1])
        for level in (EDGE_AT_HORIZON_DEG, NAUTICAL_DEG, ASTRONOMICAL_DEG)
    )
    nautical, astronomical = (_rest(whole, taken) for taken in (nautical_up, astronomical_up))
    kind: Darkness = "astronomical" if len(astronomical) else "nautical" if len(nautical) else "none"
    counted = {"astronomical": astronomical, "nautical": nautical, "none": spans.NONE}[kind]
    below = _rest(whole, up)
    return Dark(
        evening=evening,
        whole=Span(moment_of(unix_s[0]), moment_of(unix_s[-1])),
        sun=_sun_day(up, whole),
        sunset=_within(below[:, 0], unix_s, 0),
        sunrise=_within(below[:, 1], unix_s, -1),
        lowest_sun_deg=float(curve_of(tracks.sun).altitude_deg.min()),
        nautical=as_spans(nautical),
        astronomical=as_spans(astronomical),
        spans=as_spans(counted),
        kind=kind,
        moon=_moon(tracks, counted),
        notes=tuple(_notes(site, moment_of(unix_s[0]), moment_of(unix_s[-1]))),
    )


@lru_cache(maxsize=4)
def tonight(evening: date, site: Site) -> tuple[Dark, SkyTracks]:
    """Return an evening's dark hours, and the tracks behind them; the last few are remembered."""
    tracks = sky_tracks(whole_night(evening, site), observer_of(site))
    return dark_hours(evening, site, tracks), tracks


def curve_of(track: Track) -> Curve:
    """Return a body's altitudes and azimuths at the moments of its track."""
    altitude, azimuth = track.at(track.unix_s)
    return Curve(track.unix_s, altitude, azimuth)


def as_spans(pairs: FloatArray) -> tuple[Span, ...]:
    """Return spans of Unix seconds as spans of moments."""
    return tuple(Span(moment_of(start), moment_of(end)) for start, end in pairs)


def _rest(whole: FloatArray, taken: FloatArray) -> FloatArray:
    """Return what is left of a span without some others."""
    marks = np.concatenate(([whole[0, 0]], taken.ravel(), [whole[0, 1]])).reshape(-1, 2)
    return marks[marks[:, 1] > marks[:, 0]]


def _sun_day(up: FloatArray, whole: FloatArray) -> SunDay:
    if not len(up):
        return "never rises"
    return "never sets" if spans.total_s(up) >= spans.total_s(whole) else "rises and sets"


def _within(marks: FloatArray, unix_s: FloatArray, which: int) -> datetime | None:
    """Return the first (0) or last (−1) of the moments that are no mere ends of the hours looked at."""
    inside = marks[(marks > unix_s[0]) & (marks < unix_s[-1])]
    return moment_of(inside[which]) if len(inside) else None


def _moon(tracks: SkyTracks, dark: FloatArray) -> Moon:
    unix_s = tracks.moon.unix_s
    up = spans.above(height_above(tracks.moon, EDGE_AT_HORIZON_DEG), unix_s[0], unix_s[-1])
    middle = dark.mean() if len(dark) else unix_s.mean()
    phase = float(np.interp(middle, unix_s, tracks.moon_phase_deg))
    return Moon(
        illuminated=(1.0 + float(np.cos(np.radians(phase)))) / 2.0,
        phase_deg=phase,
        waxing=tracks.moon_waxing,
        rises=_within(up[:, 0], unix_s, 0),
        sets=_within(up[:, 1], unix_s, 0),
        up_while_dark_hours=spans.total_s(spans.common(up, dark)) / 3600.0,
        curve=curve_of(tracks.moon),
    )


def _notes(site: Site, start: datetime, end: datetime) -> list[str]:
    found = []
    changes = offset_changes(site, start, end)
    if changes is not None:
        before, after = (_offset(value) for value in changes)
        found.append(
            f"The clocks change in this night, from UTC{before} to UTC{after}: hours are counted as they pass."
        )
    if unix_of(end) > rotation_known_until():
        found.append(
            "The Earth's rotation is not known that far ahead: times may be off by a second or two, late in the "
            "century by a minute."
        )
    return found


def _offset(value: timedelta) -> str:
    """Write an offset from UTC: +1, −3:30."""
    minutes = round(value.total_seconds() / 60.0)
    hours, rest = divmod(abs(minutes), 60)
    return f"{'−' if minutes < 0 else '+'}{hours}" + (f":{rest:02d}" if rest else "")
