"""Figures on contour lines, each where its line runs clear of everything else that is drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from guidestar.report import palette

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import QuadContourSet

FloatArray = NDArray[np.float64]

_ENOUGH: Final = 0.07
"""Share of the axes' width from which on a place is clear: farther off is no better."""
_SHORTEST: Final = 0.16
"""Share of the axes' width below which a piece of line has no room for a figure."""
_APART: Final = 0.025
"""A figure's own place on its line, share of the axes' width: less clear than this it would be crossed."""


def label_lines(
    axes: Axes,
    lines: QuadContourSet,
    words: Callable[[float], str],
    keep_off: Sequence[FloatArray] = (),
    rather_off: Sequence[FloatArray] = (),
) -> None:
    """Write each line's level on it, once on every piece that is long enough.

    Parameters
    ----------
    axes : Axes
        Limits set, equal scales.
    lines : QuadContourSet
        The lines drawn.
    words : callable
        Level to its figure.
    keep_off, rather_off : sequence of ndarray, shape (n, 2)
        Closed outlines, or points of one vertex, that the figures must not touch, and those that they touch only where
        a line has no other place.
    """
    wide = float(np.ptp(axes.get_xlim()))
    must, may = ([_dense(outline, wide) for outline in some] for some in (keep_off, rather_off))
    written: list[FloatArray] = []
    for piece in _pieces(lines, wide):
        free = _room(axes, piece, must, written, wide)
        freer = np.minimum(free, _room(axes, piece, may, written, wide))
        best = freer if freer.max() >= _APART * wide else free
        if best.max() < _APART * wide:
            continue
        clearest = np.flatnonzero(best >= best.max() - 1e-9)
        place = piece[clearest[len(clearest) // 2]]
        written.append(place)
        lines.clabel(
            manual=[(float(place[0]), float(place[1]))], fmt=words, fontsize=palette.SMALL, inline=True,
            inline_spacing=2, colors=palette.INK, zorder=6,
        )  # fmt: skip


def _pieces(lines: QuadContourSet, wide: float) -> list[FloatArray]:
    """Return the pieces of line with room for a figure, vertices (n, 2), set close together."""
    pieces = [np.asarray(piece) for level in lines.allsegs for piece in level if len(piece) > 1]
    long = [piece for piece in pieces if np.sum(np.hypot(*np.diff(piece, axis=0).T)) >= _SHORTEST * wide]
    return [_along(piece, wide) for piece in long]


def _dense(outline: FloatArray, wide: float) -> FloatArray:
    return outline if len(outline) == 1 else _along(np.vstack([outline, outline[:1]]), wide)


def _along(path: FloatArray, wide: float) -> FloatArray:
    """Return points along a path, a hundredth of the axes' width apart."""
    way = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))))
    at = np.linspace(0.0, way[-1], max(int(way[-1] / (0.01 * wide)), 2))
    return np.column_stack([np.interp(at, way, column) for column in path.T])


def _room(
    axes: Axes, piece: FloatArray, outlines: Sequence[FloatArray], written: Sequence[FloatArray], wide: float
) -> FloatArray:
    """Return how far each point of a piece is from rim, outlines and (halved) figures; at most what is enough."""
    room = np.full(len(piece), _ENOUGH * wide)
    for column, limits in zip(piece.T, (axes.get_xlim(), axes.get_ylim()), strict=True):
        room = np.minimum(room, np.minimum(column - min(limits), max(limits) - column))
    for points in outlines:
        apart = np.hypot(*(piece[:, None, :] - points[None, :, :]).transpose(2, 0, 1))
        room = np.minimum(room, apart.min(axis=1))
    for place in written:
        room = np.minimum(room, np.hypot(*(piece - place).T) / 2.0)
    return room
