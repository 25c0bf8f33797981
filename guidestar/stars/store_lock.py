"""One writer at a time: a lock between processes, with a time limit."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import filelock

from guidestar.errors import DataError

LOCK_FILE: Final = ".lock"

WAIT_S: Final = 60.0
"""How long to wait for another writer; one change to a store takes well under a second."""


@contextmanager
def locked(folder: Path, wait_s: float = WAIT_S) -> Iterator[None]:
    """Hold the store's lock; the operating system frees it when a process ends, however it ends.

    Raises
    ------
    DataError
        Another process held it for `wait_s` seconds, or the folder cannot be written.
    """
    lock = filelock.FileLock(folder / LOCK_FILE, timeout=wait_s)
    try:
        lock.acquire()
    except filelock.Timeout:
        raise DataError(
            f"Another program has been writing to the star store {folder} for {wait_s:g} s: wait until it has ended, "
            "then give the same command again."
        ) from None
    except OSError as error:
        raise cannot_write(folder, error) from error
    try:
        yield
    finally:
        lock.release()


def cannot_write(folder: Path, error: OSError) -> DataError:
    """Return the error for a store that cannot be written, with the system's reason."""
    return DataError(
        f"The star store {folder} cannot be written ({error.strerror or error}): nothing that it held is lost; make "
        "room or give the right to write there, or choose another folder with --store."
    )
