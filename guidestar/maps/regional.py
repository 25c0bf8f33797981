"""The sky map seen from further off: means over wide cells, so that the scatter from field to field falls away."""

from __future__ import annotations

from typing import Final

import numpy as np

from guidestar.maps.result import FloatArray, SkyMap
from guidestar.sky import healpix

CELL_ORDER: Final = 4
"""Cells 3.7° wide: wider than a long-focus guide field's ring, narrower than the Milky Way's own features."""


def over_the_sky(sky: SkyMap, values: FloatArray) -> FloatArray:
    """Return values of the map's pixels, shape (n,), for all pixels of the sky, NaN where there are none."""
    whole = np.full(healpix.pixel_count(sky.order), np.nan)
    whole[sky.ipix] = values
    return whole


def cell_means(sky: SkyMap, values: FloatArray, order: int = CELL_ORDER) -> tuple[FloatArray, int]:
    """Return means over the cells of the whole sky (NESTED), NaN where nothing is known, and the cells' order.

    A map coarser than the cells is returned as it is.
    """
    order = min(order, sky.order)
    # NESTED: the pixels of a cell stand together.
    pixels = over_the_sky(sky, values).reshape(healpix.pixel_count(order), -1)
    known = ~np.isnan(pixels)
    number = known.sum(axis=1)
    total = np.where(known, pixels, 0.0).sum(axis=1)
    return np.where(number > 0, total / np.maximum(number, 1), np.nan), order
