"""Moving stars by their proper motion, as vectors.

A catalogue position p₀ (unit vector) with proper motion (μ_α*, μ_δ) becomes, after Δt years,
p = normalise(p₀ + Δt·(μ_α*·e_α + μ_δ·e_δ)), with e_α towards east and e_δ towards north at p₀: straight, uniform
motion without the (unknown) radial part. Checked against ERFA's `starpm` with radial velocity zero.
Adding μ/cos δ to right ascension instead fails near the poles.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

FASTEST_STAR_ARCSEC_PER_YEAR: Final = 10.4
"""Upper bound of any star's proper motion.

The fastest star of Tycho-2 and its supplement is HIP 87937: μ_α* = −798.8, μ_δ = +10277.3 mas/yr, 10.31″ a year;
rounded up for what its motion is in other catalogues.
"""

_RADIANS_PER_MAS: Final = np.radians(1.0 / 3.6e6)


def unit_vectors(ra_deg: ArrayLike, dec_deg: ArrayLike) -> FloatArray:
    """Return the unit vectors of positions in degrees, shape (3, n): x to (0, 0), z to the north pole."""
    ra, dec = np.radians(ra_deg), np.radians(dec_deg)
    cos_dec = np.cos(dec)
    return np.stack([cos_dec * np.cos(ra), cos_dec * np.sin(ra), np.sin(dec)])


def angles_of(vectors: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return right ascension in [0, 360) and declination, degrees, of vectors of any length, shape (3, n)."""
    x, y, z = vectors
    ra_deg = np.degrees(np.arctan2(y, x)) % 360.0
    ra_deg = np.where(ra_deg >= 360.0, 0.0, ra_deg)  # the remainder of −1e-17 rounds up to 360 itself
    return ra_deg, np.degrees(np.arctan2(z, np.hypot(x, y)))


def moved_vectors(
    ra_deg: ArrayLike, dec_deg: ArrayLike, pm_ra: ArrayLike, pm_dec: ArrayLike, years: ArrayLike
) -> FloatArray:
    """Return the unit vectors of stars `years` after the epoch of their positions, shape (3, n).

    Parameters
    ----------
    ra_deg, dec_deg : array_like, shape (n,)
        ICRS degrees at the stars' own epochs.
    pm_ra, pm_dec : array_like, shape (n,)
        Proper motion in milliarcseconds a year, that in right ascension including cos δ.
    years : array_like, shape (n,) or ()
        Julian years to move by, either sign.
    """
    ra, dec = np.radians(ra_deg), np.radians(dec_deg)
    sin_ra, cos_ra, sin_dec, cos_dec = np.sin(ra), np.cos(ra), np.sin(dec), np.cos(dec)
    east = np.asarray(years) * np.asarray(pm_ra) * _RADIANS_PER_MAS
    north = np.asarray(years) * np.asarray(pm_dec) * _RADIANS_PER_MAS
    outward = cos_dec - north * sin_dec  # component along the star's meridian, in the equator's plane
    vectors = np.stack([outward * cos_ra - east * sin_ra, outward * sin_ra + east * cos_ra, sin_dec + north * cos_dec])
    return np.asarray(vectors / np.sqrt(1.0 + east * east + north * north), dtype=np.float64)


def moved(
    ra_deg: ArrayLike, dec_deg: ArrayLike, pm_ra: ArrayLike, pm_dec: ArrayLike, years: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return right ascension and declination, degrees, after `years`; see `moved_vectors`."""
    return angles_of(moved_vectors(ra_deg, dec_deg, pm_ra, pm_dec, years))


def chord_of(angle_deg: float) -> float:
    """Return the straight distance between two points of the unit sphere `angle_deg` (0 to 180) apart."""
    return 2.0 * float(np.sin(np.radians(min(max(angle_deg, 0.0), 180.0)) / 2.0))
