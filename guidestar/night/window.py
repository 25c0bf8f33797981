"""When a target can be imaged: dark, above the horizon line and the least altitude; its transits and the flips."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.night import spans
from guidestar.night.clock import moment_of
from guidestar.night.result import Bound, Window
from guidestar.rig import Mount, Site
from guidestar.sky import altaz
from guidestar.sky.ephemeris import Track

FloatArray = NDArray[np.float64]

_SAME_MOMENT_S: Final = 1.0
_SHORTEST_S: Final = 60.0
"""A window of less than a minute is none."""


@dataclass(frozen=True)
class Meridian:
    """A target's transits and a German mount's flips within the 24 hours looked at, Unix seconds.

    `flips`: moments at which the mount turns over.
    """

    upper: FloatArray
    lower: FloatArray
    flips: FloatArray


def horizon_line(site: Site, azimuth_deg: FloatArray) -> FloatArray:
    """Return the altitude of the site's horizon at azimuths: straight lines between the points, round past north."""
    line = site.horizon_deg
    if isinstance(line, float | int):
        return np.full(np.shape(azimuth_deg), float(line))
    azimuth, altitude = (np.array(column, dtype=np.float64) for column in zip(*line, strict=True))
    around = np.concatenate((azimuth - 360.0, azimuth, azimuth + 360.0))
    return np.asarray(np.interp(azimuth_deg, around, np.tile(altitude, 3)))


def visible(track: Track, site: Site, least_altitude_deg: float) -> spans.Height:
    """Return how far a target is above both the horizon line and the least altitude, as a function of the moment."""

    def height(unix_s: FloatArray) -> FloatArray:
        altitude, azimuth = track.at(unix_s)
        return altitude - np.maximum(horizon_line(site, azimuth), least_altitude_deg)

    return height


def up_spans(track: Track, site: Site, least_altitude_deg: float) -> FloatArray:
    """Return when a target is up in the 24 hours, dark or not, Unix seconds (n, 2)."""
    return spans.above(visible(track, site, least_altitude_deg), track.unix_s[0], track.unix_s[-1])


def windows(up: FloatArray, dark: FloatArray) -> FloatArray:
    """Return when a target is up while it is dark, Unix seconds (n, 2); less than a minute is left out."""
    shared = spans.common(up, dark)
    return shared[shared[:, 1] - shared[:, 0] >= _SHORTEST_S]


def named(pairs: FloatArray, dark: FloatArray, whole: tuple[float, float]) -> tuple[Window, ...]:
    """Return windows with the reasons for which they begin and end."""
    return tuple(
        Window(
            moment_of(start),
            moment_of(end),
            begins=_bound(start, dark[:, 0], whole[0], "dusk", "rises", "night begins"),
            ends=_bound(end, dark[:, 1], whole[1], "dawn", "sets", "night ends"),
        )
        for start, end in pairs
    )


def _bound(at: float, dark: FloatArray, edge: float, by_light: Bound, by_altitude: Bound, by_edge: Bound) -> Bound:
    if abs(at - edge) < _SAME_MOMENT_S:
        return by_edge
    return by_light if len(dark) and np.min(np.abs(dark - at)) < _SAME_MOMENT_S else by_altitude


def meridian(track: Track, mount: Mount, latitude_deg: float) -> Meridian:
    """Return when a target crosses the meridian above and below the pole, and when a German mount turns over.

    Such a mount points east of its own meridian (which lags the true one by `flip_after_min`) with one side up and west
    of it with the other; so it turns over at both crossings.
    """
    start, end = track.unix_s[0], track.unix_s[-1]
    upper, lower = _crossings(track, latitude_deg, 0.0)
    flips = np.empty(0)
    if mount.flips:
        delay_deg = mount.flip_after_min / 60.0 * altaz.SIDEREAL_DEG_PER_HOUR
        flips = np.sort(np.concatenate(_crossings(track, latitude_deg, delay_deg)))
    inside = [marks[(marks > start) & (marks < end)] for marks in (upper, lower, flips)]
    return Meridian(*inside)


def hour_angle_deg(track: Track, latitude_deg: float, unix_s: FloatArray) -> FloatArray:
    """Return a target's hour angle at moments, (−180, 180]."""
    altitude, azimuth = track.at(unix_s)
    return altaz.hour_angle_deg(azimuth, altitude, latitude_deg)


def flipped(track: Track, mount: Mount, latitude_deg: float, unix_s: FloatArray) -> NDArray[np.bool_]:
    """Return whether a German mount has its after-the-flip side up at moments; never for other mounts."""
    if not mount.flips:
        return np.zeros(np.shape(unix_s), dtype=np.bool_)
    delay_deg = mount.flip_after_min / 60.0 * altaz.SIDEREAL_DEG_PER_HOUR
    return np.asarray(np.sin(np.radians(hour_angle_deg(track, latitude_deg, unix_s) - delay_deg)) >= 0.0)


def _crossings(track: Track, latitude_deg: float, past_deg: float) -> tuple[FloatArray, FloatArray]:
    """Return when the hour angle is `past_deg`, and when half a turn more."""

    def east(unix_s: FloatArray) -> FloatArray:
        """Positive while the target is east of that hour circle; the sine is smooth through both crossings."""
        return -np.sin(np.radians(hour_angle_deg(track, latitude_deg, unix_s) - past_deg))

    def west(unix_s: FloatArray) -> FloatArray:
        return -east(unix_s)

    start, end = track.unix_s[0], track.unix_s[-1]
    return spans.falling(east, start, end), spans.falling(west, start, end)
