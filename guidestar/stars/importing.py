"""Stars from a file, for a computer without a network: Parquet, CSV, FITS or VOTable with named columns.

A file cannot say of which sky it holds every star; the person has to, because `check` counts on it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from guidestar.errors import InputError
from guidestar.sky import epoch, regions
from guidestar.sky.regions import Region
from guidestar.stars import store_write
from guidestar.stars.gaia import rows_of
from guidestar.stars.store import GAIA_RELEASE, GAIA_YEAR, Coverage, Store

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

_FITS: Final = (".fits", ".fit", ".fits.gz")
_VOTABLE: Final = (".vot", ".votable", ".xml", ".vot.gz")

RawColumns = dict[str, NDArray[Any]]


def import_file(
    store: Store,
    path: str | Path,
    region: Region,
    faintest_mag: float | None = None,
    *,
    epoch_year: float = GAIA_YEAR,
    release: str = GAIA_RELEASE,
) -> tuple[int, float]:
    """Bring the stars of a file into the store.

    Parameters
    ----------
    store : Store
        Made if it does not exist.
    path : path
        Its name's ending says what kind of file it is.
    region : Region
        The sky of which the file holds every star down to `faintest_mag`; stars outside are left out.
    faintest_mag : float, optional
        Gaia G; that of the faintest star in the region by default.
    epoch_year : float
        Julian year of the positions; they are moved to 2016.0.
    release : str
        What the stars are called by, before their number.

    Returns
    -------
    stars, faintest_mag
        How many were taken, and how deep the store now is there.

    Raises
    ------
    InputError
        The file cannot be read, lacks a column, holds impossible values, or no star in the region.
    DataError
        The store cannot be written.
    """
    columns = read_columns(Path(path))
    number, floats, galaxy = _checked(columns, path)
    if epoch_year != GAIA_YEAR:
        motion = (np.nan_to_num(floats["pmra"]), np.nan_to_num(floats["pmdec"]))
        floats["ra"], floats["dec"] = epoch.moved(floats["ra"], floats["dec"], *motion, GAIA_YEAR - epoch_year)
    rows = rows_of(number, floats, galaxy)
    inside = regions.contains(region, rows["_healpix_29"]) & np.isfinite(rows["g"])
    if not np.any(inside):
        raise InputError(f'None of the {len(number):,} stars of "{path}" lies in the sky that it is said to cover.')
    depth = float(np.max(rows["g"][inside])) if faintest_mag is None else faintest_mag
    inside &= rows["g"] <= np.float32(depth)
    chosen = {name: values[inside] for name, values in rows.items()}
    today = datetime.now(UTC).date().isoformat()
    store_write.put(store, chosen, Coverage(region, depth, release, Path(path).name, today))
    return int(np.count_nonzero(inside)), depth


def read_columns(path: Path) -> RawColumns:
    """Return the known columns of a file by our names, NaN where a number is missing.

    Raises
    ------
    InputError
        No such file, a kind that is not known, an unreadable one, or one that lacks a column.
    """
    if not path.is_file():
        raise InputError(f'There is no file "{path}": check the path.')
    name = path.name.lower()
    try:
        if name.endswith((".parquet", ".pq")):
            return _from_parquet(path)
        if name.endswith((".csv", ".csv.gz")):
            return _from_csv(path)
        if name.endswith(_FITS + _VOTABLE):
            return _from_astropy(path, "fits" if name.endswith(_FITS) else "votable")
    except (OSError, ValueError, KeyError, TypeError, IndexError) as error:  # pyarrow's errors are ValueErrors
        reason = " ".join(str(error).split())[:120].rstrip(".")
        raise InputError(f'The file "{path}" cannot be read ({reason}): is it whole?') from error
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


def _from_parquet(path: Path) -> RawColumns:
    import pyarrow.parquet as pq

    with pq.ParquetFile(path) as file:
        chosen = _chosen(file.schema_arrow.names, path)
        table = file.read(columns=list(chosen.values()))
    return {ours: _arrow_array(table.column(theirs)) for ours, theirs in chosen.items()}


def _from_csv(path: Path) -> RawColumns:
    import pyarrow.csv as pc

    with pc.open_csv(path) as lines:
        chosen = _chosen(lines.schema.names, path)
    table = pc.read_csv(path, convert_options=pc.ConvertOptions(include_columns=list(chosen.values())))
    return {ours: _arrow_array(table.column(theirs)) for ours, theirs in chosen.items()}


def _arrow_array(column: Any) -> NDArray[Any]:
    import pyarrow as pa

    whole = pa.types.is_integer(column.type) and not column.null_count
    return (
        np.asarray(column.to_numpy(zero_copy_only=False))
        if whole
        else np.array([np.nan if value is None else value for value in column.to_pylist()])
    )


def _from_astropy(path: Path, kind: str) -> RawColumns:
    try:
        from astropy.table import Table
    except ImportError:
        raise InputError(
            f'Reading "{path}" needs the package astropy: python -m pip install "guidestar[fetch]", or save it as CSV.'
        ) from None
    table = Table.read(path, format=kind)
    chosen = _chosen(table.colnames, path)
    return {ours: _astropy_array(table[theirs]) for ours, theirs in chosen.items()}


def _astropy_array(column: Any) -> NDArray[Any]:
    values = np.ma.asarray(column)
    if values.dtype.kind == "f":
        return np.asarray(np.ma.filled(values.astype(np.float64), np.nan))
    return np.asarray(values.filled(0) if np.ma.is_masked(values) else np.asarray(column))


def _checked(columns: RawColumns, path: str | Path) -> tuple[NDArray[np.int64], dict[str, Any], NDArray[np.bool_]]:
    """Return numbers, float columns and the mark of galaxies, or say which value is impossible."""
    number = columns["source_id"]
    if number.dtype.kind not in "iu":
        raise InputError(
            f'The column source_id of "{path}" does not hold whole numbers: as decimals they lose their last digits, '
            "so save them as whole numbers."
        )
    lost = np.full(len(number), np.nan)
    floats = {
        name: _as_floats(columns[name], name, path) if name in columns else lost
        for name in NAMES
        if name not in ("source_id", "galaxy")
    }
    for name, low, high in (("ra", 0.0, 360.0), ("dec", -90.0, 90.0)):
        wrong = ~((floats[name] >= low) & (floats[name] <= high))
        if np.any(wrong):
            row = int(np.flatnonzero(wrong)[0])
            raise InputError(
                f'The column {name} of "{path}" holds {floats[name][row]:g} in row {row + 1}: it must be in degrees '
                f"from {low:g} to {high:g}."
            )
    galaxy = columns.get("galaxy", np.zeros(len(number), dtype=bool))
    return number.astype(np.int64), floats, np.isin(np.char.lower(galaxy.astype(str)), ("true", "t", "1"))


def _as_floats(values: NDArray[Any], name: str, path: str | Path) -> NDArray[np.float64]:
    try:
        return np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f'The column {NAMES[name][0]} of "{path}" does not hold numbers.') from None
