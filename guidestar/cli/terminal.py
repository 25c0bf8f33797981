"""What the commands need to know of the terminal they write to."""

from __future__ import annotations

import shutil


def width() -> int:
    """Return the terminal's width in characters, or a page's (100) where there is no terminal."""
    return shutil.get_terminal_size((100, 24)).columns
