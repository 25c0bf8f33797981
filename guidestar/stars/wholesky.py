"""A source's whole sky, a part at a time: what a map of the sky needs of the stars, in bounded memory.

A source that has a better way than one search of the whole sphere offers it (`source.SkySource`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.sky import epoch, healpix, regions
from guidestar.sky.regions import Region
from guidestar.stars.source import SkySource, SkyStars, StarSource, cone

FloatArray = NDArray[np.float64]

WHOLE_DEG = (-90.0, 90.0)


def sky_chunks(
    source: StarSource,
    *,
    epoch_year: float,
    faintest_mag: float | None = None,
    dec_deg: tuple[float, float] = WHOLE_DEG,
) -> Iterator[SkyStars]:
    """Return all stars of a source, in parts of a few hundred thousand at most where it has a way to.

    Parameters
    ----------
    source : StarSource
        One that is no `SkySource` is asked for everything at once.
    epoch_year : float
        Julian year; positions are those at this date.
    faintest_mag : float, optional
        Only stars with `g_mag` not above this.
    dec_deg : (from, to)
        Declinations at the date, degrees: from ≤ δ < to, and 90 with the last band. Bands that meet lose no star and
        have none twice.

    Raises
    ------
    DataError
        A file of the source is missing or damaged.
    """
    wanted = Wanted(epoch_year, faintest_mag, dec_deg)
    if isinstance(source, SkySource):
        yield from source.sky_chunks(epoch_year=epoch_year, faintest_mag=faintest_mag, dec_deg=dec_deg)
    else:
        table = cone(source, 0.0, 90.0, 180.0, faintest_mag=faintest_mag, epoch_year=epoch_year)
        yield wanted.cut(epoch.unit_vectors(table.ra_deg, table.dec_deg), table.g_mag)


def sky_coverage(source: StarSource) -> Region:
    """Return where a source is complete to its `complete_to_mag`: the whole sky, unless it says otherwise."""
    return source.sky_coverage() if isinstance(source, SkySource) else regions.whole_sky()


@dataclass(frozen=True)
class Wanted:
    """Which stars are asked for; see `sky_chunks`."""

    epoch_year: float
    faintest_mag: float | None
    dec_deg: tuple[float, float]

    def moved(
        self,
        at_deg: tuple[FloatArray, FloatArray],
        motion_mas: tuple[FloatArray, FloatArray],
        from_year: ArrayLike,
        g_mag: NDArray[np.floating],
    ) -> SkyStars:
        """Return those of some stars that are asked for.

        Parameters
        ----------
        at_deg : (ra, dec), shape (n,) each
            ICRS degrees at the stars' own epochs.
        motion_mas : (pm_ra, pm_dec), shape (n,) each
            Milliarcseconds a year, that in right ascension with cos δ; NaN counts as none.
        from_year : array_like, shape (n,) or ()
            The stars' epochs, Julian years.
        g_mag : ndarray, shape (n,)
            Magnitudes.
        """
        kept = self._bright_enough(g_mag)
        pm_ra, pm_dec = (np.nan_to_num(axis[kept]) for axis in motion_mas)
        years = self.epoch_year - np.asarray(from_year, dtype=np.float64)
        vectors = epoch.moved_vectors(
            at_deg[0][kept], at_deg[1][kept], pm_ra, pm_dec, years[kept] if years.ndim else years
        )
        return self.cut(vectors, g_mag[kept])

    def cut(self, vectors: FloatArray, g_mag: NDArray[np.floating]) -> SkyStars:
        """Return the stars within the declinations asked for, of vectors (3, n) at the date."""
        low, high = self.dec_deg
        magnitudes = g_mag.astype(np.float64)
        if low <= -90.0 and high >= 90.0:
            return SkyStars(vectors, magnitudes)
        inside = vectors[2] >= np.sin(np.radians(low)) if low > -90.0 else np.ones(len(magnitudes), dtype=np.bool_)
        if high < 90.0:
            inside &= vectors[2] < np.sin(np.radians(high))
        return SkyStars(vectors[:, inside], magnitudes[inside])

    def _bright_enough(self, g_mag: NDArray[np.floating]) -> NDArray[np.bool_] | slice:
        if self.faintest_mag is None:
            return slice(None)
        return np.asarray(g_mag.astype(np.float64) <= self.faintest_mag)

    def pixels(self, pixels: ArrayLike, order: int, widen_deg: float) -> NDArray[np.int64]:
        """Return which pixels may hold stars that are asked for, if those lie up to `widen_deg` outside of theirs."""
        numbers = np.asarray(pixels, dtype=np.int64)
        margin = healpix.largest_radius_deg(order) + widen_deg
        dec = healpix.pixel_centres(numbers, order)[1]
        return numbers[(dec + margin >= self.dec_deg[0]) & (dec - margin <= self.dec_deg[1])]
