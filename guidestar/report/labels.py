"""Labels beside points, placed so that they cover neither each other nor the points.

For each label a ring of places round its point is tried, and the one that overlaps least is taken. Boxes are
estimated from the type size, so that no drawing pass is needed and the result is the same everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from guidestar.report import palette

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Annotation

Point = tuple[float, float]
Box = tuple[float, float, float, float]

_MEAN_LETTER = 0.60
"""Mean width of a letter of the figures' type over its size (estimated from digits and capitals)."""
_LINE = 1.25
_MISTAKEN = 20.0
"""Cost, in square points of overlap, of a label that could be taken for another point's."""
_MARK_COUNTS = 3.0
"""A covered star is worse than text that runs into text by as much."""
_EDGE_PT = 4.0
_LEADER_PT = 5.0
"""A label farther than this from its point's mark is tied to it by a line."""
_DIRECTIONS = 16


@dataclass(frozen=True)
class Label:
    """A text for a point in data coordinates; `clear_pt` keeps it off the point's own mark."""

    x: float
    y: float
    text: str
    clear_pt: float = 5.0
    bold: bool = False


@dataclass(frozen=True)
class _Board:
    """What is on the page already, in points: the frame, the labelled points, all marks and the texts so far."""

    frame: Box
    points: list[Point]
    marks: list[Box]
    texts: list[Box]

    def cost(self, text: str, centre: Point, at: Point) -> float:
        """Weigh how bad a place is: square points covered, and a surcharge where it misleads the eye."""
        box = _box(text, centre)
        covered = _MARK_COUNTS * sum(overlap(box, mark) for mark in self.marks)
        covered += sum(overlap(box, other) for other in self.texts) + 8.0 * _outside(box, self.frame)
        own = _gap(text, centre, at)
        others = (point for point in self.points if point != at)
        mistaken = sum(_gap(text, centre, other) < 2.0 * own for other in others)
        between = [(at[0] + t * (centre[0] - at[0]), at[1] + t * (centre[1] - at[1])) for t in (0.2, 0.4, 0.6)]
        crossed = sum(_holds(other, point) for other in self.texts for point in between)
        return covered + _MISTAKEN * (mistaken + 2 * crossed)


def place(axes: Axes, labels: Sequence[Label], *, keep_off: Sequence[tuple[float, float]] = ()) -> list[Annotation]:
    """Write the labels in the order given (the most important first).

    Parameters
    ----------
    axes : Axes
        Limits and aspect must be final.
    labels : sequence of Label
    keep_off : sequence of (x, y)
        Other points, in data coordinates, that labels should not cover.

    Returns
    -------
    list of Annotation
        One a label.
    """
    points = [_to_pt(axes, label.x, label.y) for label in labels]
    marks = [_around(*_to_pt(axes, x, y), 3.0) for x, y in keep_off]
    marks += [_around(*point, label.clear_pt) for point, label in zip(points, labels, strict=True)]
    left, low, right, high = _frame_pt(axes)
    board = _Board((left + _EDGE_PT, low + _EDGE_PT, right - _EDGE_PT, high - _EDGE_PT), points, marks, [])
    written = []
    for label, point in zip(labels, points, strict=True):
        centre = _best_centre(label, point, board)
        board.texts.append(_box(label.text, centre))
        written.append(_write(axes, label, centre))
    return written


def _write(axes: Axes, label: Label, centre: tuple[float, float]) -> Annotation:
    at = _to_pt(axes, label.x, label.y)
    gap = _gap(label.text, centre, at)
    leader = {"arrowstyle": "-", "color": palette.INK, "lw": palette.THIN, "shrinkA": 0, "shrinkB": label.clear_pt}
    return axes.annotate(
        label.text,
        (label.x, label.y),
        (centre[0] - at[0], centre[1] - at[1]),
        textcoords="offset points",
        ha="center",
        va="center",
        fontsize=palette.SMALL,
        color=palette.INK,
        weight="bold" if label.bold else "normal",
        zorder=9,
        bbox={"boxstyle": "square,pad=0.1", "facecolor": palette.PAPER, "edgecolor": "none", "alpha": 0.75},
        arrowprops=leader if gap > label.clear_pt + _LEADER_PT else None,
    )


def _best_centre(label: Label, at: Point, board: _Board) -> Point:
    """Try places ever farther out; stop at the first that is free, else take the least bad."""
    width, height = _size(label.text)
    best, least = at, math.inf
    for distance in (1.5, 6.0, 12.0, 20.0, 30.0):
        for step in range(_DIRECTIONS):
            turn = 2.0 * math.pi * step / _DIRECTIONS
            reach = label.clear_pt + distance
            centre = (
                at[0] + math.cos(turn) * (reach + width / 2.0),
                at[1] + math.sin(turn) * (reach + height / 2.0),
            )
            cost = board.cost(label.text, centre, at) + 0.02 * distance
            if cost < least - 1e-9:
                best, least = centre, cost
        if least < 1.0:
            break
    return best


def _size(text: str) -> tuple[float, float]:
    lines = text.split("\n")
    return max(len(line) for line in lines) * _MEAN_LETTER * palette.SMALL, len(lines) * _LINE * palette.SMALL


def _box(text: str, centre: tuple[float, float]) -> Box:
    width, height = _size(text)
    x, y = centre
    return (x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0)


def _gap(text: str, centre: tuple[float, float], at: tuple[float, float]) -> float:
    """Distance from a point to the nearest part of a label's box."""
    left, low, right, high = _box(text, centre)
    return math.hypot(max(left - at[0], at[0] - right, 0.0), max(low - at[1], at[1] - high, 0.0))


def _holds(box: Box, point: Point) -> bool:
    return box[0] <= point[0] <= box[2] and box[1] <= point[1] <= box[3]


def _around(x: float, y: float, reach: float) -> Box:
    return (x - reach, y - reach, x + reach, y + reach)


def overlap(one: Box, other: Box) -> float:
    """Return the area that two boxes (left, bottom, right, top; any unit) share."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return wide * high if wide > 0.0 and high > 0.0 else 0.0


def _outside(box: Box, frame: Box) -> float:
    return (box[2] - box[0]) * (box[3] - box[1]) - overlap(box, frame)


def _to_pt(axes: Axes, x: float, y: float) -> tuple[float, float]:
    """Turn data coordinates into points on the page, measured from the figure's corner."""
    pixels = axes.transData.transform((x, y))
    scale = 72.0 / axes.figure.dpi
    return float(pixels[0] * scale), float(pixels[1] * scale)


def _frame_pt(axes: Axes) -> Box:
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    low, high = _to_pt(axes, x0, y0), _to_pt(axes, x1, y1)
    return (min(low[0], high[0]), min(low[1], high[1]), max(low[0], high[0]), max(low[1], high[1]))
