"""How bright the sky is: the dark sky by altitude, and moonlight on top of it.

Krisciunas & Schaefer 1991 (PASP 103, 1033), for the V band: "eq." below is theirs. Their comparison with measured skies
agrees to 8–23 %. It is meant for a clear night without twilight, a Moon above the horizon and a place at least 10° from
it; nearer, the true sky is brighter than this. The Moon's extra brightness within 7° of full is left out. The dark
sky's rise towards the horizon is that of natural airglow: above a city the true one is steeper.

Surface brightness in nanolamberts (nL) or V magnitudes a square arcsecond; angles in degrees; arrays broadcast.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

LEAST_SEPARATION_DEG = 10.0
"""Nearer to the Moon than this the formula does not hold."""


def to_nanolamberts(v_mag_arcsec2: ArrayLike) -> FloatArray:
    """Return the surface brightness in nL of V magnitudes a square arcsecond (as Garstang 1986)."""
    return np.asarray(34.08 * np.exp(20.7233 - 0.92104 * np.asarray(v_mag_arcsec2, dtype=np.float64)))


def to_magnitudes(nanolamberts: ArrayLike) -> FloatArray:
    """Return V magnitudes a square arcsecond of a surface brightness in nL, more than 0."""
    return np.asarray((20.7233 - np.log(np.asarray(nanolamberts, dtype=np.float64) / 34.08)) / 0.92104)


def scattering_airmass(altitude_deg: ArrayLike) -> FloatArray:
    """Return the way through the scattering air, in zenith ones (eq. 3): (1 − 0.96 sin² z)^−½, at most 5."""
    cos_altitude = np.cos(np.radians(np.maximum(altitude_deg, 0.0)))
    return np.asarray((1.0 - 0.96 * cos_altitude**2) ** -0.5)


def dark_nanolamberts(zenith_v_mag_arcsec2: ArrayLike, altitude_deg: ArrayLike, extinction_mag: float) -> FloatArray:
    """Return the moonless sky at an altitude, given the one at the zenith: B₀·10^(−0.4 k (X − 1))·X, nL."""
    way = scattering_airmass(altitude_deg)
    return np.asarray(to_nanolamberts(zenith_v_mag_arcsec2) * 10.0 ** (-0.4 * extinction_mag * (way - 1.0)) * way)


def moon_v_mag(phase_deg: ArrayLike) -> FloatArray:
    """Return the Moon's V magnitude by its phase angle, 0 full to 180 new (eq. 9)."""
    phase = np.abs(np.asarray(phase_deg, dtype=np.float64))
    return np.asarray(-12.73 + 0.026 * phase + 4e-9 * phase**4)


def phase_angle_deg(elongation_deg: ArrayLike, sun_km: ArrayLike, moon_km: ArrayLike) -> FloatArray:
    """Return the Moon's phase angle, 0 full to 180 new, from its distance in the sky from the Sun and both distances.

    tan i = R sin ψ/(Δ − R cos ψ), R the Sun's distance, Δ the Moon's (Meeus, Astronomical Algorithms, chapter 48).
    """
    elongation, sun = np.radians(elongation_deg), np.asarray(sun_km, dtype=np.float64)
    toward = np.asarray(moon_km, dtype=np.float64) - sun * np.cos(elongation)
    return np.asarray(np.degrees(np.arctan2(sun * np.sin(elongation), toward)))


def moonlight_nanolamberts(
    altitude_deg: ArrayLike,
    moon_altitude_deg: ArrayLike,
    separation_deg: ArrayLike,
    phase_deg: ArrayLike,
    extinction_mag: float,
) -> FloatArray:
    """Return the moonlight that the air scatters towards the observer (by eqs. 8, 9 and 21), nL.

    Parameters
    ----------
    altitude_deg, moon_altitude_deg : array_like
        Of the place looked at and of the Moon; nothing comes from a Moon below the horizon.
    separation_deg : array_like
        Between the two, 10 or more (see the module).
    phase_deg : array_like
        The Moon's phase angle.
    extinction_mag : float
        V magnitudes an airmass.
    """
    separation = np.asarray(separation_deg, dtype=np.float64)
    illuminance = 10.0 ** (-0.4 * (moon_v_mag(phase_deg) + 16.57))
    scattered = 10.0**5.36 * (1.06 + np.cos(np.radians(separation)) ** 2) + 10.0 ** (6.15 - separation / 40.0)
    dimmed = 10.0 ** (-0.4 * extinction_mag * scattering_airmass(moon_altitude_deg))
    gathered = 1.0 - 10.0 ** (-0.4 * extinction_mag * scattering_airmass(altitude_deg))
    return np.asarray(np.where(np.asarray(moon_altitude_deg) > 0.0, scattered * illuminance * dimmed * gathered, 0.0))
