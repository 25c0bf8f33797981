"""Star counts where they were fetched: the model (`counts`), made to agree with what was counted.

In a pixel that holds N stars brighter than G, and M by the model, the model's density is multiplied by

    1 + w (N/M − 1),   w = e² / (e² + 1/M),

with e the model's relative error there. So where many stars were counted the pixel's number is the counted one; where
few were (a pixel has some 20 to 80 to G 10), their own chance 1/√M says as little as the model does, and each has its
share: the usual weighing of two estimates by their errors. How the stars lie inside the pixel is the model's matter.
Beyond the depth of the counting the last factor fades to 1 towards G 16, where the model follows every pixel.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.sky import healpix, regions
from guidestar.stars.counted import EDGES_G, ORDER, UNCOUNTED, CountTable, read_counts
from guidestar.stars.counts import CountsHere, StarCounts, star_counts
from guidestar.stars.store import Coverage, Store

FloatArray = NDArray[np.float64]

_WELL_KNOWN_G: Final = 16.0
_FADES_OVER_MAG: Final = 2.0

PIXEL_DEG2: Final = 4.0 * np.pi * np.degrees(1.0) ** 2 / healpix.pixel_count(ORDER)


@dataclass(frozen=True)
class CountedHere:
    """Counts at n places; as `CountsHere`, and the model itself where nothing was counted.

    Attributes
    ----------
    model : CountsHere
        The model there.
    stars : ndarray of int64, shape (n, k)
        What was counted in each place's pixel, brighter than each of `EDGES_G`; `UNCOUNTED` where it was not.
    factor, spread : ndarray of float64, shape (n, k)
        By what the model is multiplied, and the relative error of the pixel's number after that.
    """

    model: CountsHere
    stars: NDArray[np.int64]
    factor: FloatArray
    spread: FloatArray

    def per_deg2(self, g_mag: ArrayLike) -> FloatArray:
        """Return N(<G), stars per square degree, shape (n,) for one magnitude, (n, k) for k."""
        return self.model.per_deg2(g_mag) * _between_edges(self.factor, g_mag)

    def relative_error(self, g_mag: ArrayLike) -> FloatArray:
        """Return the standard error of N(<G) over N(<G), same shapes: the pixel's own, and the place in the pixel."""
        before = self.model.relative_error(g_mag)
        inside = self.model.faint_error if np.ndim(g_mag) == 0 else self.model.faint_error[:, None]
        after = np.hypot(_between_edges(self.spread, g_mag), inside)
        error: FloatArray = np.where(np.isfinite(after), np.minimum(after, before), before)
        return error


@dataclass(frozen=True)
class CountedSky:
    """The model joined with the counts of a store."""

    model: StarCounts
    table: CountTable

    def at(self, ra_deg: ArrayLike, dec_deg: ArrayLike) -> CountedHere:
        """Return the counts at places, ICRS degrees, shape (n,) or single numbers (n = 1)."""
        ra, dec = (np.atleast_1d(np.asarray(angle, dtype=np.float64)) for angle in (ra_deg, dec_deg))
        pixels, which = np.unique(healpix.pixel_of(np.mod(ra, 360.0), dec, ORDER), return_inverse=True)
        stars = self.table.of(pixels)
        factor, spread = self._factors(pixels, stars)
        return CountedHere(self.model.at(ra, dec), stars[which], factor[which], spread[which])

    def counted_at(self, ra_deg: float, dec_deg: float) -> Coverage | None:
        """Return what was counted at a place, the region cut to its pixel; None where nothing was."""
        here = regions.of_pixels(healpix.pixel_of([ra_deg % 360.0], [dec_deg], ORDER), ORDER)
        parts = (part.within(here) for part in self.table.parts)
        return next((part for part in parts if len(part.region)), None)

    def counted_stars(self, ra_deg: float, dec_deg: float, g_mag: FloatArray) -> list[int | None]:
        """Return the exact numbers of the pixel that holds a place, at some of `EDGES_G`; None where not counted."""
        stars = self.table.of(healpix.pixel_of([ra_deg % 360.0], [dec_deg], ORDER))[0]
        chosen = stars[np.searchsorted(EDGES_G, g_mag)].tolist()
        return [None if number == UNCOUNTED else number for number in chosen]

    def described(self, ra_deg: float, dec_deg: float) -> str:
        """Return in a few words what the counts at a place are made from."""
        part = self.counted_at(ra_deg, dec_deg)
        if part is None:
            return self.model.described(ra_deg, dec_deg)
        return (
            f"{part.release} counted to G {part.faintest_mag:g} by {part.origin} on {part.date}, joined with the model"
        )

    def _factors(self, pixels: NDArray[np.int64], stars: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
        """Return factor and error for pixels, (m, k); 1 and NaN where a pixel was not counted at all."""
        factor, spread = np.ones(stars.shape), np.full(stars.shape, np.nan)
        counted = np.flatnonzero(stars[:, 0] != UNCOUNTED)
        if len(counted):
            # The model was fitted to whole pixels by their centres, so its value there stands for the pixel.
            middle = self.model.at(*healpix.pixel_centres(pixels[counted], ORDER))
            expected, error = middle.per_deg2(EDGES_G) * PIXEL_DEG2, middle.relative_error(EDGES_G)
            weight = error**2 / (error**2 + 1.0 / expected)
            known = stars[counted] != UNCOUNTED
            factor[counted] = np.where(known, 1.0 + weight * (stars[counted] / expected - 1.0), np.nan)
            spread[counted] = np.where(known, error * np.sqrt(1.0 - weight), np.nan)
            factor[counted] = np.where(known, factor[counted], _faded(factor[counted], known))
        return factor, spread


def _faded(factor: FloatArray, known: NDArray[np.bool_]) -> FloatArray:
    """Return what the factors fade to beyond the depth of the counting, (m, k)."""
    deepest = np.count_nonzero(known, axis=1)[:, None] - 1
    depth = EDGES_G[deepest]
    left = np.clip(1.0 - (EDGES_G - depth) / np.maximum(_WELL_KNOWN_G - depth, _FADES_OVER_MAG), 0.0, 1.0)
    faded: FloatArray = 1.0 + (np.take_along_axis(factor, deepest, axis=1) - 1.0) * left
    return faded


def _between_edges(values: FloatArray, g_mag: ArrayLike) -> FloatArray:
    """Return values that stand at `EDGES_G`, shape (n, k), on straight lines between them, at magnitudes."""
    wanted = np.clip(np.asarray(g_mag, dtype=np.float64), EDGES_G[0], EDGES_G[-1])
    place = np.searchsorted(EDGES_G, np.atleast_1d(wanted), side="right") - 1
    low = np.minimum(place, len(EDGES_G) - 2)
    share = (np.atleast_1d(wanted) - EDGES_G[low]) / (EDGES_G[low + 1] - EDGES_G[low])
    # Where the share is 0 the next edge does not count, even if nothing was counted to it.
    above = np.where(share > 0, values[:, low + 1], values[:, low])
    found: FloatArray = values[:, low] + share * (above - values[:, low])
    return found if wanted.ndim else found[:, 0]


def counts_in(store: Store) -> CountedSky | None:
    """Return the model joined with a store's counts; None where the store has none.

    Raises
    ------
    DataError
        The store's counts, or the model, are damaged.
    """
    table = read_counts(store)
    return None if table is None or not len(table.pixels) else CountedSky(star_counts(), table)
