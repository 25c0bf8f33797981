"""Writing to the terminal: how wide it is, and answers for a machine."""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping

import click


def width() -> int:
    """Return the terminal's width in characters, or a page's (100) where there is no terminal."""
    return shutil.get_terminal_size((100, 24)).columns


def say_json(values: Mapping[str, object]) -> None:
    """Print plain values as one line of JSON."""
    click.echo(json.dumps(values, ensure_ascii=False, allow_nan=False))
