"""Build `data/tycho2` from the original files of the Tycho-2 Catalogue (CDS I/259).

    python data/build_tycho2.py DIRECTORY [--out data/tycho2]

DIRECTORY holds `tyc2.dat.00` to `tyc2.dat.19` and `suppl_1.dat`, uncompressed. The same input gives the same
bytes with the same pyarrow version; `data/README.md` says what is in the result and where the originals are.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import shutil
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from guidestar.sky import healpix
from guidestar.stars import photometry
from guidestar.stars.flags import CLOSE_NEIGHBOUR_ARCSEC, StarFlag, flag_where
from guidestar.stars.hats import Partition

ALL_ROWS = 2_539_913 + 17_588
PARTITION_ORDER = 2
POSITION_STEPS_PER_DEG = 2.0**26
LAYOUT_DATE = "2026-11-25T00:00UTC"  # of this layout, fixed: a clock would change the bytes

# First and last byte, counted from 1, of the fields used, as the catalogue's ReadMe gives them.
MAIN_BYTES = {
    "tyc1": (1, 4), "tyc2": (6, 10), "tyc3": (12, 12), "mean_flag": (14, 14), "mean_ra": (16, 27),
    "mean_dec": (29, 40), "pm_ra": (42, 48), "pm_dec": (50, 56), "bt": (111, 116), "vt": (124, 129),
    "prox": (137, 139), "hip": (143, 148), "seen_ra": (153, 164), "seen_dec": (166, 177),
    "seen_ra_year": (179, 182), "seen_dec_year": (184, 187), "solution": (201, 201),
}  # fmt: skip
SUPPLEMENT_BYTES = {
    "tyc1": (1, 4), "tyc2": (6, 10), "tyc3": (12, 12), "ra": (16, 27), "dec": (29, 40), "pm_ra": (42, 48),
    "pm_dec": (50, 56), "magnitude_flag": (82, 82), "bt": (84, 89), "vt": (97, 102), "prox": (110, 112),
    "hip": (116, 121),
}  # fmt: skip
MAIN_WIDTH, SUPPLEMENT_WIDTH = 206, 122

SCHEMA = pa.schema(
    [("_healpix_29", pa.int64())]
    + [(name, pa.float64()) for name in ("ra_deg", "dec_deg", "epoch", "pm_ra", "pm_dec", "bt", "vt", "g", "v")]
    + [("tyc1", pa.int16()), ("tyc2", pa.int16()), ("tyc3", pa.int8())]
    + [("hip", pa.int32()), ("prox", pa.int16()), ("flags", pa.uint16())]
)
# The smallest of those that pyarrow 15 reads, measured column by column; a column that is not named is
# dictionary-encoded, which keeps decimal fractions exact at the cost of about one byte and a half.
ENCODINGS = {
    "_healpix_29": "DELTA_BINARY_PACKED", "ra_deg": "BYTE_STREAM_SPLIT", "dec_deg": "BYTE_STREAM_SPLIT",
    "tyc1": "PLAIN", "tyc2": "DELTA_BINARY_PACKED", "hip": "DELTA_BINARY_PACKED", "prox": "PLAIN",
}  # fmt: skip

PROPERTIES = {
    "obs_collection": "tycho2",
    "obs_title": "Tycho-2 Catalogue with supplement 1, G and V derived",
    "dataproduct_type": "object",
    "bib_reference": "2000A&A...355L..27H",
    "obs_regime": "Optical",
    "hats_version": "v1.0",
    "hats_builder": "guidestar data/build_tycho2.py",
    "hats_creation_date": LAYOUT_DATE,
    "hats_col_ra": "ra_deg",
    "hats_col_dec": "dec_deg",
    "hats_col_healpix": "_healpix_29",
    "hats_col_healpix_order": str(healpix.INDEX_ORDER),
    "hats_npix_suffix": ".parquet",
    "hats_order": str(PARTITION_ORDER),
}

Fields = dict[str, NDArray[np.generic]]


class BuildError(Exception):
    """The originals cannot be used."""


@dataclass(frozen=True)
class Record:
    """What an input or output file was."""

    name: str
    bytes: int
    sha256: str

    @classmethod
    def of(cls, file: Path, name: str) -> Record:
        """Describe a file under a name."""
        return cls(name, file.stat().st_size, hashlib.sha256(file.read_bytes()).hexdigest())


def fields_of(file: Path, width: int, places: dict[str, tuple[int, int]]) -> Fields:
    """Return the fields of a file of fixed-width lines: numbers as floats with NaN for blanks, flags as bytes."""
    content = file.read_bytes()
    if len(content) % (width + 1) or not content:
        raise BuildError(f"{file} has {len(content)} bytes, which is not a whole number of {width + 1}-byte lines.")
    lines = np.frombuffer(content, dtype=np.uint8).reshape(-1, width + 1)
    if np.any(lines[:, -1] != ord("\n")) or np.any(lines[:, :-1] == ord("\n")):
        raise BuildError(f"{file} has lines that are not {width} characters long.")
    flags = {"mean_flag", "solution", "magnitude_flag"}
    return {
        name: (_text if name in flags else _numbers)(lines[:, first - 1 : last])
        for name, (first, last) in places.items()
    }


def _text(cells: NDArray[np.uint8]) -> NDArray[np.bytes_]:
    return np.ascontiguousarray(cells).view(f"S{cells.shape[1]}").ravel()


def _numbers(cells: NDArray[np.uint8]) -> NDArray[np.float64]:
    blank = np.all(cells == ord(" "), axis=1)
    text = np.where(blank, b"nan", _text(cells))
    return text.astype(np.float64)


def main_stars(fields: Fields) -> Fields:
    """Return the output's fields for lines of the main catalogue, before rounding and photometry."""
    observed = fields["mean_flag"] == b"X"
    seen_epoch = 1990.0 + (fields["seen_ra_year"] + fields["seen_dec_year"]) / 2.0
    flags = flag_where(observed, StarFlag.NO_MEAN_POSITION)
    flags |= flag_where((fields["mean_flag"] == b"P") | (fields["solution"] == b"P"), StarFlag.PHOTOCENTRE)
    flags |= flag_where(fields["solution"] == b"D", StarFlag.DOUBLE)
    return {
        **_shared(fields),
        "ra_deg": np.where(observed, fields["seen_ra"], fields["mean_ra"]),
        "dec_deg": np.where(observed, fields["seen_dec"], fields["mean_dec"]),
        "epoch": np.where(observed, np.round(seen_epoch, 3), 2000.0),
        "hp_given": np.zeros(len(observed), dtype=bool),
        "flags": flags,
    }


def supplement_stars(fields: Fields) -> Fields:
    """Return the output's fields for lines of supplement 1, before rounding and photometry."""
    everyone = np.ones(len(fields["ra"]), dtype=bool)
    return {
        **_shared(fields),
        "ra_deg": fields["ra"],
        "dec_deg": fields["dec"],
        "epoch": np.full(len(everyone), 1991.25),
        "hp_given": fields["magnitude_flag"] == b"H",
        "flags": flag_where(everyone, StarFlag.SUPPLEMENT),
    }


def _shared(fields: Fields) -> Fields:
    return {name: fields[name] for name in ("tyc1", "tyc2", "tyc3", "pm_ra", "pm_dec", "bt", "vt", "prox", "hip")}


def finish(stars: Fields) -> pa.Table:
    """Return the table sorted by `_healpix_29`: positions rounded, magnitudes and remaining flags worked out."""
    ra_deg, dec_deg = (_to_step(stars[name]) for name in ("ra_deg", "dec_deg"))
    derived = photometry.derive(stars["bt"], stars["vt"], stars["hp_given"])
    flags = stars["flags"] | derived.flags
    flags |= flag_where(np.isnan(stars["pm_ra"]), StarFlag.NO_PROPER_MOTION)
    flags |= flag_where(stars["prox"] < 10.0 * CLOSE_NEIGHBOUR_ARCSEC, StarFlag.CLOSE_NEIGHBOUR)
    flags |= flag_where(_named_twice(stars) & (flags & StarFlag.SUPPLEMENT > 0), StarFlag.SHARED_NAME)
    columns = {
        **stars,
        "_healpix_29": healpix.pixel_of(ra_deg, dec_deg),
        "ra_deg": ra_deg,
        "dec_deg": dec_deg,
        "g": np.round(derived.g_mag, 2),
        "v": np.round(derived.v_mag, 2),
        "flags": flags,
    }
    order = np.lexsort((columns["tyc3"], columns["tyc2"], columns["tyc1"], columns["_healpix_29"]))
    return pa.table([_column(columns[field.name][order], field.type) for field in SCHEMA], schema=SCHEMA)


def _named_twice(stars: Fields) -> NDArray[np.bool_]:
    names = stars["tyc1"] * 1_000_000 + stars["tyc2"] * 10 + stars["tyc3"]
    _, name_of, times = np.unique(names, return_inverse=True, return_counts=True)
    return times[name_of] > 1


def _to_step(degrees: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.round(degrees * POSITION_STEPS_PER_DEG) / POSITION_STEPS_PER_DEG


def _column(values: NDArray[np.generic], kind: pa.DataType) -> pa.Array:
    if not np.issubdtype(values.dtype, np.floating):
        return pa.array(values, type=kind)
    missing = np.isnan(values)
    return pa.array(np.where(missing, 0.0, values), mask=missing).cast(kind)


def write(table: pa.Table, out: Path) -> None:
    """Write the table as a HATS catalogue."""
    pixels = table.column("_healpix_29").to_numpy() >> 2 * (healpix.INDEX_ORDER - PARTITION_ORDER)
    edges = np.searchsorted(pixels, np.arange(healpix.pixel_count(PARTITION_ORDER) + 1))
    filled = [pixel for pixel in range(len(edges) - 1) if edges[pixel + 1] > edges[pixel]]
    footers = [
        write_partition(
            table.slice(edges[pixel], edges[pixel + 1] - edges[pixel]), Partition(PARTITION_ORDER, pixel), out
        )
        for pixel in filled
    ]
    pq.write_metadata(SCHEMA, out / "dataset" / "_metadata", metadata_collector=footers, store_schema=False)
    pq.write_metadata(SCHEMA, out / "dataset" / "_common_metadata", store_schema=False)
    with (out / "partition_info.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, lineterminator="\n").writerows([("Norder", "Npix"), *((PARTITION_ORDER, p) for p in filled)])
    most = int(np.diff(edges).max())
    write_properties(table.num_rows, most, len(filled) / (len(edges) - 1), out)


def write_partition(rows: pa.Table, partition: Partition, out: Path) -> pq.FileMetaData:
    """Write one file, one row group, and return its footer for `_metadata`."""
    file = out / partition.relative_path
    file.parent.mkdir(parents=True, exist_ok=True)
    footers: list[pq.FileMetaData] = []
    pq.write_table(
        rows.combine_chunks(),
        file,
        row_group_size=rows.num_rows,
        compression="zstd",
        compression_level=19,
        use_dictionary=[name for name in SCHEMA.names if name not in ENCODINGS],
        column_encoding=ENCODINGS,
        dictionary_pagesize_limit=1 << 22,
        store_schema=False,
        write_page_checksum=True,
        metadata_collector=footers,
    )
    footers[0].set_file_path(partition.relative_path.removeprefix("dataset/"))
    return footers[0]


def write_properties(rows: int, most: int, sky_fraction: float, out: Path) -> None:
    counted = {"hats_nrows": str(rows), "hats_max_rows": str(most), "moc_sky_fraction": f"{sky_fraction:.5f}"}
    lines = [f"{key}={value}\n" for key, value in {**PROPERTIES, **counted}.items()]
    (out / "hats.properties").write_text("#HATS catalog\n" + "".join(lines), encoding="utf-8", newline="\n")


def write_records(inputs: Iterable[Path], out: Path) -> None:
    """Record what was read, and the SHA-256 of every file written, in the form `sha256sum --check` reads."""
    record = {
        "pyarrow": pa.__version__,
        "inputs": [vars(Record.of(file, file.name)) for file in inputs],
    }
    (out / "inputs.json").write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8", newline="\n")
    built = sorted(file for file in out.rglob("*") if file.is_file() and file.name != "SHA256SUMS")
    sums = [Record.of(file, file.relative_to(out).as_posix()) for file in built]
    text = "".join(f"{one.sha256}  {one.name}\n" for one in sums)
    (out / "SHA256SUMS").write_text(text, encoding="utf-8", newline="\n")


def build(originals: Path, out: Path, expected_rows: int) -> int:
    """Build the catalogue and return its number of rows; nothing is written unless all of them were read."""
    main_files = sorted(originals.glob("tyc2.dat.[0-9][0-9]"))
    supplement = originals / "suppl_1.dat"
    if not main_files or not supplement.is_file():
        raise BuildError(f"{originals} does not hold tyc2.dat.00 to .19 and suppl_1.dat, uncompressed.")
    parts = [main_stars(fields_of(file, MAIN_WIDTH, MAIN_BYTES)) for file in main_files]
    parts.append(supplement_stars(fields_of(supplement, SUPPLEMENT_WIDTH, SUPPLEMENT_BYTES)))
    table = finish({name: np.concatenate([part[name] for part in parts]) for name in parts[0]})
    if table.num_rows != expected_rows:
        raise BuildError(
            f"{originals} holds {table.num_rows} stars, not {expected_rows}: some file is not the original."
        )
    unfinished = out.with_name(out.name + ".unfinished")
    shutil.rmtree(unfinished, ignore_errors=True)
    write(table, unfinished)
    write_records([*main_files, supplement], unfinished)
    shutil.rmtree(out, ignore_errors=True)
    unfinished.rename(out)
    return table.num_rows


def main(arguments: list[str] | None = None) -> int:
    """Run the builder from the command line."""
    parser = argparse.ArgumentParser(description="Build data/tycho2 from the original files of the Tycho-2 Catalogue.")
    parser.add_argument("originals", type=Path, help="directory with tyc2.dat.00 to .19 and suppl_1.dat")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent / "tycho2", help="replaced by the result")
    parser.add_argument("--expect-rows", type=int, default=ALL_ROWS, help="refuse any other number of stars")
    options = parser.parse_args(arguments)
    try:
        rows = build(options.originals, options.out, options.expect_rows)
    except (BuildError, OSError, ValueError) as error:
        print(f"build_tycho2: {error}", file=sys.stderr)
        return 2
    size = sum(file.stat().st_size for file in options.out.rglob("*") if file.is_file())
    print(f"{rows} stars, {size / 1e6:.1f} MB in {options.out}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
