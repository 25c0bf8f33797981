"""What is special about a star: one bit each, defined once for the data files, the reader and all output."""

from __future__ import annotations

from enum import IntFlag
from typing import Final

import numpy as np
from numpy.typing import NDArray

CLOSE_NEIGHBOUR_ARCSEC: Final = 6.0
"""A catalogue entry nearer than this makes a star a `close_neighbour`.

Two star images of the default width (FWHM 3″) overlap when they are less than about two widths apart, and a
centroid then follows the pair instead of the star. Our choice.
"""

POOR_FIT_RUWE: Final = 5.0
"""Gaia's `ruwe` above this makes a star a `poor_fit`.

About 1 is a good fit to a single star, and 1.4 the usual limit of one; most stars above that are close binaries whose
image is a single one for any guide camera. Above 5 the entry may be no star, or two (our choice).
"""


class StarFlag(IntFlag):
    """Bits of the `flags` column; the lower-case name of each is what output shows."""

    DERIVED_G = 1 << 0
    """G was worked out from BT and VT, not measured."""
    COLOUR_RANGE = 1 << 1
    """BT − VT lies outside the range of the relation to G and was clamped to it."""
    COLOUR_ASSUMED = 1 << 2
    """BT or VT is missing, so a colour was assumed."""
    HP_MAGNITUDE = 1 << 3
    """No VT: the magnitude given is Hipparcos' Hp, taken as VT."""
    NO_MEAN_POSITION = 1 << 4
    """The position is the one observed about 1991.5, without proper motion."""
    NO_PROPER_MOTION = 1 << 5
    """The proper motion is unknown and the star is taken as standing still."""
    CLOSE_NEIGHBOUR = 1 << 6
    """Another entry of the catalogue is nearer than `CLOSE_NEIGHBOUR_ARCSEC` (at 1991.25)."""
    PHOTOCENTRE = 1 << 7
    """The position or the magnitudes are those of two stars together."""
    DOUBLE = 1 << 8
    """Measured as one of two stars; the companion is usually an entry of its own."""
    SUPPLEMENT = 1 << 9
    """From supplement 1: a star of the Hipparcos or Tycho-1 Catalogue that is not in the main list."""
    SHARED_NAME = 1 << 10
    """A supplement star with the designation of a star of the main list close by: two components of a double."""
    EXTENDED = 1 << 11
    """Gaia takes it for a galaxy: no point of light."""
    POOR_FIT = 1 << 12
    """Gaia's positions do not fit one single star: `ruwe` above `POOR_FIT_RUWE`."""
    NO_COLOUR = 1 << 13
    """Gaia has no BP or no RP magnitude."""


SPOILED: Final = StarFlag.DOUBLE | StarFlag.PHOTOCENTRE | StarFlag.CLOSE_NEIGHBOUR | StarFlag.EXTENDED
"""What makes a star's image no clean single one: such a star counts, and ranks after clean ones."""


def flag_names(bits: int) -> tuple[str, ...]:
    """Return the names of the bits set, in order of the bits; unknown bits are left out.

    Examples
    --------
    >>> flag_names(17)
    ('derived_g', 'no_mean_position')
    """
    return tuple(str(flag.name).lower() for flag in StarFlag if bits & flag)


def flag_where(mask: NDArray[np.bool_], flag: StarFlag) -> NDArray[np.uint16]:
    """Return the flag's bit where the mask is true and 0 elsewhere, shape as the mask."""
    return np.where(mask, np.uint16(flag), np.uint16(0))
