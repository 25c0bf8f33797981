"""A list of targets: a CSV file with a name or coordinates in each row.

With a header, the columns are found by name: `name` (or `target`, `object`) and/or `ra` and `dec` (or `ra_deg`
and `dec_deg`, which are degrees); other columns are passed over. Without one, a row holds a name, or right
ascension and declination, or a name and these two. Blank lines and lines that begin with # are skipped. Commas,
semicolons or tabs part the cells. A row that cannot be used is kept with its reason, so that the rest is done.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from guidestar.errors import InputError
from guidestar.sky.coordinates import looks_like_coordinates

_COLUMNS: Final = {
    "name": "name",
    "target": "name",
    "object": "name",
    "ra": "ra",
    "dec": "dec",
    "ra_deg": "ra_deg",
    "dec_deg": "dec_deg",
}


@dataclass(frozen=True)
class TargetRow:
    """One row of a list.

    `number` is its line in the file, from 1. `text` is what to look up, for a bad row the line as it stands.
    `label` is the row's own name for it where that is not the text itself, else "". `error` says why a bad row
    cannot be used; None for a good one.
    """

    number: int
    text: str
    label: str = ""
    error: str | None = None

    def require_text(self) -> str:
        """Return `text`, or raise the row's `error` as an InputError."""
        if self.error is not None:
            raise InputError(self.error)
        return self.text


def read_targets(path: str | Path) -> list[TargetRow]:
    """Read a list of targets.

    Returns
    -------
    list of TargetRow
        In the file's order, at least one; a target may occur more than once.

    Raises
    ------
    InputError
        If the file is missing, unreadable, not text or without targets, or if its header names only one of
        right ascension and declination.
    """
    lines = [
        (number, line)
        for number, line in enumerate(_text(Path(path)).split("\n"), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise InputError(f'The target list "{path}" is empty: write a name or coordinates in each row.')
    delimiter = next((sign for sign in "\t;" if sign in lines[0][1]), ",")
    columns = _header(_cells(lines[0][1], delimiter) or [], path)
    rows = list(_rows(lines[1:] if columns else lines, delimiter, columns))
    if not rows:
        raise InputError(f'The target list "{path}" has a header but no rows: add a row for each target.')
    return rows


def _text(path: Path) -> str:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise InputError(f'There is no target list "{path}": check the path.') from error
    except UnicodeDecodeError as error:
        raise InputError(f'The target list "{path}" is not UTF-8 text: save it as CSV (UTF-8).') from error
    except OSError as error:
        raise InputError(f'The target list "{path}" cannot be read: {error.strerror or error}.') from error
    if "\0" in text:
        raise InputError(f'The target list "{path}" is not a text file: save it as CSV (UTF-8).')
    return text


def _cells(line: str, delimiter: str) -> list[str] | None:
    """Cut a line into cells; None if a quotation mark is never closed."""
    try:
        (cells,) = csv.reader([line], delimiter=delimiter, skipinitialspace=True, strict=True)
    except (csv.Error, ValueError):
        return None
    return [" ".join(cell.split()) for cell in cells]


def _header(cells: Sequence[str], path: str | Path) -> dict[str, int]:
    """Where each known column stands; empty if the first row is no header."""
    columns: dict[str, int] = {}
    for at, cell in enumerate(cells):
        kind = _COLUMNS.get(cell.lower())
        if kind in columns:
            raise InputError(f'The target list "{path}" has two columns for "{kind}": keep one.')
        if kind:
            columns[kind] = at
    for one, other in (("ra", "dec"), ("ra_deg", "dec_deg")):
        if (one in columns) != (other in columns):
            raise InputError(
                f'The target list "{path}" has only one of the columns "{one}" and "{other}": it takes both.'
            )
    return columns


def _rows(lines: Sequence[tuple[int, str]], delimiter: str, columns: dict[str, int]) -> Iterator[TargetRow]:
    for number, line in lines:
        cells = _cells(line, delimiter)
        if cells is None:
            yield TargetRow(number, line.strip(), error="A quotation mark in this row is not closed or misplaced.")
        elif any(cells):
            yield _by_header(number, cells, columns) if columns else _by_position(number, cells)


def _by_position(number: int, cells: list[str]) -> TargetRow:
    """Read a row of a file without a header."""
    pair = ", ".join(cells[:2])
    if len(cells) > 1 and looks_like_coordinates(pair):
        return TargetRow(number, pair)
    pair = ", ".join(cells[1:3])
    if len(cells) > 2 and looks_like_coordinates(pair):
        return TargetRow(number, pair, label=cells[0])
    return _named(number, cells[0], cells)


def _by_header(number: int, cells: list[str], columns: dict[str, int]) -> TargetRow:
    """Read a row by the header's columns; coordinates count before the name, which then is a label."""
    row = {kind: cells[at] if at < len(cells) else "" for kind, at in columns.items()}
    label = row.get("name", "")
    for unit, ra, dec in (("", row.get("ra", ""), row.get("dec", "")), _degrees(row)):
        if ra and dec:
            return TargetRow(number, f"{ra}{unit}, {dec}{unit}", label=label)
        if ra or dec:
            return TargetRow(
                number,
                ", ".join(filter(None, cells)),
                label=label,
                error=f'Only one of right ascension and declination is given ("{ra or dec}"): give both.',
            )
    return _named(number, label, cells)


def _degrees(row: dict[str, str]) -> tuple[str, str, str]:
    return "d", row.get("ra_deg", ""), row.get("dec_deg", "")


def _named(number: int, name: str, cells: list[str]) -> TargetRow:
    if name:
        return TargetRow(number, name)
    return TargetRow(number, ", ".join(cells), error="This row has neither a name nor coordinates: give one.")
