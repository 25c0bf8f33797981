"""A folder's files, written all or none: nothing half written is ever left behind.

The folder is made and tried before the work. All files are written whole into a hidden folder beside their places
first and moved there at the very end, in one go that Ctrl-C does not part. (Only a machine that goes down within
that last moment could leave new files beside old ones; each of them would be whole all the same.)
"""

from __future__ import annotations

import shutil
import signal
import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from guidestar.errors import InputError

Writer = Callable[[Path], object]


@contextmanager
def output_folder(path: Path) -> Iterator[Path]:
    """Make a folder and make sure that it can be written to; if the work fails, take away what was made for it.

    Raises
    ------
    InputError
        It is a file, or it cannot be made or written to.
    """
    made = _made(path)
    try:
        with tempfile.TemporaryFile(dir=path):
            pass
        yield path
    except BaseException as error:
        _take_away(made)
        if isinstance(error, OSError):
            raise _refused(path, error) from error
        raise


def _made(path: Path) -> list[Path]:
    """Make a folder; return the folders that had to be made, innermost first."""
    if path.exists() and not path.is_dir():
        raise InputError(f"--out {path}: this is a file; name a folder, which is made if it is missing.")
    missing = [folder for folder in (path, *path.parents) if not folder.exists()]
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        _take_away(missing)
        raise _refused(path, error) from error
    return missing


def _take_away(folders: list[Path]) -> None:
    """Remove folders, innermost first, as far as they are empty."""
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return


def write_all(folder: Path, writers: Mapping[str, Writer]) -> tuple[Path, ...]:
    """Write files, each by its writer, which is given a path; then move them all to their names in the folder.

    Raises
    ------
    InputError
        A file cannot be written, as on a full disk; the folder is as it was.
    """
    hidden = None
    try:
        hidden = Path(tempfile.mkdtemp(prefix=".guidestar-", dir=folder))
        for name, write in writers.items():
            write(hidden / name)
        with _undisturbed():
            return tuple((hidden / name).replace(folder / name) for name in writers)
    except OSError as error:
        raise _refused(folder, error) from error
    finally:
        if hidden is not None:
            shutil.rmtree(hidden, ignore_errors=True)


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Let Ctrl-C wait until a few files are renamed."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    waiting: list[int] = []
    usual = signal.signal(signal.SIGINT, lambda number, _: waiting.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, usual)
    if waiting:
        raise KeyboardInterrupt


def _refused(folder: Path, error: OSError) -> InputError:
    # A library that finds the disk full says so in its own words, and at length.
    reason = error.strerror or str(error).partition(". ")[0]
    return InputError(f"--out {folder}: cannot be written to ({reason}); choose another folder, or make room.")
