"""Entry point. It loads nothing heavy before Ctrl-C is heeded: the command line itself is in `commands`."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from typing import NoReturn

from guidestar.cli import stopping


def run(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line and exit."""
    heeded = stopping.heeded()
    if heeded:
        stopping.leave_at_once()
    from guidestar.cli.commands import answer, fail

    try:
        if heeded:
            stopping.interrupt()
        status = _ready() or answer(sys.argv[1:] if arguments is None else arguments)
    except KeyboardInterrupt:  # between two of our own lines
        status = fail(stopping.STOPPED, stopping.STATUS)
    if heeded:
        stopping.end_with(status)
    sys.exit(status)


def main(arguments: Sequence[str]) -> int:
    """Run one command line and return its exit status; errors go to stderr as one sentence each."""
    from guidestar.cli.commands import answer

    return answer(arguments)


def _ready() -> int:
    """Make the standard streams fit to be used; return the exit status if there is nowhere to answer to, else 0."""
    from guidestar.cli.commands import unwritable

    for name, mode in (("stdin", "r"), ("stderr", "w")):
        if getattr(sys, name) is None:  # closed by the shell; whatever is written there may be lost
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115  # until the end
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # Redirected to a file on a system with a narrower code page it has to hold degree and minus signs too,
            # and names that are no text in any code page.
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")
    _quiet_libraries()
    return unwritable("standard output is closed") if sys.stdout is None else 0


def _quiet_libraries() -> None:
    """Keep remarks for programmers, such as those on a home folder that cannot be written to, off the terminal."""
    import logging

    logging.getLogger("matplotlib").setLevel(logging.ERROR)
