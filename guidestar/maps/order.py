"""The stars of the whole sky in an order made for the sweep.

Stars lie in layers, and in each layer by the cells of `guidestar.maps.kernel_windows`. The first layer holds one star
of every small patch of sky, about enough to cover a circle of camera angle: spread so evenly they leave far fewer gaps
than as many at random. The next layer holds another one of each; the last the rest, and all that need more light than
the whole guide sensor has. So a target in a rich field is settled by a few of its stars, whatever the catalogue's
depth. Where stars are few, the first layer takes all but those in need of light.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.maps import kernels
from guidestar.maps.kernel_order import OrderedStars
from guidestar.maps.kernel_windows import Zones, zones_of

FloatArray = NDArray[np.float64]
Counts = NDArray[np.int32]

_PATCHES_A_RING = 90.0
"""Patches are so large that the ring around a target covers about as many.

Arcs are often about 20° wide, and of an arc only whole cells count: with 90 patches that hold a star each, some five
lie over every angle. Found by trying: with 70 or 120, or with three stars of a patch in the second layer, it is slower.
"""
_QUOTAS = (1, 2)
"""Stars of a patch in all layers up to each but the last."""
_MANY = 200.0
"""Stars in the ring, on the average of the sky, from which on they are put into several layers."""

_ZONES_A_RADIUS = 5.0
_STARS_A_CELL = 0.5
"""Cells are not made smaller than this, so that there are not many more of them than stars."""


@dataclass(frozen=True)
class Part:
    """Stars as they come: `vectors` (n, 3), the others (n,)."""

    vectors: FloatArray
    need: NDArray[np.float32]
    step: NDArray[np.uint16]


def joined(parts: list[Part]) -> Part:
    """Return several parts as one."""
    return Part(
        np.concatenate([part.vectors for part in parts]),
        np.concatenate([part.need for part in parts]),
        np.concatenate([part.step for part in parts]),
    )


_NONE = Part(np.empty((0, 3)), np.empty(0, np.float32), np.empty(0, np.uint16))


def ordered(parts: list[Part], ring_sr: float, outer: float, plain_need: float) -> OrderedStars:
    """Return stars in order.

    Parameters
    ----------
    parts : list of Part
        Taken out of the list as its stars come into place, so that the whole is held about once.
    ring_sr : float
        Solid angle of the ring around a target, steradians.
    outer : float
        Its outer radius, radians.
    plain_need : float
        Stars that need more than this go to the last layer.
    """
    number = sum(len(part.need) for part in parts)
    smallest = math.sqrt(_STARS_A_CELL * 4.0 * math.pi / max(number, 1))
    zones = zones_of(max(outer / _ZONES_A_RADIUS, smallest))
    many = number * ring_sr / (4.0 * math.pi) >= _MANY
    # Where stars are few the ring of a very long focal length would ask for thousands of millions of patches.
    patches = zones_of(math.sqrt(ring_sr / _PATCHES_A_RING) if many else 1.0)
    quotas = np.array(_QUOTAS if many else [np.iinfo(np.int64).max])
    seen = np.zeros(int(patches.first[-1]), dtype=np.uint8)
    counts = np.zeros((len(quotas) + 1, int(zones.first[-1])), dtype=np.int32)
    places = []
    for part in parts:
        layer, cell = np.empty(len(part.need), np.uint8), np.empty(len(part.need), np.int32)
        kernels.assign(part.vectors, part.need, zones, patches, quotas, plain_need, seen, counts, layer, cell)
        places.append((layer, cell))
    return _placed(parts, places, zones, _starts(counts))


def _starts(counts: Counts) -> Counts:
    """Return where each cell's stars begin, layer after layer."""
    starts = np.empty((counts.shape[0], counts.shape[1] + 1), dtype=np.int32)
    before = 0
    for layer, row in enumerate(counts):
        starts[layer, 0] = before
        np.cumsum(row, out=starts[layer, 1:])
        starts[layer, 1:] += before
        before = int(starts[layer, -1])
    return starts


def _placed(
    parts: list[Part],
    places: list[tuple[NDArray[np.uint8], NDArray[np.int32]]],
    zones: Zones,
    starts: Counts,
) -> OrderedStars:
    number = int(starts[-1, -1])
    stars = OrderedStars(
        np.empty((number, 3)), np.empty(number, np.float32), np.empty(number, np.uint16), zones, starts
    )
    following = starts[:, :-1].copy()
    for i, part in enumerate(parts):
        kernels.put(part.vectors, part.need, part.step, *places[i], following, stars.vectors, stars.need, stars.step)
        parts[i] = _NONE
    return stars
