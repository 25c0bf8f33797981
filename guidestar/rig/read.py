"""A rig from a TOML file."""

from __future__ import annotations

import os
import re
import tomllib
from pathlib import Path
from typing import Any, Final

from guidestar.errors import InputError, RigError
from guidestar.rig.build import Rig, rig_from_dict
from guidestar.rig.wording import shown

_LARGEST_BYTES: Final = 1_000_000
"""A rig file has a few kilobytes; anything beyond this is another kind of file (or a device without end)."""


def read_rig(path: str | os.PathLike[str]) -> Rig:
    """Return the checked rig of a TOML file.

    Parameters
    ----------
    path : path-like
        The file, UTF-8, with or without a byte-order mark.

    Raises
    ------
    RigError
        One sentence if the file cannot be read or is not TOML, else every fault it has.
    InputError
        `path` is no path.
    """
    if not isinstance(path, str | os.PathLike):
        raise InputError(f"path: found {shown(path)}, must be the path of a rig file.")
    where = os.fspath(path)
    if not where:
        raise RigError("rig", ["the file's name is empty; give its path"])
    return rig_from_dict(parse_toml(_text(_content(where), where), where), where)


def _content(where: str) -> bytes:
    """Return the file's bytes; RigError with the reason and the remedy if that fails."""
    try:
        with Path(where).open("rb") as file:
            content = file.read(_LARGEST_BYTES + 1)
    except FileNotFoundError as error:
        remedy = "check the path, or start a new file with: guidestar rig new PATH"
        raise RigError(where, [f"there is no such file; {remedy}"]) from error
    except IsADirectoryError as error:
        raise RigError(where, ["this is a folder; name the rig file inside it"]) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise RigError(where, [f"cannot be read ({reason}); check the path and the file's permissions"]) from error
    if len(content) > _LARGEST_BYTES:
        raise RigError(where, [f"holds more than {_LARGEST_BYTES} bytes, which is no rig file; check the path"])
    return content


def _text(content: bytes, where: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        fault = f"line {line} holds byte 0x{content[error.start]:02x}, which is not UTF-8; save the file as UTF-8 text"
        raise RigError(where, [fault]) from error


def parse_toml(text: str, where: str = "rig") -> dict[str, Any]:
    """Return a TOML document as plain values; `RigError` with line and column if it is none.

    `where` is what the sentence begins with, such as the file's path.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RigError(where, [_not_toml(str(error), text)]) from error
    except (RecursionError, ValueError) as error:  # brackets or digits by the thousand
        raise RigError(where, [f"is not usable TOML ({error}); check its brackets and numbers"]) from error


def _not_toml(message: str, text: str) -> str:
    """Word the parser's finding, place first: its message ends in "(at line 3, column 7)" or "(at end of document)"."""
    found = re.fullmatch(
        r"(?P<what>.*?) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)", message, re.S
    )
    if found is None:
        return f"is not TOML: {message}"
    line = found["line"] or str(text.count("\n") + 1)
    place = f"line {line}, column {found['column']}" if found["column"] else f"line {line} (the end)"
    what = found["what"][:1].lower() + found["what"][1:]
    return f"is not TOML at {place}: {what}; lines read: key = value, text in quotes, decimals with a point"
