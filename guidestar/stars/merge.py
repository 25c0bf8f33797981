"""The brightest stars are too bright for Gaia: those that it misses come from Tycho-2, and none comes twice.

Measured over the whole sky, Gaia DR3 to G 10 against Tycho-2 with its supplement 1: of the 170,076 Tycho-2 stars to G 9
Gaia lacks 105: 78 of the 666 to G 4, and 27 of all others.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.sky import epoch
from guidestar.stars.flags import StarFlag

FloatArray = NDArray[np.float64]

BRIGHT_G_MAG: Final = 9.0
"""Stars that Gaia lacks are taken from Tycho-2 down to here. Fainter, Gaia misses hardly any, and entries of Tycho-2
without a counterpart are mostly blends of two stars (our choice)."""

SAME_ARCSEC: Final = 3.0
"""Two entries nearer than this at 2016.0 are one star."""

ALIKE_ARCSEC: Final = 10.0
ALIKE_MAG: Final = 0.6
"""So are two up to `ALIKE_ARCSEC` apart whose magnitudes differ by no more than this: the old motion was not good."""

UNMOVED_ARCSEC: Final = 60.0
"""The same for a Tycho-2 entry without proper motion: 25 years of a star that moves 2.4″ a year."""

FAINTER_MAG: Final = 2.0
"""A Gaia entry fainter than the Tycho-2 star by more than this is another star beside it."""

UNMOVED_ALIKE_MAG: Final = 1.0
"""Over so wide a search, how far the magnitudes of one star may differ."""


def missing_from(
    gaia: tuple[FloatArray, FloatArray, FloatArray],
    tycho: tuple[FloatArray, FloatArray, FloatArray],
    tycho_flags: NDArray[np.uint16],
) -> NDArray[np.bool_]:
    """Return which stars of Tycho-2 Gaia does not have, shape (k,).

    Parameters
    ----------
    gaia, tycho : (ra_deg, dec_deg, g_mag), shape (n,) and (k,) each
        All at 2016.0. Gaia's must reach `UNMOVED_ARCSEC` further than Tycho's on every side, and `FAINTER_MAG` deeper.
    tycho_flags : ndarray of uint16, shape (k,)
        Bits of `StarFlag`.
    """
    unmoved = (tycho_flags & int(StarFlag.NO_PROPER_MOTION | StarFlag.NO_MEAN_POSITION)) != 0
    near = np.where(unmoved, UNMOVED_ARCSEC, ALIKE_ARCSEC)
    order = np.argsort(gaia[1], kind="stable")
    sorted_gaia = tuple(values[order] for values in gaia)
    low = np.searchsorted(sorted_gaia[1], tycho[1] - near / 3600.0)
    high = np.searchsorted(sorted_gaia[1], tycho[1] + near / 3600.0)
    star = np.repeat(np.arange(len(low)), high - low)
    other = (
        np.arange(len(star)) - np.repeat(np.cumsum(high - low) - (high - low), high - low) + np.repeat(low, high - low)
    )
    same = _alike(sorted_gaia, tycho, star, other, near, unmoved)
    return np.asarray(np.bincount(star[same], minlength=len(low)) == 0)


def _alike(
    gaia: tuple[FloatArray, ...],
    tycho: tuple[FloatArray, ...],
    star: NDArray[np.intp],
    other: NDArray[np.intp],
    near_arcsec: FloatArray,
    unmoved: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Return which pairs of one star of each catalogue are one star."""
    fainter = gaia[2][other] - tycho[2][star]
    apart = epoch.unit_vectors(gaia[0][other], gaia[1][other]) - epoch.unit_vectors(tycho[0][star], tycho[1][star])
    apart_arcsec = np.degrees(np.linalg.norm(apart, axis=0)) * 3600.0
    close = (apart_arcsec <= SAME_ARCSEC) & (fainter <= FAINTER_MAG)
    differ = np.where(unmoved[star], UNMOVED_ALIKE_MAG, ALIKE_MAG)
    return np.asarray(close | ((apart_arcsec <= near_arcsec[star]) & (np.abs(fainter) <= differ)))


def close_pairs(
    ra_deg: FloatArray, dec_deg: FloatArray, g_mag: FloatArray, within_arcsec: float, fainter_mag: float
) -> NDArray[np.bool_]:
    """Return which stars have another within a distance that is not fainter by more than `fainter_mag`, shape (n,)."""
    order = np.argsort(dec_deg, kind="stable")
    dec, vectors, g = dec_deg[order], epoch.unit_vectors(ra_deg[order], dec_deg[order]), g_mag[order]
    marked = np.zeros(len(dec), dtype=np.bool_)
    chord_squared = epoch.chord_of(within_arcsec / 3600.0) ** 2
    for step in range(1, len(dec)):
        first = np.flatnonzero(dec[step:] - dec[:-step] <= within_arcsec / 3600.0)
        if not len(first):
            break
        pair = first[np.sum((vectors[:, first + step] - vectors[:, first]) ** 2, axis=0) <= chord_squared]
        marked[pair[g[pair + step] - g[pair] <= fainter_mag]] = True
        marked[(pair + step)[g[pair] - g[pair + step] <= fainter_mag]] = True
    found = np.zeros(len(dec), dtype=np.bool_)
    found[order] = marked
    return found
