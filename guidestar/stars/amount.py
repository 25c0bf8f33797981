"""How many stars of Gaia a piece of sky holds, before they are fetched: from the model of star counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.sky import healpix, regions
from guidestar.sky.regions import Region
from guidestar.stars.counts import BRIGHTEST_G_MAG, FAINTEST_G_MAG, star_counts

BYTES_PER_STAR: Final = 80
"""Of a service's answer in VOTable's binary form: 76.5 measured; the store takes 48 (a dense file) to 76 of them."""

SKY_TOTALS: Final = ((8, 62_723), (9, 177_426), (10, 482_106), (18, 310_397_433), (21, 1_811_709_771))
"""Gaia DR3 sources brighter than a G over the whole sky, at and outside the model's G 10 to 18: the archive's own
counts, the last being all there are. Below G 8 the number at 8 stands for all: few."""

_UNEVEN_TO_G_21: Final = 0.45
"""How far the number to G 21 over that to G 18 differs from place to place from the whole sky's, as a relative error:
0.43 root mean square in the counts by pixel (nside 32); off the plane there are fewer."""

_FEW_PIXELS: Final = 12
_COARSEST, _FINEST = 4, 9


@dataclass(frozen=True)
class Amount:
    """A number of stars with its standard error."""

    stars: float
    error: float

    @property
    def size_bytes(self) -> float:
        """What they are to fetch, bytes."""
        return self.stars * BYTES_PER_STAR


def expected_stars(region: Region, faintest_mag: float) -> Amount:
    """Return how many stars brighter than a magnitude a region holds, by the model of star counts.

    Outside the magnitudes of the model its number at the nearer end is scaled as the whole sky's is.

    Raises
    ------
    DataError
        The model's file is missing or damaged.
    """
    if not len(region):
        return Amount(0.0, 0.0)
    order = _order_for(region)
    pixels = regions.pixels_of(region, order)
    here = star_counts().at(*healpix.pixel_centres(pixels, order))
    inside = float(np.clip(faintest_mag, BRIGHTEST_G_MAG, FAINTEST_G_MAG))
    stars = here.per_deg2(inside) * _areas_deg2(region, pixels, order)
    # The model's errors of places close together go the same way, so they are added and not their squares.
    error = float(np.sum(stars * here.relative_error(inside)) / np.sum(stars))
    beyond = max(faintest_mag - FAINTEST_G_MAG, 0.0) / 3.0 * _UNEVEN_TO_G_21
    total = float(np.sum(stars)) * _scale(faintest_mag, inside)
    return Amount(total, float(np.hypot(np.hypot(error, beyond) * total, np.sqrt(total))))


def _scale(faintest_mag: float, inside: float) -> float:
    known, totals = np.array(SKY_TOTALS, dtype=np.float64).T
    wanted, here = np.interp((faintest_mag, inside), known, np.log(totals))
    return float(np.exp(wanted - here))


def _order_for(region: Region) -> int:
    """Return an order at which a region is a dozen pixels or more, so that the model is looked up all over it."""
    for order in range(_COARSEST, _FINEST):
        if len(regions.pixels_of(region, order)) >= _FEW_PIXELS:
            return order
    return _FINEST


def _areas_deg2(region: Region, pixels: NDArray[np.int64], order: int) -> NDArray[np.float64]:
    """Return how much of each pixel lies in a region, square degrees."""
    shift = 2 * (healpix.INDEX_ORDER - order)
    ends = np.stack([pixels << shift, (pixels + 1) << shift])
    # Indices of the region below an index: whole ranges before it, and the part of the one that it is in.
    before = np.concatenate(([0], np.cumsum(region[:, 1] - region[:, 0])))
    at = np.searchsorted(region[:, 0], ends, side="right")
    last = np.maximum(at - 1, 0)
    over = np.where(at > 0, np.maximum(region[last, 1] - ends, 0), 0)
    below = before[at] - over
    areas: NDArray[np.float64] = (below[1] - below[0]) / regions.END * regions.SKY_DEG2
    return areas
