"""Is the store still what was written? Every byte of every file counts; and mending what can be mended."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from guidestar.errors import DataError
from guidestar.sky import regions
from guidestar.stars import counted, store_files, store_write
from guidestar.stars.store import CHECKSUM_FILE, COUNTS_FILE, COVERAGE_FILE, SCHEMA, Coverage, Store
from guidestar.stars.store_files import Entries, describe
from guidestar.stars.store_lock import locked
from guidestar.stars.store_write import JOURNAL


@dataclass(frozen=True)
class Fault:
    """One file that is not as it was written; `pixel` where it holds stars."""

    file: Path
    reason: str
    pixel: int | None = None

    def __str__(self) -> str:
        """Return the sentence to show."""
        return f"The store's file {self.file} is damaged ({self.reason}): run 'guidestar stars verify --repair'."


@dataclass(frozen=True)
class Repair:
    """What mending did: the faults that there were, and what had to be dropped.

    `dropped_deg2`: sky whose stars are gone, square degrees; `counts_dropped`: whether the counts of stars are.
    """

    faults: tuple[Fault, ...]
    dropped_deg2: float
    counts_dropped: bool = False


def faults(store: Store) -> tuple[Fault, ...]:
    """Return everything that is wrong with a store's files; nothing for a store that does not exist.

    A change that a killed program left half made is no fault: before or after, each file is one that was written.

    Raises
    ------
    DataError
        The store is of a newer format.
    """
    names = (CHECKSUM_FILE, COUNTS_FILE)
    if not store.exists and not any((store.path / name).exists() for name in names) and not store.pixels():
        return ()
    sums, broken = _sums(store, CHECKSUM_FILE)
    after, broken_journal = _sums(store, JOURNAL) if (store.path / JOURNAL).exists() else ({}, ())
    found = [*broken, *broken_journal]
    if not broken:
        found += _file_faults(store, sums, after)
    if not found:
        store.require_readable()
    return tuple(found or ([] if after else _content_faults(store)))


def _sums(store: Store, name: str) -> tuple[dict[str, str], tuple[Fault, ...]]:
    file = store.path / name
    try:
        sums = store_files.parse_checksums(file.read_bytes())
    except OSError as error:
        return {}, (Fault(file, error.strerror or "it cannot be read"),)
    return (sums, ()) if sums is not None else ({}, (Fault(file, "the list differs from its own checksum"),))


def _file_faults(store: Store, sums: dict[str, str], after: dict[str, str]) -> list[Fault]:
    files = [*(store.path / "dataset").glob("**/*.parquet"), *store.path.glob(COUNTS_FILE)]
    there = {file.relative_to(store.path).as_posix() for file in files}
    names = sorted(there | set(sums) | set(after))
    found = [_file_fault(store, name, {sums.get(name), after.get(name)} - {None}, name in sums) for name in names]
    return [fault for fault in found if fault is not None]


def _file_fault(store: Store, name: str, allowed: set[str | None], needed: bool) -> Fault | None:
    file = store.path / name
    pixel = int(file.stem.removeprefix("Npix=")) if file.stem.startswith("Npix=") else None
    try:
        found = hashlib.sha256(file.read_bytes()).hexdigest()
    except FileNotFoundError:
        return Fault(file, "it is missing", pixel) if needed else None
    except OSError as error:
        return Fault(file, error.strerror or "it cannot be read", pixel)
    if not allowed:
        return Fault(file, "the list of checksums does not know it", pixel)
    return None if found in allowed else Fault(file, "its content differs from its checksum", pixel)


def _content_faults(store: Store) -> list[Fault]:
    """Faults that files can have together although each is as it was written."""
    try:
        entries = store_files.read_entries(store)
    except DataError:
        return [Fault(store.path / COVERAGE_FILE, "it does not describe a store")]
    if sorted(entries) != store.pixels():
        return [Fault(store.path / COVERAGE_FILE, "it lists other files than there are")]
    return []


def repair(store: Store) -> Repair:
    """Mend a store without the network: make again what follows from other files, drop files of stars that are damaged.

    Raises
    ------
    DataError
        The store is of a newer format, or cannot be written.
    """
    if not store.path.is_dir():
        return Repair((), 0.0)
    with locked(store.path):
        found = faults(store)
        if not found:
            store_write.recover(store.path)
            return Repair((), 0.0)
        # A damaged journal belongs to a change that may be half made: each file is then judged by itself.
        (store.path / JOURNAL).unlink(missing_ok=True)
        store_write.drop_strays(store.path)
        claimed = _claimed(store)
        kept = _kept(store, found)
        for fault in found:
            if fault.pixel is not None and fault.pixel not in kept:
                fault.file.unlink(missing_ok=True)
        counts_dropped = _bad_counts(store, found)
        store_write.replace_files(store, store_files.derived_files(kept), kept, drop_counts=counts_dropped)
    left = regions.union(*(item.region for entry in kept.values() for item in entry.coverage))
    gone = regions.difference(regions.union(*(item.region for item in claimed)), left)
    return Repair(found, regions.area_deg2(gone), counts_dropped)


def _bad_counts(store: Store, found: tuple[Fault, ...]) -> bool:
    """Tell whether there are counts of stars, or should be, that are not those that were written."""
    file = store.path / COUNTS_FILE
    return any(fault.file == file for fault in found) or (file.exists() and not counted.readable(file))


def _claimed(store: Store) -> list[Coverage]:
    try:
        return [item for entry in store_files.read_entries(store).values() for item in entry.coverage]
    except DataError:
        return []


def _kept(store: Store, found: tuple[Fault, ...]) -> Entries:
    """Return the pixels' files that are whole.

    Where the list of checksums is damaged, `coverage.json` vouches for them, and where that is too, the checksums
    inside the files.
    """
    bad = {fault.pixel for fault in found}
    listed = not any(fault.file.name in (CHECKSUM_FILE, JOURNAL) for fault in found)
    vouched: dict[int, str] = {}
    if not listed:
        try:
            vouched = {pixel: entry.sha256 for pixel, entry in store_files.read_entries(store).items()}
        except DataError:
            vouched = {}
    kept: Entries = {}
    for pixel in store.pixels():
        content = store.file_of(pixel).read_bytes()
        digest = hashlib.sha256(content).hexdigest()
        if pixel in bad or (vouched and vouched.get(pixel) != digest) or not _reads(content):
            store.file_of(pixel).unlink()
            continue
        kept[pixel] = describe(content)
    return kept


def _reads(content: bytes) -> bool:
    """Tell whether a file of stars can be read to its end, by the checksums of its pages."""
    try:
        with pq.ParquetFile(pa.BufferReader(content), page_checksum_verification=True) as parquet:
            parquet.read(columns=list(SCHEMA), use_threads=False)
        describe(content)
    except (OSError, ValueError, KeyError, TypeError, pa.ArrowException, DataError):
        return False
    return True
