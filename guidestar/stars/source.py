"""What every source of stars can be asked.

A new source is one new module with a class of this shape and nothing else: the rest of the program only knows
`StarSource` and `StarTable`. Sources in the HATS layout get their files through `hats.HatsFolder` and their
geometry through `search.stars_in_ring`. One that holds many stars may be a `SkySource` besides.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from guidestar.sky.regions import Region
from guidestar.stars.table import StarTable


@runtime_checkable
class StarSource(Protocol):
    """Stars around a point, at a date, down to a magnitude."""

    @property
    def name(self) -> str:
        """Return the catalogue's name, as output shows it."""

    @property
    def band(self) -> str:
        """Return the band of `complete_to_mag` and `faintest_mag`."""

    @property
    def complete_to_mag(self) -> float:
        """Return the magnitude down to which the source lists practically every star."""

    def ring(
        self,
        ra_deg: float,
        dec_deg: float,
        inner_deg: float,
        outer_deg: float,
        *,
        faintest_mag: float | None,
        epoch_year: float,
    ) -> StarTable:
        """Return every star whose distance from a point lies between two radii, both included.

        Parameters
        ----------
        ra_deg, dec_deg : float
            ICRS degrees; right ascension any, declination in [−90, 90].
        inner_deg, outer_deg : float
            0 ≤ inner ≤ outer; 180 is the whole sphere.
        faintest_mag : float or None
            Only stars with `g_mag` not above this; None for all.
        epoch_year : float
            Julian year; distances are those at this date, and so are the positions returned.

        Returns
        -------
        StarTable
            In no promised order.

        Raises
        ------
        DataError
            A file of the source is missing or damaged.
        """


def cone(
    source: StarSource,
    ra_deg: float,
    dec_deg: float,
    radius_deg: float,
    *,
    faintest_mag: float | None,
    epoch_year: float,
) -> StarTable:
    """Return every star of a source within `radius_deg` of a point, the edge included; see `StarSource.ring`."""
    return source.ring(ra_deg, dec_deg, 0.0, radius_deg, faintest_mag=faintest_mag, epoch_year=epoch_year)


@dataclass(frozen=True)
class SkyStars:
    """Some stars at one date, for whoever goes through the whole sky.

    Attributes
    ----------
    vectors : ndarray of float64, shape (3, n)
        Unit vectors, ICRS: x to (0, 0), z to the north pole.
    g_mag : ndarray of float64, shape (n,)
        Magnitudes; NaN where unknown.
    """

    vectors: NDArray[np.float64]
    g_mag: NDArray[np.float64]

    def __len__(self) -> int:
        """Return the number of stars."""
        return len(self.g_mag)


@runtime_checkable
class SkySource(Protocol):
    """A `StarSource` that can give its whole sky in parts, and says where it knows the sky."""

    def sky_chunks(
        self, *, epoch_year: float, faintest_mag: float | None, dec_deg: tuple[float, float]
    ) -> Iterator[SkyStars]:
        """Return all stars in parts, the same ones as `ring` gives; see `wholesky.sky_chunks`."""

    def sky_coverage(self) -> Region:
        """Return where the source is complete to its `complete_to_mag`."""
