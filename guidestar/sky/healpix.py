"""The only door to HEALPix: which pixels a circle touches, and the pixel of a position.

Pixels are numbered in the NESTED scheme on ICRS coordinates (Górski et al. 2005, ApJ 622, 759). Order k divides the
sphere into 12·4ᵏ pixels of equal area.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import hpgeom
import numpy as np
from numpy.typing import ArrayLike, NDArray

INDEX_ORDER: Final = 29
"""Order of the spatial index column `_healpix_29`, the deepest whose pixel numbers fit 64 bits (IVOA MOC 2.0)."""

_FINEST_TEST_ORDER: Final = 9
_WIDEST_QUERY_DEG: Final = 90.0


def pixel_count(order: int) -> int:
    """Return the number of pixels of the whole sphere at `order` (0 to 29)."""
    return int(12 * 4**order)


def pixel_of(ra_deg: ArrayLike, dec_deg: ArrayLike, order: int = INDEX_ORDER) -> NDArray[np.int64]:
    """Return the NESTED pixel that holds each position.

    Parameters
    ----------
    ra_deg, dec_deg : array_like, shape (n,)
        ICRS, degrees; right ascension in [0, 360], declination in [−90, 90].
    order : int
        0 to 29.
    """
    pixels = hpgeom.angle_to_pixel(2**order, np.asarray(ra_deg), np.asarray(dec_deg))
    return np.asarray(pixels, dtype=np.int64)


def pixels_touching_circle(ra_deg: float, dec_deg: float, radius_deg: float, order: int) -> NDArray[np.int64]:
    """Return, in ascending order, every NESTED pixel that overlaps a circle on the sphere.

    No overlapping pixel is ever missing; a few that the circle barely fails to reach may be in the answer, because
    the overlap is tested on smaller pixels and those are taken as their circumscribed circles.

    Parameters
    ----------
    ra_deg, dec_deg : float
        Centre, ICRS degrees; declination in [−90, 90], right ascension any.
    radius_deg : float
        Not negative. From 90 on the answer is every pixel: so wide a search reads most of them anyway, and the
        library's own query misses pixels for wide circles about some points (0, 0 with 140°, hpgeom 1.6, healpy 1.20).
    order : int
        Order of the pixels returned, 0 to 29.
    """
    if radius_deg >= _WIDEST_QUERY_DEG:
        return np.arange(pixel_count(order), dtype=np.int64)
    finer = 2 ** max(_FINEST_TEST_ORDER - order, 0) if radius_deg < 5.0 else 4
    finer = min(finer, 2 ** (INDEX_ORDER - order))
    found = hpgeom.query_circle(2**order, ra_deg % 360.0, dec_deg, radius_deg, inclusive=True, fact=finer)
    return np.unique(np.asarray(found, dtype=np.int64))


def pixel_centres(pixels: ArrayLike, order: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return right ascension and declination of NESTED pixels' centres, degrees, shape as `pixels`."""
    ra_deg, dec_deg = hpgeom.pixel_to_angle(2**order, np.asarray(pixels, dtype=np.int64))
    return np.asarray(ra_deg, dtype=np.float64), np.asarray(dec_deg, dtype=np.float64)


def largest_radius_deg(order: int) -> float:
    """Return the greatest distance from any pixel's centre to one of its corners at `order`, degrees."""
    return float(hpgeom.max_pixel_radius(2**order, degrees=True))


def union_of_ranges(sets: Sequence[NDArray[np.int64]]) -> NDArray[np.int64]:
    """Return half-open ranges [start, end), shape (n, 2), ascending and apart, of all that is in any of the sets."""
    return np.asarray(hpgeom.pixel_ranges_union(list(sets)), dtype=np.int64).reshape(-1, 2)


def intersection_of_ranges(sets: Sequence[NDArray[np.int64]]) -> NDArray[np.int64]:
    """Return half-open ranges [start, end), shape (n, 2), ascending and apart, of all that is in every set."""
    return np.asarray(hpgeom.pixel_ranges_intersection(list(sets)), dtype=np.int64).reshape(-1, 2)
