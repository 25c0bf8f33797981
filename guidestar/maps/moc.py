"""Parts of the sky map as an IVOA MOC (Multi-Order Coverage map) in FITS.

`guidestar.sky.regions` holds a region as the standard's RANGE form has it, so that writing one is a table of one column
(IVOA Recommendation MOC 2.0, 2022, FITS serialisation of space MOCs). The library for MOCs takes as long to start as
the sweep of the whole sky at nside 64; the tests read with it what is written here.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from guidestar.maps.fits import plain_text
from guidestar.maps.result import SkyMap
from guidestar.sky import regions

if TYPE_CHECKING:
    from astropy.io.fits import HDUList


def sparse_pixels(sky: SkyMap, sparse_below: float) -> NDArray[np.int64]:
    """Return the pixels where confirmed stars serve less than a share of the circle; those without data are not in."""
    with np.errstate(invalid="ignore"):
        return sky.ipix[sky.coverage.usable_fraction < sparse_below]


def write_sparse(sky: SkyMap, sparse_below: float, path: Path) -> None:
    """Write the sparse pixels as a MOC in FITS; without any it is an empty MOC."""
    written = moc(regions.of_pixels(sparse_pixels(sky, sparse_below), sky.order), sky.order)
    written[1].header["RIG"] = plain_text(sky.sweep.rig.name)
    written[1].header["SPARSE"] = (sparse_below, "below this share of usable angles")
    written.writeto(path)


def moc(region: regions.Region, order: int) -> HDUList:
    """Return a region, made of pixels no finer than `order`, as a space MOC in a FITS file's extension 1."""
    from astropy.io import fits

    ends = fits.Column(name="RANGE", format="1K", array=region.ravel())
    table = fits.BinTableHDU.from_columns([ends], name="MOC")
    table.header["MOCVERS"] = ("2.0", "version of the standard")
    table.header["MOCDIM"] = ("SPACE", "a part of the sky")
    table.header["ORDERING"] = ("RANGE", "starts and ends (exclusive), order 29")
    table.header["COORDSYS"] = ("C", "ICRS")
    table.header["MOCORD_S"] = (order, "finest order used")
    table.header["MOCTOOL"] = "guidestar"
    return fits.HDUList([fits.PrimaryHDU(), table])
