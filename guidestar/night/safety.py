"""Warnings that come before everything else: a target near the Sun, or a plan that runs into dawn towards it."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.night import spans
from guidestar.night.conditions import separation_deg
from guidestar.night.darkness import EDGE_AT_HORIZON_DEG, height_above
from guidestar.night.result import Window
from guidestar.sky.ephemeris import SkyTracks, Track

FloatArray = NDArray[np.float64]

NEAR_SUN_DEG: Final = 40.0
"""A target this near to the Sun is warned about if it can be pointed at by day."""
DAWN_SIDE_DEG: Final = 60.0
"""A plan that runs to dawn with the Sun to rise this near to the target is warned about (own choice, no source)."""

NEVER: Final = (
    "Never point a telescope, a finder or a camera at or near the Sun without certified full-aperture solar "
    "filters: a moment of it blinds an eye for good and destroys equipment. Cover the optics before sunrise."
)


def sun_separation_deg(track: Track, sky: SkyTracks) -> float:
    """Return a target's least distance from the Sun in the 24 hours looked at, degrees."""
    return float(separation_deg(track, sky.sun, track.unix_s).min())


def warnings(track: Track, sky: SkyTracks, windows: tuple[Window, ...]) -> tuple[str, ...]:
    """Return the warnings for one target."""
    found = []
    least = sun_separation_deg(track, sky)
    if least < NEAR_SUN_DEG and _up_by_day(track, sky):
        found.append(f"This target stands only {least:.0f}° from the Sun. {NEVER}")
    elif windows and windows[-1].ends in ("dawn", "night ends"):
        at_dawn = separation_deg(track, sky.sun, np.array([windows[-1].end.timestamp()]))[0]
        if at_dawn < DAWN_SIDE_DEG:
            found.append(
                f"This plan runs into dawn, and the Sun rises {at_dawn:.0f}° from where the telescope then points: "
                f"stop and turn it away in time. {NEVER}"
            )
    return tuple(found)


def _up_by_day(track: Track, sky: SkyTracks) -> bool:
    """Tell whether a target is above the horizon while the Sun is."""
    start, end = track.unix_s[0], track.unix_s[-1]
    day = spans.above(height_above(sky.sun, EDGE_AT_HORIZON_DEG), start, end)
    up = spans.above(height_above(track, 0.0), start, end)
    return len(spans.common(day, up)) > 0
