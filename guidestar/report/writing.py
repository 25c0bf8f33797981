"""Files written whole or not at all: a full disk or a kill leaves what was there before."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from pathlib import Path

from guidestar.errors import InputError


def write_whole(target: Path, content: bytes, what: str) -> None:
    """Write to a temporary file beside the target, then rename it; `what` is named if that fails.

    Raises
    ------
    InputError
        The file cannot be written there.
    """
    temporary = None
    try:
        with tempfile.NamedTemporaryFile(dir=target.parent, prefix=f".{target.name}.", delete=False) as file:
            temporary = Path(file.name)
            file.write(content)
        temporary.chmod(0o666 & ~_umask())
        temporary.replace(target)
    except OSError as error:
        if temporary is not None:
            with contextlib.suppress(OSError):
                temporary.unlink()
        reason = error.strerror or str(error)
        raise InputError(f"The {what} cannot be written to “{target}”: {reason}. Choose another path.") from error


def require_folder(target: Path, what: str) -> None:
    """Refuse a file name whose folder is not there, before the work for its content is done.

    Raises
    ------
    InputError
        There is no such folder.
    """
    if not target.parent.is_dir():
        reason = os.strerror(errno.ENOENT)
        raise InputError(f"The {what} cannot be written to “{target}”: {reason}. Choose another path.")


def _umask() -> int:
    """Read the process's file mode mask, which can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
