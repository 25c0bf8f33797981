"""The air and the sky between a target and the guide camera, moment by moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.rig import Rig
from guidestar.sky import altaz, moonlight
from guidestar.sky.airmass import airmass_at
from guidestar.sky.ephemeris import SkyTracks, Track

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Conditions:
    """What a target is seen through at moments; arrays of shape (n,).

    `zenith_angle_deg`: parallactic angle, position angle of the zenith from the target, unwrapped so that it runs on
    without jumps. `sky_v` with moonlight, V mag/arcsec² at the target; `moonlight_mag`: what the Moon adds to that.
    """

    unix_s: FloatArray
    altitude_deg: FloatArray
    azimuth_deg: FloatArray
    airmass: FloatArray
    zenith_angle_deg: FloatArray
    moon_altitude_deg: FloatArray
    moon_separation_deg: FloatArray
    sky_v: FloatArray
    moonlight_mag: FloatArray


def conditions(
    rig: Rig, target_deg: tuple[float, float], track: Track, sky: SkyTracks, unix_s: FloatArray
) -> Conditions:
    """Return what a target (ICRS degrees) is seen through at moments.

    The rig's sky brightness is that at the zenith without a Moon; its extinction, meant for G, does for V here.
    """
    altitude, azimuth = track.at(unix_s)
    moon_altitude, _ = sky.moon.at(unix_s)
    separation = separation_deg(track, sky.moon, unix_s)
    phase = np.interp(unix_s, sky.moon.unix_s, sky.moon_phase_deg)
    extinction = rig.sky.extinction_mag
    dark = moonlight.dark_nanolamberts(rig.sky.brightness_mag_arcsec2, altitude, extinction)
    lit = moonlight.moonlight_nanolamberts(altitude, moon_altitude, separation, phase, extinction)
    sky_v = moonlight.to_magnitudes(dark + lit)
    return Conditions(
        unix_s=unix_s,
        altitude_deg=altitude,
        azimuth_deg=azimuth,
        airmass=airmass_at(altitude),
        zenith_angle_deg=zenith_angles_deg(target_deg, sky.zenith, unix_s),
        moon_altitude_deg=moon_altitude,
        moon_separation_deg=separation,
        sky_v=sky_v,
        moonlight_mag=moonlight.to_magnitudes(dark) - sky_v,
    )


def separation_deg(one: Track, other: Track, unix_s: FloatArray) -> FloatArray:
    """Return how far two bodies are apart in the sky at moments."""
    a, b = one.vectors_at(unix_s), other.vectors_at(unix_s)
    across = np.linalg.norm(np.cross(a, b), axis=1)
    return np.asarray(np.degrees(np.arctan2(across, np.sum(a * b, axis=1))))


def zenith_angles_deg(target_deg: tuple[float, float], zenith: Track, unix_s: FloatArray) -> FloatArray:
    """Return the position angle of the zenith from a target at moments in order, unwrapped."""
    dec, ra = zenith.at(unix_s)
    angle = altaz.zenith_angle_deg(*target_deg, ra, dec)
    return np.asarray(np.unwrap(angle, period=360.0))
