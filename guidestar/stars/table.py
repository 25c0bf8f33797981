"""Stars as columns: one frozen table for every source."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Selection = NDArray[np.bool_] | NDArray[np.intp] | NDArray[np.int64]


@dataclass(frozen=True)
class StarTable:
    """Stars at one epoch, shape (n,) each.

    Attributes
    ----------
    id : ndarray of int64
        The source's own number for each star, unique in that source.
    ra_deg, dec_deg : ndarray of float64
        ICRS degrees at the epoch that was asked for.
    g_mag, v_mag : ndarray of float64
        Magnitudes; NaN where unknown.
    flags : ndarray of uint16
        Bits of `guidestar.stars.flags.StarFlag`.
    hip : ndarray of int32
        Hipparcos number, 0 where there is none.
    designation : callable
        Turns one `id` into the star's designation; use `names`.
    """

    id: NDArray[np.int64]
    ra_deg: FloatArray
    dec_deg: FloatArray
    g_mag: FloatArray
    v_mag: FloatArray
    flags: NDArray[np.uint16]
    hip: NDArray[np.int32]
    designation: Callable[[int], str] = field(default=str, repr=False, compare=False)

    def __len__(self) -> int:
        """Return the number of stars."""
        return len(self.id)

    def names(self, i: int) -> str:
        """Return the designation of star `i`, such as "TYC 1-13-1"; made only when asked for."""
        return self.designation(int(self.id[i]))

    def take(self, chosen: Selection) -> StarTable:
        """Return the stars chosen by a mask, shape (n,), or by their positions in the table, in that order."""
        return StarTable(
            id=self.id[chosen],
            ra_deg=self.ra_deg[chosen],
            dec_deg=self.dec_deg[chosen],
            g_mag=self.g_mag[chosen],
            v_mag=self.v_mag[chosen],
            flags=self.flags[chosen],
            hip=self.hip[chosen],
            designation=self.designation,
        )
