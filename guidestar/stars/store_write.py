"""Changing the store, so that a kill or a power cut at any moment leaves the state before or the state after.

Every new file is first written whole beside the old one (`.next`) and brought to the disk. Then the new list of
checksums is put in place as `SHA256SUMS.next` by one rename: from there on the change counts as made. What remains are
renames, which the next writer does if this one could not.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import numpy as np

from guidestar.sky import regions
from guidestar.sky.regions import Region
from guidestar.stars.counted import CountTable, nothing_counted, read_counts, to_bytes
from guidestar.stars.hats import HatsFolder, Partition
from guidestar.stars.store import (
    CHECKSUM_FILE,
    COUNTS_FILE,
    FILE_ORDER,
    REPAIR,
    SCHEMA,
    Coverage,
    Rows,
    Store,
    empty_rows,
)
from guidestar.stars.store_files import (
    Entries,
    checksum_text,
    derived_files,
    describe,
    parquet_bytes,
    parse_checksums,
    read_entries,
)
from guidestar.stars.store_lock import WAIT_S, cannot_write, locked

NEXT: Final = ".next"
JOURNAL: Final = CHECKSUM_FILE + NEXT


# ---------------------------------------------------------------------------------------------- putting stars in


def put(store: Store, rows: Rows, coverage: Coverage, *, wait_s: float = WAIT_S) -> None:
    """Replace whatever the store holds in a region by new stars.

    Where the store is already as deep or deeper, it is left as it is.

    Parameters
    ----------
    store : Store
        Made if it does not exist.
    rows : dict of ndarray
        Columns of `SCHEMA`, the stars of `coverage.region` (others are left out).
    coverage : Coverage
        What the rows are all of.
    wait_s : float
        Longest wait for another writer.

    Raises
    ------
    DataError
        Another writer does not end, or the folder cannot be written; the store is then as before.
    """
    with writing(store, wait_s) as entries:
        fresh = coverage.within(store.missing(coverage.region, coverage.faintest_mag))
        by_pixel = _ByPixel(rows)
        touched = regions.pixels_of(fresh.region, FILE_ORDER).tolist()
        commit(store, entries, {pixel: _merged(store, pixel, by_pixel[pixel], fresh) for pixel in touched})


def clear(store: Store, region: Region, *, wait_s: float = WAIT_S) -> None:
    """Take a region out of the store; its pixels' files go where nothing is left."""
    with writing(store, wait_s) as entries:
        gone = Coverage(region, -np.inf, "", "", "")
        touched = [pixel for pixel in regions.pixels_of(region, FILE_ORDER).tolist() if pixel in entries]
        commit(store, entries, {pixel: _merged(store, pixel, empty_rows(), gone) for pixel in touched})


def put_counts(store: Store, fresh: CountTable, *, wait_s: float = WAIT_S) -> None:
    """Add counts of stars to the store's; a pixel that was counted before gets its new ones."""
    with writing(store, wait_s) as entries:
        joined = (read_counts(store) or nothing_counted()).joined(fresh)
        replace_files(store, {COUNTS_FILE: to_bytes(joined)} | derived_files(entries), entries)


def clear_counts(store: Store, *, wait_s: float = WAIT_S) -> None:
    """Take the counts of stars out of the store."""
    with writing(store, wait_s) as entries:
        replace_files(store, derived_files(entries), entries, drop_counts=True)


class _ByPixel:
    """Stars sorted by pixel once, so that each pixel's are a slice."""

    def __init__(self, rows: Rows) -> None:
        order = np.argsort(rows["_healpix_29"], kind="stable")
        self.rows: Rows = {name: rows[name][order] for name in SCHEMA}

    def __getitem__(self, pixel: int) -> Rows:
        """Return the stars of one pixel."""
        ((start, end),) = regions.of_pixels([pixel], FILE_ORDER).tolist()
        first, last = np.searchsorted(self.rows["_healpix_29"], (start, end))
        return {name: values[first:last] for name, values in self.rows.items()}


def _merged(store: Store, pixel: int, rows: Rows, fresh: Coverage) -> bytes | None:
    """Return a pixel's new file; None if it covers nothing any more."""
    own = fresh.within(regions.of_pixels([pixel], FILE_ORDER))
    kept_coverage = [item.outside(own.region) for item in store.coverage_of(pixel)]
    kept = store.read([pixel], list(SCHEMA)) if kept_coverage else empty_rows()
    stays = ~regions.contains(own.region, kept["_healpix_29"])
    comes = regions.contains(own.region, rows["_healpix_29"])
    joined = {name: np.concatenate([kept[name][stays], rows[name][comes]]).astype(SCHEMA[name]) for name in SCHEMA}
    claims = _joined([*kept_coverage, *([own] if np.isfinite(own.faintest_mag) else [])])
    return parquet_bytes(joined, claims) if claims else None


def _joined(items: Sequence[Coverage]) -> list[Coverage]:
    """Return claims that differ in nothing but the region as one, without empty ones."""
    kinds = dict.fromkeys(item.kind for item in items)
    joined = [Coverage(regions.union(*(i.region for i in items if i.kind == kind)), *kind) for kind in kinds]
    return [item for item in joined if len(item.region)]


# ------------------------------------------------------------------------------------------------- one change


@contextmanager
def writing(store: Store, wait_s: float = WAIT_S) -> Iterator[Entries]:
    """Hold the store for writing, finish what a killed writer left, and give what `coverage.json` says."""
    try:
        store.path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise cannot_write(store.path, error) from error
    with locked(store.path, wait_s):
        store.require_readable()
        try:
            recover(store.path)
            yield read_entries(store)
        except OSError as error:
            drop_strays(store.path)
            raise cannot_write(store.path, error) from error


def commit(store: Store, entries: Entries, changed: dict[int, bytes | None]) -> None:
    """Make one change: new contents of pixels' files, None for a file that goes. Hold the lock (`writing`)."""
    if not changed and store.exists:
        return
    after = entries | {pixel: describe(content) for pixel, content in changed.items() if content is not None}
    after = {pixel: entry for pixel, entry in sorted(after.items()) if changed.get(pixel, b"") is not None}
    contents = {_name_of(pixel): content for pixel, content in changed.items() if content is not None}
    replace_files(store, contents | derived_files(after), after)


def replace_files(store: Store, contents: dict[str, bytes], entries: Entries, *, drop_counts: bool = False) -> None:
    """Write files under their names from the store's folder, all or none, with the new list of checksums."""
    sums = {_name_of(pixel): entry.sha256 for pixel, entry in entries.items()}
    sums |= {} if drop_counts else _sum_of_counts(store)
    sums |= {name: hashlib.sha256(content).hexdigest() for name, content in contents.items()}
    for name, content in contents.items():
        _write(store.path / (name + NEXT), content)
    unfinished = store.path / (JOURNAL + ".new")
    _write(unfinished, checksum_text(sums).encode())
    unfinished.replace(store.path / JOURNAL)
    _sync_folder(store.path)
    roll_forward(store.path)


def _sum_of_counts(store: Store) -> dict[str, str]:
    """Return the checksum of the counts of stars, which stay as they are; nothing where there are none."""
    file = store.path / COUNTS_FILE
    if not file.exists():
        return {}
    try:
        listed = parse_checksums((store.path / CHECKSUM_FILE).read_bytes()) or {}
    except FileNotFoundError:
        listed = {}
    digest = listed.get(COUNTS_FILE) or hashlib.sha256(file.read_bytes()).hexdigest()
    return {COUNTS_FILE: digest}


def recover(folder: Path) -> None:
    """Finish a change that counts as made, and clear away one that does not."""
    if (folder / JOURNAL).exists():
        roll_forward(folder)
    drop_strays(folder)


def roll_forward(folder: Path) -> None:
    """Do what is left of a change after its journal is in place: renames and removals only."""
    sums = parse_checksums((folder / JOURNAL).read_bytes())
    if sums is None:
        raise HatsFolder(folder, REPAIR).damaged(folder / JOURNAL, "the list differs from its own checksum")
    renamed = [folder / name for name in sums if (folder / (name + NEXT)).exists()]
    for file in renamed:
        file.with_name(file.name + NEXT).replace(file)
    for parent in {file.parent for file in renamed}:
        _sync_folder(parent)
    for file in (folder / "dataset").glob("**/*.parquet"):
        if file.relative_to(folder).as_posix() not in sums:
            file.unlink()
    if COUNTS_FILE not in sums:
        (folder / COUNTS_FILE).unlink(missing_ok=True)
    (folder / JOURNAL).replace(folder / CHECKSUM_FILE)
    _sync_folder(folder)


def drop_strays(folder: Path) -> None:
    """Remove what a change that never came to count has left behind."""
    if (folder / JOURNAL).exists():
        return
    for pattern in ("*.next", "*.next.new", "dataset/**/*.next"):
        for stray in folder.glob(pattern):
            stray.unlink(missing_ok=True)


def _write(file: Path, content: bytes) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    with file.open("wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())


def _sync_folder(folder: Path) -> None:
    """Bring a folder's renames to the disk, where the system can (Windows has no such call)."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _name_of(pixel: int) -> str:
    return Partition(FILE_ORDER, pixel).relative_path
