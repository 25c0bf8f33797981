"""Parts of the sky map as an IVOA MOC (Multi-Order Coverage map, version 2.0), through mocpy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from guidestar.maps.extras import require
from guidestar.maps.fits import plain_text
from guidestar.maps.result import SkyMap


def sparse_pixels(sky: SkyMap, sparse_below: float) -> NDArray[np.int64]:
    """Return the pixels where confirmed stars serve less than a share of the circle; those without data are not in."""
    with np.errstate(invalid="ignore"):
        return sky.ipix[sky.coverage.usable_fraction < sparse_below]


def require_mocpy() -> None:
    """Raise an InputError if mocpy is not installed."""
    require("mocpy", "Writing the sparse fields")


def write_sparse(sky: SkyMap, sparse_below: float, path: Path) -> None:
    """Write the sparse pixels as a MOC in FITS; without any it is an empty MOC.

    Raises
    ------
    InputError
        mocpy is not installed.
    """
    require_mocpy()
    from mocpy import MOC

    pixels = sparse_pixels(sky, sparse_below).astype(np.uint64)
    orders = np.full(len(pixels), sky.order, dtype=np.uint8)
    moc = MOC.from_healpix_cells(pixels, orders, max_depth=sky.order) if len(pixels) else MOC.new_empty(sky.order)
    moc.save(path, format="fits", fits_keywords={"RIG": plain_text(sky.sweep.rig.name), "SPARSE": sparse_below})
