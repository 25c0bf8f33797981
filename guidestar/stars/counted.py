"""Exact counts of Gaia's stars in the local store: how many each pixel of the sky holds, by magnitude.

One file, `star_counts.parquet`, among the store's own: a row for each HEALPix pixel of order 5 (3.36 square degrees)
that was counted, with the number of stars brighter than each of `EDGES_G`. Its footer says which sky was counted, how
deep, from where and when, as the files of stars do.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from guidestar.errors import InputError
from guidestar.sky import healpix, regions
from guidestar.sky.regions import Region
from guidestar.stars.hats import column_as_numpy
from guidestar.stars.store import COUNTS_FILE, FOOTER_KEY, Coverage, Store, complete_to

IntArray = NDArray[np.int64]

ORDER: Final = 5

EDGES_G: Final = np.arange(10.0, 18.25, 0.5)
"""Magnitudes G to which stars are counted; half a magnitude apart a straight line through the logs is good to 0.2 %."""

UNCOUNTED: Final = -1

_NAMES: Final = tuple(f"brighter_than_g{edge:.1f}" for edge in EDGES_G)


@dataclass(frozen=True)
class CountTable:
    """Counts by pixel.

    Attributes
    ----------
    pixels : ndarray of int64, shape (n,)
        NESTED pixels of `ORDER`, ascending.
    stars : ndarray of int64, shape (n, k)
        Stars brighter than each of `EDGES_G`, `UNCOUNTED` beyond the depth of the counting.
    parts : tuple of Coverage
        What was counted, how deep, from where and when.
    """

    pixels: IntArray
    stars: IntArray
    parts: tuple[Coverage, ...]

    def missing(self, region: Region, faintest_mag: float) -> Region:
        """Return where in a region it was not counted as deep as a magnitude."""
        return regions.difference(region, complete_to(self.parts, faintest_mag))

    def of(self, pixels: IntArray) -> IntArray:
        """Return the counts of some pixels, shape (m, k), all `UNCOUNTED` where a pixel is not there."""
        found = np.full((len(pixels), len(EDGES_G)), UNCOUNTED, dtype=np.int64)
        if len(self.pixels):
            at = np.minimum(np.searchsorted(self.pixels, pixels), len(self.pixels) - 1)
            there = self.pixels[at] == pixels
            found[there] = self.stars[at[there]]
        return found

    def joined(self, other: CountTable) -> CountTable:
        """Return both, a pixel's counts being those of `other` where that has it."""
        kept = ~np.isin(self.pixels, other.pixels)
        pixels = np.concatenate([self.pixels[kept], other.pixels])
        order = np.argsort(pixels)
        theirs = regions.of_pixels(other.pixels, ORDER)
        parts = [part.outside(theirs) for part in self.parts] + list(other.parts)
        kinds = dict.fromkeys(part.kind for part in parts if len(part.region))
        whole = (Coverage(regions.union(*(p.region for p in parts if p.kind == kind)), *kind) for kind in kinds)
        return CountTable(pixels[order], np.concatenate([self.stars[kept], other.stars])[order], tuple(whole))


def nothing_counted() -> CountTable:
    """Return a table without pixels."""
    return CountTable(np.empty(0, dtype=np.int64), np.empty((0, len(EDGES_G)), dtype=np.int64), ())


def edge_above(faintest_mag: float) -> float:
    """Return the first of `EDGES_G` that is not brighter than a magnitude.

    Raises
    ------
    InputError
        Counts do not reach so faint.
    """
    if faintest_mag > EDGES_G[-1]:
        raise InputError(
            f"--faintest-mag {faintest_mag:g}: stars are counted to G {EDGES_G[-1]:g} at most, and the model of counts "
            "ends there too."
        )
    return float(EDGES_G[np.searchsorted(EDGES_G, faintest_mag)])


def cumulative(pixels: IntArray, pixel: IntArray, step: IntArray, stars: IntArray, faintest_mag: float) -> IntArray:
    """Return counts as `CountTable.stars` has them, shape (n, k), of groups of stars.

    Parameters
    ----------
    pixels : ndarray of int64, shape (n,)
        The pixels wanted, ascending; one without a group holds no star.
    pixel, step, stars : ndarray of int64, shape (m,)
        The groups: pixel, magnitude in half magnitudes rounded down, number of stars.
    faintest_mag : float
        One of `EDGES_G`: the depth of the counting.
    """
    # A star of step s is brighter than the edge e if s < 2e.
    edge = np.searchsorted(2.0 * EDGES_G, step, side="right")
    inside = edge < len(EDGES_G)
    found = np.zeros((len(pixels), len(EDGES_G)), dtype=np.int64)
    np.add.at(found, (np.searchsorted(pixels, pixel[inside]), edge[inside]), stars[inside])
    found = np.cumsum(found, axis=1)
    found[:, faintest_mag < EDGES_G] = UNCOUNTED
    return found


# ----------------------------------------------------------------------------------------------------- the file


def to_bytes(table: CountTable) -> bytes:
    """Return the file of some counts."""
    columns = {"pixel": pa.array(table.pixels.astype(np.int32))}
    columns |= {name: pa.array(table.stars[:, i].astype(np.int32)) for i, name in enumerate(_NAMES)}
    items = sorted((part.to_dict() for part in table.parts), key=lambda item: str(item["moc"]))
    made = pa.table(columns).replace_schema_metadata({FOOTER_KEY: json.dumps(items)})
    sink = pa.BufferOutputStream()
    pq.write_table(made, sink, compression="zstd", write_page_checksum=True)
    return bytes(sink.getvalue().to_pybytes())


def read_counts(store: Store) -> CountTable | None:
    """Return the counts of a store; None if it has none.

    Raises
    ------
    DataError
        The file is damaged, or the store is of a newer format.
    """
    file = store.path / COUNTS_FILE
    try:
        state = file.stat()
    except OSError:
        return None
    store.require_readable()
    try:
        return _read(file, state.st_mtime_ns, state.st_size)
    except (OSError, ValueError, KeyError, TypeError, InputError, pa.ArrowException) as error:
        raise store.folder.damaged(file, str(error)) from error


@lru_cache(maxsize=4)
def _read(file: Path, changed_ns: int, size: int) -> CountTable:
    """Read a file; `changed_ns` and `size` tell one state of it from the next, so that a list reads it once."""
    del changed_ns, size
    return _table_of(file)


def _table_of(file: Path) -> CountTable:
    with pq.ParquetFile(file, page_checksum_verification=True) as parquet:
        table = parquet.read(columns=["pixel", *_NAMES], use_threads=False)
        footer = (parquet.metadata.metadata or {})[FOOTER_KEY]
    columns = [column_as_numpy(table.column(name)).astype(np.int64) for name in ("pixel", *_NAMES)]
    found = CountTable(columns[0], np.stack(columns[1:], axis=1), tuple(map(Coverage.from_dict, json.loads(footer))))
    if np.any(np.diff(found.pixels) <= 0) or np.any(found.pixels >= healpix.pixel_count(ORDER)):
        raise ValueError("its pixels are not in order")
    return found


def readable(file: Path) -> bool:
    """Tell whether a file of counts can be read to its end, by the checksums of its pages."""
    try:
        _table_of(file)
    except (OSError, ValueError, KeyError, TypeError, InputError, pa.ArrowException):
        return False
    return True
