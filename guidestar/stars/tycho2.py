"""The built-in source: the Tycho-2 Catalogue with its supplement 1 (Høg et al. 2000, A&A 355, L27).

The files and how they were made are described in `data/README.md`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from guidestar.errors import DataError
from guidestar.sky import regions
from guidestar.sky.regions import Region
from guidestar.stars.counts import SkyCounts
from guidestar.stars.flags import StarFlag
from guidestar.stars.hats import Columns, HatsFolder, Partition
from guidestar.stars.search import Motion, Ring, stars_in_ring, widening_deg
from guidestar.stars.source import SkyStars
from guidestar.stars.table import StarTable
from guidestar.stars.wholesky import Wanted

EPOCHS: Final = (1991.2, 2000.0)
"""Range of the epochs of the positions: mean positions 2000.0, supplement 1991.25, observed ones 1991.2 to 1992.2."""

COMPLETE_TO_G_MAG: Final = 10.5
"""Down to here about 97 of 100 stars of Gaia DR3 are listed.

Measured: 98.2 % of the Gaia DR3 stars with G < 10 have an entry within 2″; the number of entries with G < 10.5 is
97.2 % of Gaia's (779,012); in six Gaia fields, 11.7 square degrees in all, 70 of 71 stars with 10 < G ≤ 10.5 have
one, but only 84 of 94 with 10.5 < G ≤ 11 and 123 of 160 with 11 < G ≤ 11.5. It fits the catalogue's own figure,
99 % to V ≈ 11.0 (ReadMe, CDS I/259): V − G is 0.2 to 0.3 for most stars. Those missing above G 10 are very red
(median BP − RP 3.5), faint in V and bright in G.
"""

LIMIT_G_MAG: Final = 15.2
"""The faintest derived G in the catalogue is 15.19."""

REPAIR: Final = "install guidestar again, or build the catalogue as its data/README.md says"

_SHARED_NAME: Final = 10_000_000_000

_COLUMNS: Final = (
    "ra_deg",
    "dec_deg",
    "epoch",
    "pm_ra",
    "pm_dec",
    "g",
    "v",
    "tyc1",
    "tyc2",
    "tyc3",
    "hip",
    "flags",
)

_SKY_COLUMNS: Final = ("ra_deg", "dec_deg", "epoch", "pm_ra", "pm_dec", "g")


def designation(number: int) -> str:
    """Return "TYC 1-13-1" for the number 1000131: TYC1 · 10⁶ + TYC2 · 10 + TYC3.

    A supplement star whose designation the main list gives to its neighbour has 10¹⁰ more and is called
    "TYC 49-1674-1 (supplement)", so that no two stars have the same name.
    """
    tyc1, tyc2, tyc3 = number // 1_000_000 % 10_000, number // 10 % 100_000, number % 10
    return f"TYC {tyc1}-{tyc2}-{tyc3}" + (" (supplement)" if number >= _SHARED_NAME else "")


@dataclass(frozen=True)
class Tycho2:
    """Tycho-2 as a `StarSource`; magnitudes are G derived from BT and VT."""

    folder: HatsFolder
    name: str = "Tycho-2"
    band: str = "G"
    complete_to_mag: float = COMPLETE_TO_G_MAG
    counts: SkyCounts | None = None
    """Star counts of the local store, where there are any; see `counts.counts_for`."""

    def ring(
        self,
        ra_deg: float,
        dec_deg: float,
        inner_deg: float,
        outer_deg: float,
        *,
        faintest_mag: float | None,
        epoch_year: float,
    ) -> StarTable:
        """Return every star between two distances from a point; see `StarSource.ring`."""
        widen_deg = widening_deg(epoch_year, EPOCHS)
        partitions = self.folder.partitions_touching(ra_deg, dec_deg, outer_deg + widen_deg)
        columns = _brighter(self.folder.read(partitions, _COLUMNS), faintest_mag)
        ring = Ring(ra_deg, dec_deg, inner_deg, outer_deg)
        indices, ra_then, dec_then = stars_in_ring(_motion(columns), ring, epoch_year, widen_deg)
        return _table(columns, indices, ra_then, dec_then)

    def sky_chunks(
        self, *, epoch_year: float, faintest_mag: float | None, dec_deg: tuple[float, float]
    ) -> Iterator[SkyStars]:
        """Return all stars, those of a file at a time; see `wholesky.sky_chunks`."""
        wanted, widen_deg = Wanted(epoch_year, faintest_mag, dec_deg), widening_deg(epoch_year, EPOCHS)
        for order in sorted({partition.order for partition in self.folder.partitions}):
            pixels = [partition.pixel for partition in self.folder.partitions if partition.order == order]
            for pixel in wanted.pixels(pixels, order, widen_deg).tolist():
                columns = self.folder.read([Partition(order, pixel)], _SKY_COLUMNS)
                stars = _motion(columns)
                at_deg, motion_mas = (stars.ra_deg, stars.dec_deg), (stars.pm_ra, stars.pm_dec)
                g_mag = cast("NDArray[np.float64]", columns["g"])
                yield wanted.moved(at_deg, motion_mas, stars.epoch_year, g_mag)

    def sky_coverage(self) -> Region:
        """Return the whole sky."""
        return regions.whole_sky()


@cache
def tycho2(path: Path | None = None) -> Tycho2:
    """Return the built-in catalogue, or one of the same columns in the folder `path`.

    Raises
    ------
    DataError
        The catalogue is neither in the installed package nor in the source tree.
    """
    return Tycho2(HatsFolder(path or builtin_folder(), REPAIR))


def builtin_folder() -> Path:
    """Return the folder of the built-in catalogue: inside the installed package, or `data/tycho2` of the tree."""
    package = Path(str(resources.files("guidestar.stars"))).parent
    places = (package / "data" / "tycho2", package.parent / "data" / "tycho2")
    for place in places:
        if place.is_dir():
            return place
    raise DataError(f"The built-in star catalogue is missing, expected in {places[0]}: {REPAIR}.")


def _brighter(columns: Columns, faintest_mag: float | None) -> Columns:
    if faintest_mag is None:
        return columns
    kept = np.flatnonzero(columns["g"].astype(np.float64) <= faintest_mag)
    return {name: values[kept] for name, values in columns.items()}


def _motion(columns: Columns) -> Motion:
    ra_deg, dec_deg, epoch_year, pm_ra, pm_dec = (
        cast("NDArray[np.float64]", columns[name]) for name in ("ra_deg", "dec_deg", "epoch", "pm_ra", "pm_dec")
    )
    return Motion(ra_deg, dec_deg, epoch_year, pm_ra, pm_dec)


def _table(
    columns: Columns, indices: NDArray[np.intp], ra_deg: NDArray[np.float64], dec_deg: NDArray[np.float64]
) -> StarTable:
    tyc1, tyc2, tyc3 = (columns[name][indices].astype(np.int64) for name in ("tyc1", "tyc2", "tyc3"))
    flags = columns["flags"][indices].astype(np.uint16)
    shared = np.where(flags & StarFlag.SHARED_NAME, _SHARED_NAME, 0)
    return StarTable(
        id=shared + tyc1 * 1_000_000 + tyc2 * 10 + tyc3,
        ra_deg=ra_deg,
        dec_deg=dec_deg,
        g_mag=columns["g"][indices].astype(np.float64),
        v_mag=columns["v"][indices].astype(np.float64),
        flags=flags,
        hip=columns["hip"][indices].astype(np.int32),
        designation=designation,
    )
