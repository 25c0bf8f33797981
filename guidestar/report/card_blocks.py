"""Blocks that a card is built of: each knows how high it is at a given width, so that nothing can run into anything.

Blocks are stacked, set in columns or framed; what is drawn stays within the block's own box.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from guidestar.report import card_sheet as s
from guidestar.report.card_sheet import Sheet

_LABEL_GAP_PT = 8.0


class Block(Protocol):
    """Something with a height, drawn with its upper left corner at (x, top)."""

    def height(self, width: float) -> float:
        """Return the height in points that the block takes at a width."""
        ...

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Draw the block into its box."""
        ...


@dataclass(frozen=True)
class Words:
    """A paragraph, broken to the width."""

    words: str
    size: float = s.BODY
    bold: bool = False
    gid: str = "words"

    def height(self, width: float) -> float:
        """Return the height of all lines."""
        return len(s.wrapped(self.words, self.size, width, bold=self.bold)) * s.line_height(self.size)

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Write the lines."""
        for number, line in enumerate(s.wrapped(self.words, self.size, width, bold=self.bold)):
            below = top + number * s.line_height(self.size)
            sheet.words(x, below, line, size=self.size, bold=self.bold, gid=self.gid)


@dataclass(frozen=True)
class Name:
    """A name in one large line; a longer one in two lines of smaller type, and cut if that is not enough."""

    words: str
    gid: str = "name"

    def height(self, width: float) -> float:
        """Return the height of the lines."""
        size, lines = self._lines(width)
        return len(lines) * s.line_height(size)

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Write the lines."""
        size, lines = self._lines(width)
        for number, line in enumerate(lines):
            sheet.words(x, top + number * s.line_height(size), line, size=size, bold=True, gid=self.gid)

    def _lines(self, width: float) -> tuple[float, list[str]]:
        if s.width_of(self.words, s.NAME, bold=True) <= width:
            return s.NAME, [self.words]
        first, *rest = s.wrapped(self.words, s.LARGE, width, bold=True)
        return s.LARGE, [first, *([s.shortened(" ".join(rest), s.LARGE, width, bold=True)] if rest else [])]


@dataclass(frozen=True)
class Heading:
    """A short heading under a rule."""

    words: str

    def height(self, width: float) -> float:
        """Return the height with the rule above and a gap below."""
        return 4.0 + Words(self.words, s.HEAD, bold=True).height(width)

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Draw the rule and the heading."""
        sheet.line([(x, top), (x + width, top)], width=s.MEDIUM, gid="rule")
        Words(self.words, s.HEAD, bold=True, gid="heading").draw(sheet, x, top + 3.0, width)


@dataclass(frozen=True)
class Rows:
    """Labels and what belongs to them, side by side; the values stand in one line below another."""

    rows: Sequence[tuple[str, str]]
    size: float = s.BODY
    bold: bool = False
    gid: str = "row"

    def height(self, width: float) -> float:
        """Return the height of all rows."""
        return sum(self._heights(width))

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Write the rows."""
        indent = self._indent(width)
        for (label, value), high in zip(self.rows, self._heights(width), strict=True):
            Words(label, s.SMALL, gid=f"{self.gid} label").draw(sheet, x, top + self._drop, indent - _LABEL_GAP_PT)
            self._value(value).draw(sheet, x + indent, top, width - indent)
            top += high

    @property
    def _drop(self) -> float:
        """Return by how much a label is lowered to stand on its value's baseline."""
        return 0.93 * (self.size - s.SMALL)

    def _heights(self, width: float) -> list[float]:
        indent = self._indent(width)
        return [
            max(
                Words(label, s.SMALL).height(indent - _LABEL_GAP_PT) + self._drop,
                self._value(value).height(width - indent),
            )
            for label, value in self.rows
        ]

    def _value(self, value: str) -> Words:
        return Words(value, self.size, self.bold, self.gid)

    def _indent(self, width: float) -> float:
        widest = max((s.width_of(label, s.SMALL) for label, _ in self.rows), default=0.0)
        return min(widest, 0.45 * width) + _LABEL_GAP_PT


@dataclass(frozen=True)
class Columned:
    """A table of short cells, each column as wide as its widest cell; the last one takes the rest and may be broken."""

    rows: Sequence[Sequence[str]]
    size: float = s.SMALL
    bold_rows: frozenset[int] = frozenset()
    gid: str = "cell"

    def height(self, width: float) -> float:
        """Return the height of all rows."""
        return sum(self._heights(width))

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Write the cells."""
        edges = self._edges(width)
        for number, (row, high) in enumerate(zip(self.rows, self._heights(width), strict=True)):
            for cell, left, room in zip(row, edges, self._rooms(width), strict=True):
                if cell:
                    self._cell(cell, number).draw(sheet, x + left, top, room)
            top += high

    def _cell(self, words: str, number: int) -> Words:
        return Words(words, self.size, number in self.bold_rows, self.gid)

    def _heights(self, width: float) -> list[float]:
        rooms = self._rooms(width)
        return [
            max(self._cell(cell, number).height(room) for cell, room in zip(row, rooms, strict=True))
            for number, row in enumerate(self.rows)
        ]

    def _rooms(self, width: float) -> list[float]:
        widths = [
            max(s.width_of(row[i], self.size, bold=number in self.bold_rows) for number, row in enumerate(self.rows))
            + 0.5
            for i in range(len(self.rows[0]) - 1)
        ]
        most = 0.8 * width / max(len(widths), 1)
        widths = [min(one, most) for one in widths] if sum(widths) > 0.8 * width else widths
        return [*widths, width - sum(widths) - _LABEL_GAP_PT * len(widths)]

    def _edges(self, width: float) -> list[float]:
        rooms = self._rooms(width)
        return [sum(rooms[:i]) + _LABEL_GAP_PT * i for i in range(len(rooms))]


@dataclass(frozen=True)
class Steps:
    """Short paragraphs, each hanging from its number or sign."""

    steps: Sequence[str]
    sign: str = ""
    size: float = s.SMALL
    gid: str = "step"

    def height(self, width: float) -> float:
        """Return the height of all steps."""
        return sum(Words(step, self.size).height(width - self._indent) + 1.5 for step in self.steps)

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Write the steps."""
        for number, step in enumerate(self.steps, start=1):
            body = Words(step, self.size, gid=self.gid)
            sheet.words(x, top, self.sign or str(number), size=self.size, bold=True, gid="sign")
            body.draw(sheet, x + self._indent, top, width - self._indent)
            top += body.height(width - self._indent) + 1.5

    @property
    def _indent(self) -> float:
        widest = self.sign or str(len(self.steps))
        return s.width_of(widest, self.size, bold=True) + 5.0


@dataclass(frozen=True)
class Stack:
    """Blocks one below another."""

    blocks: Sequence[Block]
    gap: float = 4.0

    def height(self, width: float) -> float:
        """Return the height of all blocks and the gaps between them."""
        return sum(block.height(width) for block in self.blocks) + self.gap * max(len(self.blocks) - 1, 0)

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Draw the blocks in turn."""
        for block in self.blocks:
            block.draw(sheet, x, top, width)
            top += block.height(width) + self.gap


@dataclass(frozen=True)
class Columns:
    """Blocks side by side; `shares` of the width, equal ones by default."""

    blocks: Sequence[Block]
    shares: Sequence[float] = ()
    gap: float = 18.0

    def height(self, width: float) -> float:
        """Return the height of the highest block."""
        return max(block.height(room) for block, room in zip(self.blocks, self._rooms(width), strict=True))

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Draw the blocks, upper edges in line."""
        for block, room in zip(self.blocks, self._rooms(width), strict=True):
            block.draw(sheet, x, top, room)
            x += room + self.gap

    def _rooms(self, width: float) -> list[float]:
        shares = self.shares or [1.0] * len(self.blocks)
        free = width - self.gap * (len(self.blocks) - 1)
        return [free * share / sum(shares) for share in shares]


@dataclass(frozen=True)
class Framed:
    """A block in a heavy frame, for what has to be read first."""

    block: Block
    pad: float = 7.0

    def height(self, width: float) -> float:
        """Return the height with the frame."""
        return self.block.height(width - 2.0 * self.pad) + 2.0 * self.pad

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Draw the frame and the block in it."""
        right, low = x + width, top + self.height(width)
        corners = [(x, top), (right, top), (right, low), (x, low)]
        sheet.polygon(corners, width=s.HEAVY, gid="frame")
        self.block.draw(sheet, x + self.pad, top + self.pad, width - 2.0 * self.pad)
