"""Reading files of stars a part at a time: Parquet, CSV, FITS or VOTable with named columns.

Only a VOTable is read whole, because its reader can do no other.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from guidestar.errors import InputError

NAMES: Final = {
    "source_id": ("source_id", "source", "dr3name"),
    "ra": ("ra", "ra_icrs", "ra_deg"),
    "dec": ("dec", "de_icrs", "dec_deg"),
    "g": ("phot_g_mean_mag", "gmag", "g_mag", "g"),
    "pmra": ("pmra", "pm_ra"),
    "pmdec": ("pmdec", "pmde", "pm_dec"),
    "bp": ("phot_bp_mean_mag", "bpmag", "bp"),
    "rp": ("phot_rp_mean_mag", "rpmag", "rp"),
    "ruwe": ("ruwe",),
    "galaxy": ("in_galaxy_candidates",),
}
"""Names that a column may have, in any case: Gaia's own, the CDS's, and plain ones. The first four are needed."""

REQUIRED: Final = ("source_id", "ra", "dec", "g")

ROWS_AT_ONCE: Final = 200_000

_CSV_BLOCK_BYTES: Final = 4 << 20

_FITS: Final = (".fits", ".fit", ".fits.gz")
_VOTABLE: Final = (".vot", ".votable", ".xml", ".vot.gz")

RawColumns = dict[str, NDArray[Any]]


def read_batches(path: Path) -> Iterator[RawColumns]:
    """Return the known columns of a file by our names, some rows at a time, NaN where a number is missing.

    Raises
    ------
    InputError
        No such file, a kind that is not known, an unreadable one, or one that lacks a column; also on the way.
    """
    if path.is_dir():
        raise InputError(f'"{path}" is a folder: name the file of stars inside it.')
    if not path.is_file():
        raise InputError(f'There is no file "{path}": check the path.')
    try:
        yield from _reader(path)
    except (OSError, ValueError, KeyError, TypeError, IndexError) as error:  # pyarrow's errors are ValueErrors
        reason = " ".join(str(error).split())[:120].rstrip(".")
        raise InputError(f'The file "{path}" cannot be read ({reason}): is it whole?') from error


def _reader(path: Path) -> Iterator[RawColumns]:
    name = path.name.lower()
    if name.endswith((".parquet", ".pq")):
        return _from_parquet(path)
    if name.endswith((".csv", ".csv.gz")):
        return _from_csv(path)
    if name.endswith(_FITS + _VOTABLE):
        return _from_astropy(path, "fits" if name.endswith(_FITS) else "votable")
    raise InputError(f'"{path}" is no kind of file that can be imported: use .parquet, .csv, .fits or .vot.')


def _chosen(there: Iterable[str], path: Path) -> dict[str, str]:
    """Return which of a file's columns stands for each of ours."""
    names = list(there)
    by_lower = {name.lower(): name for name in reversed(names)}
    found = {
        ours: next(by_lower[name] for name in theirs if name in by_lower)
        for ours, theirs in NAMES.items()
        if any(name in by_lower for name in theirs)
    }
    lacking = [f"{NAMES[name][0]}" for name in REQUIRED if name not in found]
    if lacking:
        shown = ", ".join(names[:12]) + (" …" if len(names) > 12 else "")
        raise InputError(f'The file "{path}" has no column {" and no column ".join(lacking)} (it has: {shown}).')
    return found


def _from_parquet(path: Path) -> Iterator[RawColumns]:
    import pyarrow.parquet as pq

    with pq.ParquetFile(path) as file:
        chosen = _chosen(file.schema_arrow.names, path)
        # Group by group: one run over all of them keeps what it has read until its end (pyarrow 26).
        for group in range(file.num_row_groups):
            for batch in file.iter_batches(ROWS_AT_ONCE, row_groups=[group], columns=list(chosen.values())):
                yield {ours: _arrow_array(batch.column(theirs)) for ours, theirs in chosen.items()}


def _from_csv(path: Path) -> Iterator[RawColumns]:
    import pyarrow as pa
    import pyarrow.csv as pc

    with pc.open_csv(path) as lines:
        chosen = _chosen(lines.schema.names, path)
    # Said outright: a type that is guessed from the first rows would be wrong where those are empty.
    special = {"source_id": pa.int64(), "galaxy": pa.string()}
    types = {theirs: special.get(ours, pa.float64()) for ours, theirs in chosen.items()}
    options = pc.ConvertOptions(include_columns=list(chosen.values()), column_types=types)
    try:
        with pc.open_csv(path, pc.ReadOptions(block_size=_CSV_BLOCK_BYTES), convert_options=options) as batches:
            for batch in batches:
                yield {ours: _arrow_array(batch.column(theirs)) for ours, theirs in chosen.items()}
    except pa.ArrowInvalid as error:
        raise _no_number(path, str(error)) or error from error


def _no_number(path: Path, message: str) -> InputError | None:
    """Return the error for a cell of a CSV file that is no number, if that is what pyarrow's message says."""
    found = re.search(r"conversion error to (int64|double): invalid value '(.*)'", message)
    if found is None:
        return None
    needed = "whole numbers, with every digit" if found[1] == "int64" else "numbers"
    return InputError(f'The file "{path}" holds "{found[2][:40]}" in a column that must hold {needed}.')


def _arrow_array(column: Any) -> NDArray[Any]:
    import pyarrow as pa

    if pa.types.is_boolean(column.type) or pa.types.is_null(column.type):
        return np.array([np.nan if value is None else value for value in column.to_pylist()])
    return np.asarray(column.to_numpy(zero_copy_only=False))


def _from_astropy(path: Path, kind: str) -> Iterator[RawColumns]:
    from astropy.table import Table

    # A FITS table stays in its file until rows of it are asked for.
    more = {"memmap": True, "mask_invalid": False} if kind == "fits" else {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a file that is cut short is told of in a sentence, by the reader's error
        table = Table.read(path, format=kind, **more)
    chosen = _chosen(table.colnames, path)
    for start in range(0, max(len(table), 1), ROWS_AT_ONCE):
        part = slice(start, start + ROWS_AT_ONCE)
        yield {ours: _astropy_array(table[theirs][part]) for ours, theirs in chosen.items()}


def _astropy_array(column: Any) -> NDArray[Any]:
    values = np.ma.asarray(column)
    if values.dtype.kind == "f":
        return np.asarray(np.ma.filled(values.astype(np.float64), np.nan))
    return np.asarray(values.filled(0) if np.ma.is_masked(values) else np.asarray(column))
