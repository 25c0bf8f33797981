"""Why a target has no hours tonight, and what else the person should know of those it has; as sentences."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from guidestar.night.result import Dark, TargetNight
from guidestar.night.window import horizon_line
from guidestar.rig import Rig, Site
from guidestar.sky.ephemeris import Track
from guidestar.sky.moonlight import LEAST_SEPARATION_DEG

FloatArray = NDArray[np.float64]

_LEVEL_DEG = 1e-6

_BLIND_ALTITUDE_DEG = 85.0
"""Above this an alt-azimuth mount has to turn so fast that it may not follow (common practice, no source)."""


def no_window(dark: Dark, site: Site, least_altitude_deg: float, track: Track, up: FloatArray) -> str:
    """Say why a target has no hours: no darkness, never high enough, or only while it is not dark."""
    if dark.kind == "none":
        return "It does not get dark in this night."
    altitude, azimuth = track.at(track.unix_s)
    highest = float(altitude.max())
    if highest <= 0.0:
        return f"It never rises here: at its highest it is {-highest:.0f}° below the horizon."
    if not len(up):
        return _too_low(altitude, np.maximum(horizon_line(site, azimuth), least_altitude_deg))
    return "It stands high enough only while it is not dark."


def _too_low(altitude_deg: FloatArray, asked_deg: FloatArray) -> str:
    """Say by how much a target that rises stays too low, where above the horizon it comes nearest to what is asked."""
    nearest = int(np.argmax(np.where(altitude_deg > 0.0, altitude_deg - asked_deg, -np.inf)))
    found, asked = _told_apart(float(altitude_deg[nearest]), float(asked_deg[nearest]))
    if np.ptp(asked_deg) < _LEVEL_DEG:
        return f"It stays too low: {found} at its highest, and at least {asked} are asked."
    return f"It stays too low: it comes nearest to your limit at {found}, where at least {asked} are asked."


def _told_apart(low_deg: float, high_deg: float) -> tuple[str, str]:
    """Write two altitudes in whole degrees, or with as many decimals as it takes to see the difference."""
    pairs = [(f"{low_deg:.{digits}f}°", f"{high_deg:.{digits}f}°") for digits in (0, 1, 2)]
    return next((pair for pair in pairs if pair[0] != pair[1]), pairs[-1])


def notes(night: TargetNight, rig: Rig) -> list[str]:
    """Return what else is worth saying of a target's hours."""
    found = []
    lowest, highest = float(night.curve.altitude_deg.min()), float(night.curve.altitude_deg.max())
    if lowest > 0.0:
        found.append(f"It never sets here: {lowest:.0f}° at its lowest.")
    top = max(moment.altitude_deg for moment in night.moments)
    if rig.mount.kind == "altaz" and max(top, highest) > _BLIND_ALTITUDE_DEG and _transits_within(night):
        found.append(
            f"It passes {90.0 - highest:.1f}° from the zenith: an alt-azimuth mount has to turn so fast there that "
            "it may lose it for some minutes."
        )
    near = night.moon_least_separation_deg
    if near is not None and near < LEAST_SEPARATION_DEG:
        found.append(
            f"The Moon comes within {near:.0f}°: that near the sky is brighter than the formula for moonlight says."
        )
    if rig.mount.flips and night.flip is None:
        found.append("The meridian flip does not fall into these hours.")
    return found


def _transits_within(night: TargetNight) -> bool:
    at = night.transit
    return at is not None and any(window.start <= at <= window.end for window in night.windows)
