"""The zenith seen from a target: hour angle, parallactic angle, and how fast the field turns on an alt-azimuth mount.

Degrees throughout; azimuth from north through east; arrays broadcast. The geometry is ERFA's.
"""

from __future__ import annotations

import erfa
import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

SIDEREAL_DEG_PER_HOUR = 15.041067
"""The sky's turning (Earth's rotation against the stars, Aoki et al. 1982)."""


def hour_angle_deg(azimuth_deg: ArrayLike, altitude_deg: ArrayLike, latitude_deg: ArrayLike) -> FloatArray:
    """Return the hour angle of a body, in (−180, 180], west of the meridian positive (SOFA `Ae2hd`)."""
    hour_angle, _ = erfa.ae2hd(*(np.radians(value) for value in (azimuth_deg, altitude_deg, latitude_deg)))
    return np.asarray(np.degrees(hour_angle))


def zenith_angle_deg(
    ra_deg: ArrayLike, dec_deg: ArrayLike, zenith_ra_deg: ArrayLike, zenith_dec_deg: ArrayLike
) -> FloatArray:
    """Return the parallactic angle: position angle of the zenith seen from a place, in (−180, 180].

    Both in the same equatorial system, to whose north the angle then refers (SOFA `Pas`); positive west of the
    meridian.
    """
    place = (np.radians(ra_deg), np.radians(dec_deg))
    return np.asarray(np.degrees(erfa.pas(*place, np.radians(zenith_ra_deg), np.radians(zenith_dec_deg))))


def turning_deg_per_hour(azimuth_deg: ArrayLike, altitude_deg: ArrayLike, latitude_deg: ArrayLike) -> FloatArray:
    """Return how fast the parallactic angle grows: −ω cos(latitude) cos(azimuth)/cos(altitude), degrees an hour.

    From the azimuth counted from north; without end at the zenith. Checked against SLALIB's `sla_ALTAZ`.
    """
    azimuth, altitude, latitude = (np.radians(value) for value in (azimuth_deg, altitude_deg, latitude_deg))
    with np.errstate(divide="ignore"):
        rate = -SIDEREAL_DEG_PER_HOUR * np.cos(latitude) * np.cos(azimuth) / np.cos(altitude)
    return np.asarray(rate)
