"""A target's hours cut into quarter hours, and these into cells in which the camera all but stands still on the sky.

A *dial* angle is the camera angle when the first window begins. At other times the camera stands at the dial angle plus
an *offset*: 180° on the other side of a German mount's flip, the parallactic angle's change on an alt-azimuth mount.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

QUARTER_S: Final = 900.0
_APART_S: Final = 30.0
"""A quarter hour this close to another moment is left out."""


@dataclass(frozen=True)
class Segments:
    """Quarter hours of all windows in order, arrays of shape (n,).

    Each goes from moment `first` to moment `first` + 1. `airmass` and `sky_v` are the poorer of both ends: airmass
    has no maximum between them, and the Moon does not come and go within a quarter of an hour.
    """

    first: IntArray
    window: IntArray
    start_s: FloatArray
    end_s: FloatArray
    airmass: FloatArray
    sky_v: FloatArray
    flipped: BoolArray

    def __len__(self) -> int:
        """Return the number of segments."""
        return len(self.first)


@dataclass(frozen=True)
class Cells:
    """Parts of segments, arrays of shape (n,): `low_deg` to `high_deg` are the offsets that occur in each."""

    segment: IntArray
    start_s: FloatArray
    end_s: FloatArray
    low_deg: FloatArray
    high_deg: FloatArray
    start_deg: FloatArray
    end_deg: FloatArray

    def __len__(self) -> int:
        """Return the number of cells."""
        return len(self.segment)

    @property
    def seconds(self) -> FloatArray:
        """Length of each cell."""
        return self.end_s - self.start_s


def window_moments(start_s: float, end_s: float, flips: Iterable[float]) -> FloatArray:
    """Return the moments to look at in a window: its ends, the flips in it, and every full quarter hour between."""
    marks = [start_s, *(flip for flip in flips if start_s + _APART_S < flip < end_s - _APART_S), end_s]
    quarters = np.arange(np.ceil(start_s / QUARTER_S), np.floor(end_s / QUARTER_S) + 1) * QUARTER_S
    apart = np.min(np.abs(quarters[:, None] - np.array(marks)), axis=1, initial=np.inf) > _APART_S
    inside = (quarters > start_s) & (quarters < end_s)
    return np.sort(np.concatenate((marks, quarters[apart & inside])))


def segments(
    unix_s: FloatArray, window: IntArray, airmass: FloatArray, sky_v: FloatArray, flipped: BoolArray
) -> Segments:
    """Return the segments between moments of the same window; `flipped` (n − 1,) is that of each gap's middle."""
    first = np.flatnonzero(window[1:] == window[:-1])
    return Segments(
        first=first,
        window=window[first],
        start_s=unix_s[first],
        end_s=unix_s[first + 1],
        airmass=np.maximum(airmass[first], airmass[first + 1]),
        sky_v=np.minimum(sky_v[first], sky_v[first + 1]),
        flipped=flipped[first],
    )


def standing_cells(parts: Segments) -> Cells:
    """Return one cell a segment, for a mount that follows the equator: half a turn on the other side of the flip."""
    offset = np.where(parts.flipped != parts.flipped[0], 180.0, 0.0)
    everything = np.arange(len(parts))
    return Cells(everything, parts.start_s, parts.end_s, offset, offset, offset, offset)


def turning_cells(parts: Segments, fine_s: FloatArray, angle_deg: FloatArray, largest_deg: float) -> Cells:
    """Return cells in which an alt-azimuth mount's camera turns by no more than about `largest_deg`.

    `angle_deg` is the unwrapped parallactic angle at the closely spaced moments `fine_s`.
    """
    origin = float(np.interp(parts.start_s[0], fine_s, angle_deg))
    cut = [_cut(i, parts, fine_s, angle_deg - origin, largest_deg) for i in range(len(parts))]
    columns = [np.concatenate(column) for column in zip(*cut, strict=True)]
    return Cells(columns[0].astype(np.int64), *columns[1:])


def _cut(
    i: int, parts: Segments, fine_s: FloatArray, offset_deg: FloatArray, largest_deg: float
) -> tuple[FloatArray, ...]:
    """Cut one segment where the camera has turned by another `largest_deg` since the segment began."""
    start, end = parts.start_s[i], parts.end_s[i]
    inside = (fine_s > start) & (fine_s < end)
    at = np.concatenate(([start], fine_s[inside], [end]))
    offset = np.interp(at, fine_s, offset_deg)
    way = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(offset)))))
    step = np.floor(way / largest_deg)
    edges = np.unique(np.concatenate(([0], np.flatnonzero(np.diff(step) > 0) + 1, [len(at) - 1])))
    pieces = [offset[a : b + 1] for a, b in pairwise(edges)]
    return (
        np.full(len(pieces), float(i)),
        at[edges[:-1]],
        at[edges[1:]],
        np.array([piece.min() for piece in pieces]),
        np.array([piece.max() for piece in pieces]),
        offset[edges[:-1]],
        offset[edges[1:]],
    )


def hardest(airmass: FloatArray, sky_v: FloatArray) -> IntArray:
    """Return the indices of airs and skies that no other outdoes: none has as much air under as bright a sky.

    A star that serves under each of these serves under all: more air and a brighter sky both ask more of every star. So
    what holds through many moments can be found from these few.
    """
    order = np.lexsort((sky_v, -airmass))
    kept: list[int] = []
    brightest = np.inf
    for i in order:
        if sky_v[i] < brightest:
            kept.append(int(i))
            brightest = sky_v[i]
    return np.array(kept, dtype=np.int64)
