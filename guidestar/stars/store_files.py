"""The files of a store: one of stars for each pixel, and those that follow from them."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from guidestar import __version__
from guidestar.errors import InputError
from guidestar.sky import regions
from guidestar.stars.store import (
    COVERAGE_FILE,
    FILE_ORDER,
    FOOTER_KEY,
    FORMAT,
    PROPERTIES_FILE,
    SCHEMA,
    Coverage,
    Rows,
    Store,
    complete_to,
)

PARTITION_FILE: Final = "partition_info.csv"
SCHEMA_FILE: Final = "dataset/_common_metadata"


@dataclass(frozen=True)
class FileEntry:
    """What `coverage.json` says about one pixel's file."""

    rows: int
    sha256: str
    coverage: tuple[Coverage, ...]

    def to_dict(self) -> dict[str, object]:
        """Return it as plain values."""
        return {"rows": self.rows, "sha256": self.sha256, "coverage": [item.to_dict() for item in self.coverage]}

    @classmethod
    def from_dict(cls, values: dict[str, Any]) -> FileEntry:
        """Return what `to_dict` gave."""
        items = tuple(Coverage.from_dict(item) for item in values["coverage"])
        return cls(int(values["rows"]), str(values["sha256"]), items)


Entries = dict[int, FileEntry]


def parquet_bytes(rows: Rows, coverage: Sequence[Coverage]) -> bytes:
    """Return the file of some stars, sorted, with what they cover in its footer."""
    order = np.lexsort((rows["source_id"], rows["_healpix_29"]))
    table = pa.table({name: pa.array(rows[name][order].astype(kind)) for name, kind in SCHEMA.items()})
    items = sorted((item.to_dict() for item in coverage), key=lambda item: str(item["moc"]))
    table = table.replace_schema_metadata({FOOTER_KEY: json.dumps(items)})
    sink = pa.BufferOutputStream()
    pq.write_table(table, sink, compression="zstd", write_page_checksum=True, use_dictionary=["flags"])
    return bytes(sink.getvalue().to_pybytes())


def describe(content: bytes) -> FileEntry:
    """Return what `coverage.json` says about a file of this content."""
    meta = pq.read_metadata(pa.BufferReader(content))
    items = tuple(Coverage.from_dict(item) for item in json.loads(meta.metadata[FOOTER_KEY]))
    return FileEntry(meta.num_rows, hashlib.sha256(content).hexdigest(), items)


def derived_files(entries: Entries) -> dict[str, bytes]:
    """Return the files that follow from the pixels' files: coverage, list of pixels, properties."""
    pixels = "".join(f"{FILE_ORDER},{pixel}\n" for pixel in entries)
    schema = pa.BufferOutputStream()
    pq.write_metadata(pa.schema([(name, pa.from_numpy_dtype(kind)) for name, kind in SCHEMA.items()]), schema)
    return {
        SCHEMA_FILE: bytes(schema.getvalue().to_pybytes()),
        COVERAGE_FILE: _coverage_text(entries).encode(),
        PARTITION_FILE: f"Norder,Npix\n{pixels}".encode(),
        PROPERTIES_FILE: _properties(entries).encode(),
    }


def _coverage_text(entries: Entries) -> str:
    items = [item for entry in entries.values() for item in entry.coverage]
    depths = [
        {"faintest_mag": depth, "moc": regions.to_text(complete_to(items, depth))}
        for depth in sorted({item.faintest_mag for item in items})
    ]
    # One line a file, each made by the quick encoder: this is written again with every change to the store.
    head = json.dumps({"schema": f"guidestar.store/{FORMAT}", "complete_to": depths})
    files = ",\n".join(f'"{pixel}": {json.dumps(entry.to_dict())}' for pixel, entry in entries.items())
    return f'{head[:-1]}, "files": {{\n{files}\n}}}}\n'


def _properties(entries: Entries) -> str:
    covered = regions.union(*(item.region for entry in entries.values() for item in entry.coverage))
    lines = {
        "obs_collection": "gaia_local",
        "obs_title": "Stars of Gaia kept locally",
        "obs_copyright": "ESA/Gaia/DPAC",
        "dataproduct_type": "object",
        "hats_version": "v1.0",
        "hats_builder": f"guidestar {__version__}",
        "hats_col_ra": "ra_deg",
        "hats_col_dec": "dec_deg",
        "hats_col_healpix": "_healpix_29",
        "hats_col_healpix_order": "29",
        "hats_npix_suffix": ".parquet",
        "hats_order": str(FILE_ORDER),
        "hats_nrows": str(sum(entry.rows for entry in entries.values())),
        "hats_max_rows": str(max((entry.rows for entry in entries.values()), default=0)),
        "moc_sky_fraction": f"{regions.area_deg2(covered) / regions.SKY_DEG2:.5f}",
        "guidestar_store_format": str(FORMAT),
    }
    return "#HATS catalog\n" + "".join(f"{key}={value}\n" for key, value in lines.items())


def read_entries(store: Store) -> Entries:
    """Return what `coverage.json` says about each pixel's file.

    Raises
    ------
    DataError
        The file is damaged, or missing from a store.
    """
    file = store.path / COVERAGE_FILE
    try:
        files = json.loads(file.read_text(encoding="utf-8"))["files"]
        return {int(pixel): FileEntry.from_dict(entry) for pixel, entry in files.items()}
    except FileNotFoundError:
        if not store.exists and not store.pixels():
            return {}
        raise store.folder.missing(file) from None
    except (OSError, ValueError, KeyError, TypeError, AttributeError, InputError) as error:
        raise store.folder.damaged(file, "it does not describe a store") from error


def checksum_text(sums: dict[str, str]) -> str:
    """Return the list of checksums as `sha256sum` reads it, with its own checksum as a comment in front."""
    lines = "".join(f"{digest}  {name}\n" for name, digest in sorted(sums.items()))
    return f"# {hashlib.sha256(lines.encode()).hexdigest()} of the lines below\n{lines}"


def parse_checksums(content: bytes) -> dict[str, str] | None:
    """Return the checksums by name, or None if the list is not exactly as it was written."""
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        return None
    sums = {name: digest for digest, name in re.findall(r"^([0-9a-f]{64})  (.+)$", text, re.MULTILINE)}
    return sums if checksum_text(sums) == text else None
