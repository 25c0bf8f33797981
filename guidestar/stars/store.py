"""The local store: stars of Gaia that were fetched or imported, in a folder of the person's own.

Layout: a HATS catalogue of order `FILE_ORDER`. Each Parquet file says in its own footer which part of its pixel it
covers, how deep, from where and when (`Coverage`), so that a file and what it claims are replaced in one step.
`coverage.json` repeats that for the whole store, with a MOC a depth; `SHA256SUMS` has every file's checksum, that of
`star_counts.parquet` too, which may lie beside them (`counted`).
A star belongs to the pixel that the column `_healpix_29` names; its position is that of 2016.0.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from guidestar.errors import DataError, InputError
from guidestar.sky import healpix, regions
from guidestar.sky.regions import Region
from guidestar.stars.hats import HatsFolder, Partition

FILE_ORDER: Final = 4
"""3,072 files for the whole sky, 3.7° wide: about 1 MB each down to G 16, ten times that in the Milky Way."""

FORMAT: Final = 1
"""Grows when an older program can no longer read what is written."""

GAIA_YEAR: Final = 2016.0
GAIA_RELEASE: Final = "Gaia DR3"

COVERAGE_FILE: Final = "coverage.json"
CHECKSUM_FILE: Final = "SHA256SUMS"
COUNTS_FILE: Final = "star_counts.parquet"
"""Counts of stars, where they were fetched (`counted`)."""
PROPERTIES_FILE: Final = "hats.properties"
FOOTER_KEY: Final = b"guidestar_coverage"
REPAIR: Final = "run 'guidestar stars verify --repair'"

_VARIABLE: Final = "GUIDESTAR_STORE"

SCHEMA: Final = {
    "_healpix_29": "int64", "source_id": "int64", "ra_deg": "float64", "dec_deg": "float64", "pm_ra": "float32",
    "pm_dec": "float32", "g": "float32", "bp": "float32", "rp": "float32", "ruwe": "float32", "flags": "uint16",
}  # fmt: skip
"""Columns of the files, null nowhere but NaN where unknown: degrees at 2016.0, mas/yr, magnitudes."""

Rows = dict[str, NDArray[Any]]


@dataclass(frozen=True)
class Coverage:
    """A part of the sky in which every star of `release` not fainter than `faintest_mag` is there.

    `origin` is the service or file that the stars are from, `date` the day (by this computer's clock).
    """

    region: Region
    faintest_mag: float
    release: str
    origin: str
    date: str

    def within(self, region: Region) -> Coverage:
        """Return the part of it that lies in a region."""
        return Coverage(regions.intersection(self.region, region), *self.kind)

    def outside(self, region: Region) -> Coverage:
        """Return the part of it that does not lie in a region."""
        return Coverage(regions.difference(self.region, region), *self.kind)

    @property
    def kind(self) -> tuple[float, str, str, str]:
        """All but the region: depth, release, origin, date."""
        return self.faintest_mag, self.release, self.origin, self.date

    def to_dict(self) -> dict[str, object]:
        """Return it as plain values, the region as an ASCII MOC."""
        names = ("faintest_mag", "release", "origin", "date")
        return {"moc": _moc(self.region.tobytes())} | dict(zip(names, self.kind, strict=True))

    @classmethod
    def from_dict(cls, values: dict[str, Any]) -> Coverage:
        """Return what `to_dict` gave; a ValueError, KeyError or InputError if it is something else."""
        texts = (str(values[name]) for name in ("release", "origin", "date"))
        return cls(regions.from_text(values["moc"]), float(values["faintest_mag"]), *texts)


@lru_cache(maxsize=8192)
def _moc(region: bytes) -> str:
    """Return a region's text; those of a store's files are asked for again with every change."""
    return regions.to_text(np.frombuffer(region, dtype=np.int64).reshape(-1, 2))


@dataclass(frozen=True)
class Store:
    """A store's folder, which need not exist yet."""

    path: Path

    @property
    def folder(self) -> HatsFolder:
        """The folder as a HATS catalogue."""
        return HatsFolder(self.path, REPAIR)

    @property
    def exists(self) -> bool:
        """Whether there is a store in the folder."""
        return (self.path / PROPERTIES_FILE).is_file()

    def require_readable(self) -> None:
        """Raise a DataError if the store is of a newer format, or its description is damaged."""
        if not self.exists:
            return
        file = self.path / PROPERTIES_FILE
        try:
            lines = file.read_text(encoding="utf-8").splitlines()
            found = int(dict(line.split("=", 1) for line in lines if "=" in line)["guidestar_store_format"])
        except (OSError, ValueError, KeyError) as error:
            raise self.folder.damaged(file, "it does not say which format the store has") from error
        if found > FORMAT:
            raise DataError(
                f"The star store {self.path} was written by a newer guidestar (format {found}, this one reads "
                f"{FORMAT}): update guidestar, or choose another folder with --store."
            )

    def file_of(self, pixel: int) -> Path:
        """Return the path of a pixel's file, which need not exist."""
        return self.path / Partition(FILE_ORDER, pixel).relative_path

    def pixels(self) -> list[int]:
        """Return the pixels that have a file, ascending."""
        names = (self.path / "dataset").glob(f"Norder={FILE_ORDER}/Dir=*/Npix=*.parquet")
        return sorted(int(name.stem.removeprefix("Npix=")) for name in names)

    def coverage_of(self, pixel: int) -> tuple[Coverage, ...]:
        """Return what a pixel's file covers; nothing if there is no file.

        Raises
        ------
        DataError
            The file is damaged.
        """
        file = self.file_of(pixel)
        try:
            footer = pq.read_metadata(file).metadata or {}
            return tuple(Coverage.from_dict(item) for item in json.loads(footer[FOOTER_KEY]))
        except FileNotFoundError:
            return ()
        except (OSError, ValueError, KeyError, TypeError, InputError, pa.ArrowException) as error:
            raise self.folder.damaged(file, f"its footer cannot be read: {error}") from error

    def coverage_in(self, region: Region) -> tuple[Coverage, ...]:
        """Return what the store covers in a region, cut to it."""
        if not self.exists:
            return ()
        self.require_readable()
        touched = regions.pixels_of(region, FILE_ORDER)
        if len(touched) > len(regions.pixels_of(regions.whole_sky(), FILE_ORDER)) // 4:
            touched = np.intersect1d(touched, np.array(self.pixels(), dtype=np.int64))
        parts = (item.within(region) for pixel in touched.tolist() for item in self.coverage_of(pixel))
        return tuple(part for part in parts if len(part.region))

    def missing(self, region: Region, faintest_mag: float) -> Region:
        """Return where in a region the store is not complete down to a magnitude."""
        return regions.difference(region, complete_to(self.coverage_in(region), faintest_mag))

    def complete_to_mag(self, region: Region) -> float | None:
        """Return down to where the store is complete all over a region; None if a part is not covered at all."""
        items = self.coverage_in(region)
        depths = sorted({item.faintest_mag for item in items}, reverse=True)
        return next((depth for depth in depths if regions.is_within(region, complete_to(items, depth))), None)

    def read(self, pixels: Iterable[int], columns: Sequence[str]) -> Rows:
        """Return columns of those pixels that have a file, joined; see `SCHEMA`."""
        there = [Partition(FILE_ORDER, pixel) for pixel in pixels if self.file_of(pixel).is_file()]
        return dict(self.folder.read(there, columns))


def complete_to(items: Iterable[Coverage], faintest_mag: float) -> Region:
    """Return where every star down to a magnitude is there."""
    return regions.union(*(item.region for item in items if item.faintest_mag >= faintest_mag))


def store_at(path: str | os.PathLike[str] | None = None) -> Store:
    """Return the store in a folder: the one given, else that of GUIDESTAR_STORE, else the person's data folder.

    Raises
    ------
    InputError
        It is a file.
    """
    chosen = path or os.environ.get(_VARIABLE)
    if chosen:
        folder = Path(chosen).expanduser()
        if folder.is_file():
            raise InputError(f'The star store "{folder}" is a file: name the folder of the store.')
        return Store(folder)
    import platformdirs

    return Store(platformdirs.user_data_path("guidestar", appauthor=False) / "stars")


def empty_rows() -> Rows:
    """Return no stars, in the columns of `SCHEMA`."""
    return {name: np.empty(0, dtype=kind) for name, kind in SCHEMA.items()}


def star_index(source_id: NDArray[np.int64], ra_deg: NDArray[np.float64], dec_deg: NDArray[np.float64]) -> Any:
    """Return each star's `_healpix_29`, int64, shape (n,).

    Gaia's `source_id` holds the order-12 pixel of a star in its upper bits, as the star was first seen. A star at
    the pixel's edge may have a position beyond it: such a star stays in the pixel of its number, because fetching
    goes by numbers. A number that names a place far from the star is another catalogue's, and only the position
    counts.
    """
    by_position = healpix.pixel_of(ra_deg, dec_deg)
    by_number = source_id >> 35
    known = (source_id > 0) & (by_number < healpix.pixel_count(12))
    ra, dec = healpix.pixel_centres(np.where(known, by_number, 0), 12)
    east = (np.mod(ra - ra_deg + 180.0, 360.0) - 180.0) * np.cos(np.radians(dec_deg))
    known &= np.hypot(east, dec - dec_deg) < _NEAR_DEG
    moved = known & (by_position >> 34 != by_number)
    return np.where(moved, by_number << 34, by_position)


_NEAR_DEG: Final = 0.1
"""Ten times the width of an order-12 pixel: more than any star moved between Gaia's first look and 2016."""
