"""Galactic coordinates, and the true equator and equinox of date.

All angles in degrees; scalars or arrays that broadcast, the same shape out. Coordinates are ICRS unless a
function says otherwise (J2000 coordinates of the FK5 system differ by about 0.02″).

What the conversion to the equinox of date holds: frame bias, precession and nutation, models IAU 2006 and
2000A as ERFA carries them (they agree with the sky within a milliarcsecond). What it leaves out: aberration (up
to 20.5″), light deflection, parallax and refraction, which depend on the hour and the place; a mount that
shows apparent coordinates differs by that much.
"""

from __future__ import annotations

import erfa
import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def icrs_to_galactic(ra_deg: ArrayLike, dec_deg: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Galactic longitude [0, 360) and latitude [−90, 90] of ICRS places, degrees.

    SOFA `Icrs2g`; the galactic system of the Hipparcos catalogue (ESA SP-1200, vol. 1, section 1.5.3).
    """
    with np.errstate(invalid="ignore"):
        l_rad, b_rad = erfa.ufunc.icrs2g(_radians(ra_deg), _radians(dec_deg))
    return _turn(l_rad), np.degrees(b_rad)


def icrs_to_date(ra_deg: ArrayLike, dec_deg: ArrayLike, epoch_year: float) -> tuple[FloatArray, FloatArray]:
    """Refer ICRS places to the true equator and equinox of a date.

    Parameters
    ----------
    ra_deg, dec_deg : array_like
        ICRS, degrees.
    epoch_year : float
        The date as a Julian epoch, e.g. 2026.9 (taken as TT; the minute between UTC and TT moves nothing by
        more than 0.0001″).

    Returns
    -------
    ra_deg, dec_deg : ndarray
        Right ascension [0, 360) and declination of date, degrees, without aberration (see the module).
    """
    return _rotate(ra_deg, dec_deg, _icrs_to_date_matrix(epoch_year))


def date_to_icrs(ra_deg: ArrayLike, dec_deg: ArrayLike, epoch_year: float) -> tuple[FloatArray, FloatArray]:
    """Give the ICRS places of coordinates of date; the inverse of `icrs_to_date`, with the same limits."""
    return _rotate(ra_deg, dec_deg, _icrs_to_date_matrix(epoch_year).T)


def _icrs_to_date_matrix(epoch_year: float) -> FloatArray:
    """Bias, precession and nutation as one rotation, shape (3, 3). SOFA `Pnm06a`."""
    matrix: FloatArray = erfa.pnm06a(*erfa.epj2jd(epoch_year))
    return matrix


def _rotate(ra_deg: ArrayLike, dec_deg: ArrayLike, matrix: FloatArray) -> tuple[FloatArray, FloatArray]:
    with np.errstate(invalid="ignore"):
        directions = erfa.ufunc.s2c(*np.broadcast_arrays(_radians(ra_deg), _radians(dec_deg)))
        ra, dec = erfa.ufunc.c2s(directions @ matrix.T)
    return _turn(ra), np.degrees(dec)


def _radians(angle_deg: ArrayLike) -> FloatArray:
    return np.radians(np.asarray(angle_deg, dtype=np.float64))


def _turn(angle: FloatArray) -> FloatArray:
    """Radians to degrees in [0, 360); a remainder of −1e-20 must not round up to 360."""
    degrees = np.degrees(angle) % 360.0
    turned: FloatArray = np.where(degrees >= 360.0, 0.0, degrees)[()]
    return turned
