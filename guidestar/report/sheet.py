"""A page of text for a person: prose filled to the width, tables that line up or stay away.

With `colour`, weight alone marks what matters (bold), which spares dark-adapted eyes and works on any background.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from guidestar.report import wording as w

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

_HEAD = re.compile(r"[A-Z][A-Z ]+[A-Z](?=  )")


@dataclass(frozen=True)
class Sheet:
    """A page being written: the console that it goes to, and its width in characters."""

    console: Console
    width: int

    def prose(self, paragraphs: Iterable[str], *, indent: str = "", hang: str = "") -> None:
        """Write paragraphs, filled to the width; `hang` is put before all lines but the first."""
        for paragraph in paragraphs:
            filled = textwrap.fill(
                paragraph,
                max(self.width, 20),
                initial_indent=indent,
                subsequent_indent=indent + hang,
                break_on_hyphens=False,
            )
            self.console.print(_styled(filled), soft_wrap=True)

    def title(self, words: str) -> None:
        """Write a line of its own that stands out."""
        from rich.text import Text

        self.console.print(Text(words, style="bold"), soft_wrap=True)

    def gap(self) -> None:
        """Leave a line empty."""
        self.console.print()

    def table(self, headings: Sequence[str], rows: Sequence[Sequence[str]], left: frozenset[int]) -> bool:
        """Print a table and return True, or print nothing and return False if it would not fit.

        Columns whose numbers are in `left` keep to the left, the others to the right.
        """
        table = _table(headings, rows, left)
        unbounded = self.console.options.update(width=10_000)
        if self.console.measure(table, options=unbounded).maximum > self.width:
            return False
        self.console.print(table)
        return True

    def table_or_lines(
        self,
        headings: Sequence[str],
        rows: Sequence[Sequence[str]],
        left: frozenset[int] = frozenset(),
        *,
        indent: str = "",
        between: str = ", ",
    ) -> None:
        """Print a table, or where it would not fit a line for each row: headings and cells, empty ones left out."""
        if self.table(headings, rows, left):
            return
        lines = [
            between.join(f"{h.strip()} {cell.strip()}".strip() for h, cell in zip(headings, row, strict=True) if cell)
            for row in rows
            if any(row)
        ]
        self.prose(lines, indent=indent, hang="  ")

    def finished(self) -> str:
        """Take the page from the console: no-break spaces become plain ones, and no line ends in spaces."""
        file = self.console.file
        assert isinstance(file, io.StringIO)
        text = file.getvalue().replace(w.NBSP, " ")
        return "\n".join(line.rstrip() for line in text.splitlines()) + "\n"


def new_sheet(width: int | None, colour: bool) -> Sheet:
    """Return an empty page; without a width the terminal's, or 80 characters where there is none."""
    from rich.console import Console

    console = Console(
        file=io.StringIO(),
        width=width,
        force_jupyter=False,
        force_terminal=colour,
        color_system="standard" if colour else None,
        legacy_windows=False,
        highlight=False,
        markup=False,
        emoji=False,
    )
    return Sheet(console, console.width)


def _table(headings: Sequence[str], rows: Sequence[Sequence[str]], left: frozenset[int]) -> RenderableType:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="bold")
    for number, heading in enumerate(headings):
        table.add_column(Text(heading), justify="left" if number in left else "right", no_wrap=True)
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    return table


def _styled(filled: str) -> RenderableType:
    from rich.text import Text

    text = Text(filled)
    head = _HEAD.match(filled)
    if head:
        text.stylize("bold", 0, head.end())
    return text
