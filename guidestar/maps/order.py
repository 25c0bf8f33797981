"""The stars of the whole sky in an order made for the sweep.

Stars lie in layers, and in each layer by the cells of `guidestar.maps.kernel_windows`. The first layer holds the first
few stars of every patch of sky, about enough to cover a circle of camera angle; the next ones some more; the last the
rest, and all that need more light than the whole guide sensor has. So a target in a rich field is settled by a few of
its stars, whatever the catalogue's depth.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.maps import kernels
from guidestar.maps.kernel_order import LAYERS, OrderedStars
from guidestar.maps.kernel_windows import Zones, zones_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_IN_RING = (200.0, 400.0)
"""Stars in the ring around a target of all layers up to each but the last.

Arcs about 20° wide that fall at random leave no gap if there are some 80 of them; not all stars of the ring are usable,
and of an arc only whole cells count.
"""

_ZONES_A_RADIUS = 5.0
_STARS_A_CELL = 0.5
"""Cells are not made smaller than this, so that there are not many more of them than stars."""


@dataclass(frozen=True)
class Part:
    """Stars as they come: `vectors` (n, 3), the others (n,)."""

    vectors: FloatArray
    need: NDArray[np.float32]
    step: NDArray[np.uint16]


_NONE = Part(np.empty((0, 3)), np.empty(0, np.float32), np.empty(0, np.uint16))


def ordered(parts: Iterable[Part], ring_sr: float, outer: float, plain_need: float) -> OrderedStars:
    """Return stars in order.

    Parameters
    ----------
    parts : iterable of Part
        Each is let go as soon as its stars are in place, so that the whole is held about once.
    ring_sr : float
        Solid angle of the ring around a target, steradians.
    outer : float
        Its outer radius, radians.
    plain_need : float
        Stars that need more than this go to the last layer.
    """
    waiting = list(parts)
    number = sum(len(part.need) for part in waiting)
    smallest = math.sqrt(_STARS_A_CELL * 4.0 * math.pi / max(number, 1))
    zones, patches = zones_of(max(outer / _ZONES_A_RADIUS, smallest)), zones_of(outer / 2.0)
    if number * ring_sr / (4.0 * math.pi) < _IN_RING[0]:
        quotas = np.full(LAYERS - 1, number + 1)  # on the whole they are few: one layer
    else:
        quotas = np.maximum(np.array(_IN_RING) * patches.height**2 / ring_sr, 1.0).astype(np.int64)
    seen = np.zeros(int(patches.first[-1]), dtype=np.int32)
    counts = np.zeros((LAYERS, int(zones.first[-1])), dtype=np.int64)
    places = []
    for part in waiting:
        layer, cell = np.empty(len(part.need), np.uint8), np.empty(len(part.need), np.int32)
        kernels.assign(part.vectors, part.need, zones, patches, quotas, plain_need, seen, counts, layer, cell)
        places.append((layer, cell))
    return _placed(waiting, places, zones, _starts(counts))


def _starts(counts: IntArray) -> IntArray:
    """Return where each cell's stars begin, layer after layer."""
    ends = np.cumsum(counts.ravel()).reshape(counts.shape)
    starts = np.empty((counts.shape[0], counts.shape[1] + 1), dtype=np.int64)
    starts[:, 1:] = ends
    starts[:, 0] = np.concatenate(([0], ends[:-1, -1]))
    return starts


def _placed(
    waiting: list[Part],
    places: list[tuple[NDArray[np.uint8], NDArray[np.int32]]],
    zones: Zones,
    starts: IntArray,
) -> OrderedStars:
    number = int(starts[-1, -1])
    stars = OrderedStars(
        np.empty((number, 3)), np.empty(number, np.float32), np.empty(number, np.uint16), zones, starts
    )
    following = starts[:, :-1].copy()
    for i, part in enumerate(waiting):
        kernels.put(part.vectors, part.need, part.step, *places[i], following, stars.vectors, stars.need, stars.step)
        waiting[i] = _NONE
    return stars
