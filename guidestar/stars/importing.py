"""Stars from a file into the local store, for a computer without a network.

A file cannot say of which sky it holds every star; the person has to, because `check` counts on it. Files may be larger
than the memory: they are read a part at a time (`import_files`), sorted by place into files of passage in the system's
folder for those, and stored from there one large pixel after the other.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from guidestar.errors import DataError, InputError
from guidestar.sky import epoch, healpix, regions
from guidestar.sky.regions import Region
from guidestar.stars import store_write
from guidestar.stars.gaia import rows_of
from guidestar.stars.hats import column_as_numpy
from guidestar.stars.import_files import NAMES, RawColumns, read_batches
from guidestar.stars.piecework import today
from guidestar.stars.store import GAIA_RELEASE, GAIA_YEAR, SCHEMA, Coverage, Rows, Store, empty_rows

_PART_ORDER: Final = 1
"""Stars are stored in 48 parts of the sky."""

_SHIFT: Final = 2 * (healpix.INDEX_ORDER - _PART_ORDER)

_ARROW_SCHEMA: Final = pa.schema([(name, pa.from_numpy_dtype(kind)) for name, kind in SCHEMA.items()])


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

    Nothing is stored before the whole file was read and found good. Stopped later than that, some parts of the sky are
    in the store with what they cover, and the same call brings the rest.

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
        The store, or the folder for passing files, cannot be written.
    """
    with _sorted_by_part() as parts:
        total = 0
        for columns in read_batches(Path(path)):
            number, floats, galaxy = _checked(columns, path, total)
            total += len(number)
            parts.add(_inside(_at_gaias_epoch(number, floats, galaxy, epoch_year), region, faintest_mag))
        if not parts.stars:
            raise InputError(f'None of the {total:,} stars of "{path}" lies in the sky that it is said to cover.')
        depth = parts.faintest_mag if faintest_mag is None else faintest_mag
        for part in regions.pixels_of(region, _PART_ORDER).tolist():
            there = regions.intersection(region, regions.of_pixels([part], _PART_ORDER))
            store_write.put(store, parts.rows(part), Coverage(there, depth, release, Path(path).name, today()))
    return parts.stars, depth


def _at_gaias_epoch(
    number: NDArray[np.int64], floats: dict[str, Any], galaxy: NDArray[np.bool_], epoch_year: float
) -> Rows:
    if epoch_year != GAIA_YEAR:
        motion = (np.nan_to_num(floats["pmra"]), np.nan_to_num(floats["pmdec"]))
        floats["ra"], floats["dec"] = epoch.moved(floats["ra"], floats["dec"], *motion, GAIA_YEAR - epoch_year)
    return rows_of(number, floats, galaxy)


def _inside(rows: Rows, region: Region, faintest_mag: float | None) -> Rows:
    kept = regions.contains(region, rows["_healpix_29"]) & np.isfinite(rows["g"])
    if faintest_mag is not None:
        kept &= rows["g"] <= np.float32(faintest_mag)
    return {name: rows[name][kept].astype(kind) for name, kind in SCHEMA.items()}


# ------------------------------------------------------------------------------------------ from one part to the other


@dataclass
class _Parts:
    """Stars by part of the sky, in files of passage."""

    folder: Path
    stars: int = 0
    faintest_mag: float = -np.inf
    writers: dict[int, Any] = field(default_factory=dict)

    def add(self, rows: Rows) -> None:
        """Sort some stars into their parts."""
        if not len(rows["g"]):
            return
        self.stars += len(rows["g"])
        self.faintest_mag = max(self.faintest_mag, float(np.max(rows["g"])))
        part = rows["_healpix_29"] >> _SHIFT
        order = np.argsort(part, kind="stable")
        parts, starts = np.unique(part[order], return_index=True)
        for one, chosen in zip(parts.tolist(), np.split(order, starts[1:]), strict=True):
            arrays = [pa.array(rows[name][chosen]) for name in SCHEMA]
            self._writer(one).write_batch(pa.record_batch(arrays, schema=_ARROW_SCHEMA))

    def _writer(self, part: int) -> Any:
        if part not in self.writers:
            self.writers[part] = pa.ipc.new_file(str(self.folder / f"{part}.arrow"), _ARROW_SCHEMA)
        return self.writers[part]

    def rows(self, part: int) -> Rows:
        """Return the stars of a part; nothing more can be added to it."""
        if part not in self.writers:
            return empty_rows()
        self.writers[part].close()
        with pa.memory_map(str(self.folder / f"{part}.arrow")) as source:
            table = pa.ipc.open_file(source).read_all()
            return {name: np.array(column_as_numpy(table.column(name))) for name in SCHEMA}

    def close(self) -> None:
        """Close every file; a second time does no harm."""
        for writer in self.writers.values():
            writer.close()


@contextmanager
def _sorted_by_part() -> Iterator[_Parts]:
    """Give a place for stars by part of the sky, which is gone afterwards."""
    try:
        with tempfile.TemporaryDirectory(prefix="guidestar-") as folder:
            parts = _Parts(Path(folder))
            try:
                yield parts
            finally:
                parts.close()
    except OSError as error:
        raise DataError(
            f"The folder for passing files, {tempfile.gettempdir()}, cannot be written ({error.strerror or error}): "
            "make room there (some 70 bytes a star), or name another one in the variable TMPDIR."
        ) from error


# ------------------------------------------------------------------------------------------------- judging the columns


def _checked(
    columns: RawColumns, path: str | Path, rows_before: int
) -> tuple[NDArray[np.int64], dict[str, Any], NDArray[np.bool_]]:
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
                f'The column {name} of "{path}" holds {floats[name][row]:g} in row {rows_before + row + 1}: it must be '
                f"in degrees from {low:g} to {high:g}."
            )
    galaxy = columns.get("galaxy", np.zeros(len(number), dtype=bool))
    if galaxy.dtype.kind != "b":
        galaxy = np.isin(np.char.lower(galaxy.astype(str)), ("true", "t", "1"))
    return number.astype(np.int64), floats, galaxy


def _as_floats(values: NDArray[Any], name: str, path: str | Path) -> NDArray[np.float64]:
    try:
        return np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f'The column {NAMES[name][0]} of "{path}" does not hold numbers.') from None
