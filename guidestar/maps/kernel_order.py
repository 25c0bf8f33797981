"""Compiled: putting stars into the order of `guidestar.maps.order`."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.kernels import compiled
from guidestar.maps.kernel_windows import Zones, cell_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class OrderedStars(NamedTuple):
    """Stars in order, shape (n,).

    `vectors` (n, 3): unit vectors at the date. `need`: throughput that each star needs (0 with a fixed limit).
    `step`: at how deep a reach it counts among the listed (see `guidestar.maps.further`). `starts` (layers, cells + 1):
    where each cell's stars begin; in 32 bits, as the sweep reads it for every target and memory is what it waits for.
    """

    vectors: FloatArray
    need: NDArray[np.float32]
    step: NDArray[np.uint16]
    zones: Zones
    starts: NDArray[np.int32]


@compiled
def assign(
    vectors: FloatArray,
    need: NDArray[np.float32],
    zones: Zones,
    patches: Zones,
    quotas: IntArray,
    plain_need: float,
    seen: NDArray[np.uint8],
    counts: NDArray[np.int32],
    layer: NDArray[np.uint8],
    cell: NDArray[np.int32],
) -> None:
    """Choose each star's layer and cell, and count them.

    `quotas` (layers − 1,): how many stars of a patch all layers up to each may hold; the last layer takes the rest.
    `seen` (patches; counted no further than 255) and `counts` (layers, cells) go on from one call to the next.
    """
    last = quotas.shape[0]
    for i in range(need.shape[0]):
        x, y, z = vectors[i, 0], vectors[i, 1], vectors[i, 2]
        cell[i] = cell_of(zones, x, y, z)
        chosen = last
        if need[i] <= plain_need:
            patch = cell_of(patches, x, y, z)
            rank = int(seen[patch])
            seen[patch] = min(rank + 1, 255)
            chosen = 0
            while chosen < last and rank >= quotas[chosen]:
                chosen += 1
        layer[i] = chosen
        counts[chosen, cell[i]] += 1


@compiled
def put(
    vectors: FloatArray,
    need: NDArray[np.float32],
    step: NDArray[np.uint16],
    layer: NDArray[np.uint8],
    cell: NDArray[np.int32],
    following: NDArray[np.int32],
    to_vectors: FloatArray,
    to_need: NDArray[np.float32],
    to_step: NDArray[np.uint16],
) -> None:
    """Put stars into their places; `following` (layers, cells) goes on from one call to the next."""
    for i in range(need.shape[0]):
        place = following[layer[i], cell[i]]
        following[layer[i], cell[i]] = place + 1
        to_vectors[place, 0], to_vectors[place, 1], to_vectors[place, 2] = vectors[i, 0], vectors[i, 1], vectors[i, 2]
        to_need[place], to_step[place] = need[i], step[i]
