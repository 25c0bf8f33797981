"""The geometry of a search, the same for every source: coarse cut, proper motion, exact cut.

A star is where its proper motion has carried it, so a ring at a date is looked for in a wider one at the epochs
of the catalogue, and cut exactly only after moving the stars in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.sky import epoch

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Ring:
    """The places between two distances from a point, both included; degrees, ICRS."""

    ra_deg: float
    dec_deg: float
    inner_deg: float
    outer_deg: float

    def widened(self, by_deg: float) -> Ring:
        """Return the ring that reaches `by_deg` further to both sides."""
        return Ring(self.ra_deg, self.dec_deg, self.inner_deg - by_deg, self.outer_deg + by_deg)


@dataclass(frozen=True)
class Motion:
    """Positions at the stars' own epochs with their proper motions, shape (n,) each.

    Degrees (ICRS), Julian years, milliarcseconds a year (that in right ascension with cos δ). A proper motion that
    is not known is NaN and counts as none.
    """

    ra_deg: FloatArray
    dec_deg: FloatArray
    epoch_year: FloatArray
    pm_ra: FloatArray
    pm_dec: FloatArray


def widening_deg(epoch_year: float, epochs: tuple[float, float]) -> float:
    """Return how far the fastest star moves between a date and any epoch in the range, degrees."""
    years = max(abs(epoch_year - epochs[0]), abs(epoch_year - epochs[1]))
    return epoch.FASTEST_STAR_ARCSEC_PER_YEAR * years / 3600.0


def stars_in_ring(
    stars: Motion, ring: Ring, epoch_year: float, widen_deg: float
) -> tuple[NDArray[np.intp], FloatArray, FloatArray]:
    """Find the stars that are in a ring at a date.

    Parameters
    ----------
    stars : Motion
        All that may be in it.
    ring : Ring
        The ring at `epoch_year`.
    epoch_year : float
        Julian year.
    widen_deg : float
        At least the distance that any of the stars moves until then (see `widening_deg`).

    Returns
    -------
    indices, ra_deg, dec_deg
        Which of the stars, and where they are at `epoch_year`.
    """
    near = _near(stars, ring.widened(widen_deg))
    vectors = epoch.moved_vectors(
        stars.ra_deg[near],
        stars.dec_deg[near],
        np.nan_to_num(stars.pm_ra[near]),
        np.nan_to_num(stars.pm_dec[near]),
        epoch_year - stars.epoch_year[near],
    )
    inside = _inside(vectors, ring)
    ra_deg, dec_deg = epoch.angles_of(vectors[:, inside])
    return near[inside], ra_deg, dec_deg


def _near(stars: Motion, ring: Ring) -> NDArray[np.intp]:
    """Stars of the ring without proper motion: first a band of declination, which costs no trigonometry."""
    band = np.flatnonzero(np.abs(stars.dec_deg - ring.dec_deg) <= ring.outer_deg)
    return band[_inside(epoch.unit_vectors(stars.ra_deg[band], stars.dec_deg[band]), ring)]


def _inside(vectors: FloatArray, ring: Ring) -> NDArray[np.bool_]:
    """Distances are compared as chords, which keep their precision for small angles."""
    centre = epoch.unit_vectors(ring.ra_deg, ring.dec_deg)
    chord_squared = np.sum((vectors - centre[:, np.newaxis]) ** 2, axis=0)
    outer = epoch.chord_of(ring.outer_deg) ** 2 if ring.outer_deg < 180.0 else np.inf
    return np.asarray((chord_squared >= epoch.chord_of(ring.inner_deg) ** 2) & (chord_squared <= outer))
