"""The sweep over the sky: every place as a target, every camera angle."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from guidestar.errors import InputError
from guidestar.maps.result import COLUMNS, IntArray, SkyMap, Sweep
from guidestar.rig import Rig
from guidestar.sky import healpix
from guidestar.stars.source import StarSource

Progress = Callable[[float], None]

FINEST_NSIDE = 512


def sky_map(
    rig: Rig,
    source: StarSource,
    *,
    nside: int = 64,
    epoch_year: float,
    bounds_deg: tuple[float, float] | None = None,
    columns: tuple[str, ...] = COLUMNS,
    threads: int | None = None,
    progress: Progress | None = None,
) -> SkyMap:
    """Work out the sky map of a rig.

    Parameters
    ----------
    rig : Rig
    source : StarSource
    nside : int
        HEALPix resolution, a power of two from 1 to 512; 64 makes 49,152 pixels of 0.84 square degrees.
    epoch_year : float
        Julian year to which the stars are moved.
    bounds_deg : (least, greatest) declination in degrees, optional
        Only pixels whose centres lie between them.
    columns : tuple of str
        Which of `COLUMNS` to work out; the others are NaN.
    threads : int, optional
        All processors unless given.
    progress : callable, optional
        Called with the share done, 0 to 1.
    """
    ipix = pixels_within(nside, bounds_deg)
    ra_deg, dec_deg = healpix.pixel_centres(ipix, int(nside).bit_length() - 1)
    sweep = at_places(
        rig, source, ra_deg, dec_deg, epoch_year=epoch_year, columns=columns, threads=threads, progress=progress
    )
    return SkyMap(int(nside), ipix, bounds_deg, sweep)


def pixels_within(nside: int, bounds_deg: tuple[float, float] | None) -> IntArray:
    """Return the NESTED pixels whose centres lie between two declinations, ascending."""
    if not (1 <= nside <= FINEST_NSIDE and nside & (nside - 1) == 0):
        raise InputError(f"--nside {nside}: must be a power of two from 1 to {FINEST_NSIDE}, such as 64.")
    ipix = np.arange(12 * nside**2, dtype=np.int64)
    if bounds_deg is None:
        return ipix
    low, high = bounds_deg
    if not (-90 <= low < high <= 90):
        wanted = "two declinations from -90 to 90 degrees, the smaller one first"
        raise InputError(f"--bounds {low:g},{high:g}: give {wanted}.")
    _, dec_deg = healpix.pixel_centres(ipix, int(nside).bit_length() - 1)
    return ipix[(dec_deg >= low) & (dec_deg <= high)]


def at_places(
    rig: Rig,
    source: StarSource,
    ra_deg: ArrayLike,
    dec_deg: ArrayLike,
    *,
    epoch_year: float,
    columns: tuple[str, ...] = COLUMNS,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Sweep:
    """Work out the columns of the sky map at any places, ICRS degrees, shape (n,); see `sky_map`."""
    ra, dec = (np.atleast_1d(np.asarray(angle, dtype=np.float64)) for angle in (ra_deg, dec_deg))
    unknown = [name for name in columns if name not in COLUMNS]
    if unknown:
        raise InputError(f'"{unknown[0]}" is no column of the sky map: use {", ".join(COLUMNS)}.')
    from guidestar.maps.engine import run

    return run(rig, source, ra, dec, epoch_year, columns, threads, progress)
