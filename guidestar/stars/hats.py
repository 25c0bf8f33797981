"""Reading a catalogue in the HATS layout: Parquet files, one a HEALPix pixel.

Layout (HATS, IVOA Note 1.0): `dataset/Norder=k/Dir=m/Npix=n.parquet` with m = 10000·⌊n/10000⌋, and
`partition_info.csv` listing the pixels that exist. Orders may differ between pixels. Pages are checked against
the checksums inside the files wherever those were written with any.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from guidestar.errors import DataError
from guidestar.sky import healpix

Columns = dict[str, NDArray[np.generic]]

_LONGEST_REASON: Final = 150

_NUMBERS: Final = {
    "double": np.float64, "float": np.float32,
    "int8": np.int8, "int16": np.int16, "int32": np.int32, "int64": np.int64,
    "uint8": np.uint8, "uint16": np.uint16, "uint32": np.uint32, "uint64": np.uint64,
}  # fmt: skip


@dataclass(frozen=True, order=True)
class Partition:
    """One pixel with its own file."""

    order: int
    pixel: int

    @property
    def relative_path(self) -> str:
        """Path of the file from the catalogue's folder."""
        directory = self.pixel // 10000 * 10000
        return f"dataset/Norder={self.order}/Dir={directory}/Npix={self.pixel}.parquet"


@dataclass(frozen=True)
class HatsFolder:
    """A catalogue's folder.

    Attributes
    ----------
    path : Path
        The folder that holds `partition_info.csv` and `dataset`.
    repair : str
        What to do if a file is missing or damaged; ends every error message.
    """

    path: Path
    repair: str

    @cached_property
    def partitions(self) -> tuple[Partition, ...]:
        """Every partition that `partition_info.csv` lists, in order."""
        file = self.path / "partition_info.csv"
        try:
            with file.open(newline="", encoding="utf-8") as lines:
                rows = [Partition(int(row["Norder"]), int(row["Npix"])) for row in csv.DictReader(lines)]
        except FileNotFoundError:
            raise self.missing(file) from None
        except (OSError, UnicodeDecodeError, csv.Error, KeyError, TypeError, ValueError) as error:
            raise self.damaged(file, "it is not a list of orders and pixels") from error
        if not rows:
            raise self.damaged(file, "it lists no file")
        return tuple(sorted(rows))

    def partitions_touching(self, ra_deg: float, dec_deg: float, radius_deg: float) -> list[Partition]:
        """Return the partitions that may hold stars within a circle (degrees, ICRS)."""
        found = []
        for order in sorted({partition.order for partition in self.partitions}):
            pixels = set(healpix.pixels_touching_circle(ra_deg, dec_deg, radius_deg, order).tolist())
            found += [part for part in self.partitions if part.order == order and part.pixel in pixels]
        return found

    def read(self, partitions: Sequence[Partition], columns: Sequence[str]) -> Columns:
        """Return columns of some partitions, joined, shape (n,) each.

        Missing numbers come back as NaN in floating-point columns and as 0 in whole-number ones.

        Raises
        ------
        DataError
            A file is missing or damaged, or lacks a column.
        """
        tables = [self._read_one(partition, columns) for partition in partitions]
        if not tables:
            return {name: np.empty(0) for name in columns}
        return {name: np.concatenate([table[name] for table in tables]) for name in columns}

    def _read_one(self, partition: Partition, columns: Sequence[str]) -> Columns:
        file = self.path / partition.relative_path
        try:
            with pq.ParquetFile(file, memory_map=True, page_checksum_verification=True) as parquet:
                table = parquet.read(columns=list(columns), use_threads=False)
            return {name: column_as_numpy(table.column(name)) for name in columns}
        except FileNotFoundError:
            raise self.missing(file) from None
        except (OSError, ValueError, KeyError, pa.ArrowException) as error:
            raise self.damaged(file, str(error)) from error

    def missing(self, file: Path) -> DataError:
        """Return the error for a file that is not there."""
        return DataError(f"The catalogue file {file} is missing: {self.repair}.")

    def damaged(self, file: Path, reason: str) -> DataError:
        """Return the error for a file that cannot be used, with what was found wrong."""
        short = " ".join(reason.split()).rstrip(".")[:_LONGEST_REASON]
        return DataError(f"The catalogue file {file} is damaged ({short}): {self.repair}.")


def column_as_numpy(column: pa.ChunkedArray) -> NDArray[np.generic]:
    """Return a column of numbers as an array, NaN (or 0 for whole numbers) where missing.

    Read from Arrow's own buffers, because pyarrow's `to_numpy` imports pandas where that is installed (0.2 s), and
    so does its own table of types.
    """
    chunks = [_chunk_as_numpy(chunk) for chunk in column.chunks]
    return chunks[0] if len(chunks) == 1 else np.concatenate(chunks)


def _chunk_as_numpy(chunk: pa.Array) -> NDArray[np.generic]:
    valid, data = chunk.buffers()
    within = slice(chunk.offset, chunk.offset + len(chunk))
    values = np.frombuffer(data, dtype=_NUMBERS[str(chunk.type)])[within]
    if not chunk.null_count:
        return values
    present = np.unpackbits(np.frombuffer(valid, dtype=np.uint8), bitorder="little")[within].astype(bool)
    missing = np.nan if np.issubdtype(values.dtype, np.floating) else 0
    return np.where(present, values, np.asarray(missing, dtype=values.dtype))
