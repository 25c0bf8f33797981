"""Compiled: putting stars into the order of `guidestar.maps.order`."""

from __future__ import annotations

from guidestar.angles.kernels import compiled
from guidestar.maps.kernel_windows import cell_of

LAYERS = 3
NEXT_LAYER = 4
"""The second layer holds so many times the first one's stars."""


@compiled
def assign(vectors, need, zones, patches, quota, plain_need, seen, counts, layer, cell):
    """Choose each star's layer and cell, and count them.

    `seen` (patches) and `counts` (layers, cells) go on from one call to the next.
    """
    for i in range(need.shape[0]):
        x, y, z = vectors[i, 0], vectors[i, 1], vectors[i, 2]
        cell[i] = cell_of(zones, x, y, z)
        chosen = LAYERS - 1
        if need[i] <= plain_need:
            patch = cell_of(patches, x, y, z)
            rank = seen[patch]
            seen[patch] = rank + 1
            chosen = 0 if rank < quota else (1 if rank < quota * (1 + NEXT_LAYER) else 2)
        layer[i] = chosen
        counts[chosen, cell[i]] += 1


@compiled
def put(vectors, need, step, layer, cell, following, to_vectors, to_need, to_step):
    """Put stars into their places; `following` (layers, cells) goes on from one call to the next."""
    for i in range(need.shape[0]):
        place = following[layer[i], cell[i]]
        following[layer[i], cell[i]] = place + 1
        to_vectors[place, 0], to_vectors[place, 1], to_vectors[place, 2] = vectors[i, 0], vectors[i, 1], vectors[i, 2]
        to_need[place], to_step[place] = need[i], step[i]
