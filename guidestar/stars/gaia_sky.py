"""The local store's whole sky, a file at a time, with Tycho-2's bright stars where Gaia has none.

Each bright star is looked for in every file that it may be in; those that were found in none come last. So one
reading of the files is enough, and the result is the same as that of `GaiaStore.ring` all over the sky.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.sky import epoch, healpix
from guidestar.stars import merge
from guidestar.stars.search import widening_deg
from guidestar.stars.source import SkyStars
from guidestar.stars.store import FILE_ORDER, GAIA_YEAR, Rows, Store
from guidestar.stars.table import StarTable
from guidestar.stars.wholesky import Wanted

_COLUMNS: Final = ("_healpix_29", "source_id", "ra_deg", "dec_deg", "pm_ra", "pm_dec", "g")

_BESIDE_DEG: Final = 0.02
"""A bright star's entry in Gaia, or a star that a file holds beyond its pixel's edge, is not further off than this."""

_EVEN_BITS: Final = 0x5555


def chunks(store: Store, bright: BrightStars, wanted: Wanted) -> Iterator[SkyStars]:
    """Return the store's stars, those of a file at a time, and last the bright ones that it does not have."""
    widen_deg = widening_deg(wanted.epoch_year, (GAIA_YEAR, GAIA_YEAR)) + 2 * _BESIDE_DEG
    alone, seen = bright.alone(), _Seen()
    for pixel in wanted.pixels(store.pixels(), FILE_ORDER, widen_deg).tolist():
        rows = store.read([pixel], _COLUMNS)
        alone.strike(rows)
        rows = seen.first_of(rows)
        at_deg, motion_mas = (rows["ra_deg"], rows["dec_deg"]), (rows["pm_ra"], rows["pm_dec"])
        yield wanted.moved(at_deg, motion_mas, GAIA_YEAR, rows["g"])
    yield alone.left(wanted)


@dataclass(frozen=True)
class BrightStars:
    """The bright stars of a catalogue over the whole sky: at 2016.0, and at the date; the same ones, by number."""

    then: StarTable
    now: StarTable

    def alone(self) -> _Alone:
        """Return them with none struck off."""
        order = np.argsort(self.then.dec_deg, kind="stable")
        then = self.then.take(order)
        return _Alone(then, self.now, np.ones(len(then), dtype=np.bool_))


@dataclass
class _Alone:
    """Bright stars, by declination at 2016.0, of which those that Gaia has are struck off."""

    then: StarTable
    now: StarTable
    missing: NDArray[np.bool_]

    def strike(self, rows: Rows) -> None:
        """Strike off those that are among a file's stars."""
        if not len(rows["g"]) or not len(self.then):
            return
        faintest = float(np.max(self.then.g_mag)) + merge.FAINTER_MAG
        near = {name: rows[name][rows["g"] <= faintest] for name in ("ra_deg", "dec_deg", "g")}
        if not len(near["g"]):
            return
        low, high = np.min(near["dec_deg"]) - _BESIDE_DEG, np.max(near["dec_deg"]) + _BESIDE_DEG
        band = slice(*np.searchsorted(self.then.dec_deg, (low, high)))
        theirs = (self.then.ra_deg[band], self.then.dec_deg[band], self.then.g_mag[band])
        gaia = (near["ra_deg"], near["dec_deg"], near["g"].astype(np.float64))
        self.missing[band] &= merge.missing_from(gaia, theirs, self.then.flags[band])

    def left(self, wanted: Wanted) -> SkyStars:
        """Return those that were in no file, at the date."""
        stars = self.now.take(np.isin(self.now.id, self.then.id[self.missing]))
        if wanted.faintest_mag is not None:
            stars = stars.take(stars.g_mag <= wanted.faintest_mag)
        return wanted.cut(epoch.unit_vectors(stars.ra_deg, stars.dec_deg), stars.g_mag)


@dataclass
class _Seen:
    """Numbers of the stars at the edges of the files read so far: an imported star may be in two of them."""

    numbers: set[int] = field(default_factory=set)

    def first_of(self, rows: Rows) -> Rows:
        """Return a file's stars without those that came before, in it or in another file."""
        kept = np.sort(np.unique(rows["source_id"], return_index=True)[1])
        edge = kept[_at_edge(rows["_healpix_29"][kept])]
        numbers = rows["source_id"][edge].tolist()
        again = edge[[number in self.numbers for number in numbers]] if len(edge) else edge
        self.numbers.update(numbers)
        if len(kept) == len(rows["g"]) and not len(again):
            return rows
        kept = kept[~np.isin(kept, again)]
        return {name: values[kept] for name, values in rows.items()}


def _at_edge(index: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return which stars lie in the outermost of the order-12 pixels (51″) of their file, by `_healpix_29`.

    The bits of a NESTED number below the file's pixel are turn by turn those of the two coordinates inside it.
    """
    inside = (index >> 2 * (healpix.INDEX_ORDER - 12)) & (4 ** (12 - FILE_ORDER) - 1)
    one, other = inside & _EVEN_BITS, (inside >> 1) & _EVEN_BITS
    return np.asarray((one == 0) | (one == _EVEN_BITS) | (other == 0) | (other == _EVEN_BITS))
