"""Where a star source knows the sky: for targets elsewhere the map says "no data", never "no stars"."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from guidestar.sky import epoch, healpix, regions
from guidestar.sky.regions import Region
from guidestar.stars.source import StarSource
from guidestar.stars.wholesky import sky_coverage

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_EDGE_ORDER = 10
"""A target's surroundings are taken as pixels of this order (3.4′), as they are for a single check."""

_AT_ONCE = 4_000_000


def known_around(source: StarSource, ra_deg: FloatArray, dec_deg: FloatArray, radius_deg: float) -> BoolArray:
    """Return for which places the source knows the whole circle around them, shape (n,)."""
    region = sky_coverage(source)
    if not len(regions.difference(regions.whole_sky(), region)):
        return np.ones(len(ra_deg), dtype=np.bool_)
    order = _coarse_order(radius_deg)
    known = regions.contains(region, healpix.pixel_of(np.mod(ra_deg, 360.0), dec_deg))
    beside = np.flatnonzero(known)
    beside = beside[_near_unknown(region, ra_deg[beside], dec_deg[beside], radius_deg, order)]
    for i in beside.tolist():
        circle = regions.around(float(ra_deg[i]), float(dec_deg[i]), radius_deg, _EDGE_ORDER)
        known[i] = regions.is_within(circle, region)
    return known


def _coarse_order(radius_deg: float) -> int:
    """Return the order whose pixels are about as large as the circle, at most that of its surroundings."""
    orders = range(2, _EDGE_ORDER)
    return next((order for order in orders if healpix.largest_radius_deg(order) <= radius_deg), _EDGE_ORDER)


def _near_unknown(region: Region, ra_deg: FloatArray, dec_deg: FloatArray, radius_deg: float, order: int) -> BoolArray:
    """Return which places have a pixel in reach that is not known throughout, shape (n,); some more may be in it."""
    unknown = regions.pixels_of(regions.difference(regions.whole_sky(), region), order)
    edges = np.isin(unknown, regions.pixels_of(regions.rounded_out(region, order), order))
    # Beyond the pixels at the edge lies nothing that a known place could be near, but for pixels right beside them.
    edge = unknown[edges] if np.any(edges) else unknown
    reach = radius_deg + 3.0 * healpix.largest_radius_deg(order) + 0.2
    middles = epoch.unit_vectors(*healpix.pixel_centres(edge, order)).T
    places = epoch.unit_vectors(ra_deg, dec_deg)
    near = np.zeros(len(ra_deg), dtype=np.bool_)
    step = max(_AT_ONCE // max(len(middles), 1), 1)
    for start in range(0, len(ra_deg), step):
        part = slice(start, start + step)
        near[part] = (middles @ places[:, part]).max(axis=0, initial=-1.0) >= np.cos(np.radians(min(reach, 180.0)))
    return near
