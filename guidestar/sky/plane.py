"""The gnomonic plane about a target, and separations and position angles on the sphere.

Conventions: ξ (xi) points east and η (eta) north, both in radians at the tangent point, so that a focal plane
of focal length f holds X = f·ξ and Y = f·η. A position angle runs from north through east, [0, 360) degrees.
Every function takes scalars or arrays that broadcast together and returns the broadcast shape, a float64
scalar for scalars.

The formulas are those of SOFA (`Tpxes`, `Tpsts`, `Seps`, `Pas`) as ERFA carries them. They are called one
level below erfa's own wrappers, because those turn a star behind the observer into a warning; here it is nan.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from erfa import ufunc
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def to_plane(
    ra_deg: ArrayLike, dec_deg: ArrayLike, ra0_deg: ArrayLike, dec0_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Project places on the sky on the plane that touches it at (ra0, dec0).

    Parameters
    ----------
    ra_deg, dec_deg : array_like
        Right ascension (any turn) and declination, degrees.
    ra0_deg, dec0_deg : array_like
        The tangent point, degrees. A pole is allowed: north is then along the meridian of `ra0_deg`.

    Returns
    -------
    xi, eta : ndarray
        East and north in the plane, radians. nan for a place 90° or more from the tangent point (the plane
        meets only half of the sky), and for nan coordinates.

    Notes
    -----
    Calabretta & Greisen 2002, A&A 395, 1077 (TAN); SOFA `Tpxes`, which counts the last 0.2″ before 90° as too
    far (the radius there is beyond 10⁶).
    """
    with np.errstate(invalid="ignore"):
        xi, eta, status = ufunc.tpxes(*_radians(ra_deg, dec_deg, ra0_deg, dec0_deg))
    ahead = status == 0
    return np.where(ahead, xi, np.nan)[()], np.where(ahead, eta, np.nan)[()]


def from_plane(xi: ArrayLike, eta: ArrayLike, ra0_deg: ArrayLike, dec0_deg: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Give the place on the sky of a point of the tangent plane; the inverse of `to_plane`.

    Parameters
    ----------
    xi, eta : array_like
        East and north in the plane, radians; any size (the whole plane is one hemisphere).
    ra0_deg, dec0_deg : array_like
        The tangent point, degrees.

    Returns
    -------
    ra_deg, dec_deg : ndarray
        Right ascension [0, 360) and declination [−90, 90], degrees. SOFA `Tpsts`.
    """
    with np.errstate(invalid="ignore"):
        ra, dec = ufunc.tpsts(np.asarray(xi, float), np.asarray(eta, float), *_radians(ra0_deg, dec0_deg))
    return _turn(ra), np.degrees(dec)


def separation_deg(ra1_deg: ArrayLike, dec1_deg: ArrayLike, ra2_deg: ArrayLike, dec2_deg: ArrayLike) -> FloatArray:
    """Angle between two places on the sky, degrees, [0, 180].

    Good at any size, down to the same place and up to the opposite one (SOFA `Seps`, by vectors).
    """
    with np.errstate(invalid="ignore"):
        angle: FloatArray = np.degrees(ufunc.seps(*_radians(ra1_deg, dec1_deg, ra2_deg, dec2_deg)))
    return angle


def position_angle_deg(ra0_deg: ArrayLike, dec0_deg: ArrayLike, ra_deg: ArrayLike, dec_deg: ArrayLike) -> FloatArray:
    """Direction from (ra0, dec0) towards (ra, dec): north through east, [0, 360) degrees.

    0 for the same place. From a pole it is counted from the meridian of `ra0_deg`. In the tangent plane about
    (ra0, dec0) it equals atan2(ξ, η). SOFA `Pas`.
    """
    with np.errstate(invalid="ignore"):
        return _turn(ufunc.pas(*_radians(ra0_deg, dec0_deg, ra_deg, dec_deg)))


def _radians(*angles_deg: ArrayLike) -> list[FloatArray]:
    return [np.radians(np.asarray(angle, dtype=np.float64)) for angle in angles_deg]


def _turn(angle: Any) -> FloatArray:
    """Radians to degrees in [0, 360): a remainder of −1e-20 would otherwise round up to 360 itself."""
    degrees = np.degrees(angle) % 360.0
    return np.where(degrees >= 360.0, 0.0, degrees)[()]
