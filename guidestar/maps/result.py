"""What the sky map finds out, as plain frozen values: computed once, written and drawn by others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.rig import Rig
from guidestar.sky import healpix

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

COLUMNS: Final = (
    "usable_fraction",
    "flip_safe_fraction",
    "sure_fraction",
    "mean_stars",
    "longest_blind_deg",
    "expected_fraction",
)


@dataclass(frozen=True)
class Coverage:
    """One number a place and column, shape (n,) each; NaN: not worked out, or no star data there.

    Attributes
    ----------
    usable_fraction : ndarray
        Share of the circle of camera angles with at least `min_stars` usable stars that the catalogue lists.
    flip_safe_fraction : ndarray
        The same, usable half a turn away besides; NaN everywhere for a mount that does not flip.
    sure_fraction : ndarray
        The same wherever the prism truly is within its accuracy.
    mean_stars : ndarray
        Number of usable stars, mean over all camera angles.
    longest_blind_deg : ndarray
        Widest run of camera angles that are not usable, 0 to 360.
    expected_fraction : ndarray
        The first, with the chance of fainter stars that the catalogue does not list: an estimate.
    """

    usable_fraction: FloatArray
    flip_safe_fraction: FloatArray
    sure_fraction: FloatArray
    mean_stars: FloatArray
    longest_blind_deg: FloatArray
    expected_fraction: FloatArray


@dataclass(frozen=True)
class Work:
    """What a sweep took.

    `stars_used`: stars within the rig's reach. `pairs`: stars within the ring around a target, summed over the
    targets. `seconds`: by step, "reading", "coverage" and so on.
    """

    stars_used: int
    pairs: int
    seconds: Mapping[str, float]


@dataclass(frozen=True)
class Stars:
    """Which stars a sweep asked, how deep they are complete, and how deep the rig needs them (magnitudes in `band`)."""

    source: str
    band: str
    complete_to_mag: float
    faintest_mag: float


@dataclass(frozen=True)
class Sweep:
    """Any list of places, worked out for one rig: places in ICRS degrees, shape (n,)."""

    ra_deg: FloatArray
    dec_deg: FloatArray
    coverage: Coverage
    rig: Rig
    epoch_year: float
    stars: Stars
    work: Work


@dataclass(frozen=True)
class SkyMap:
    """The sky in HEALPix pixels (NESTED, ICRS), each pixel's centre as a target.

    `ipix` (n,) are the pixels that were worked out, ascending: all 12·nside², or those whose centres lie between
    `bounds_deg` in declination.
    """

    nside: int
    ipix: IntArray
    bounds_deg: tuple[float, float] | None
    sweep: Sweep

    @property
    def coverage(self) -> Coverage:
        """The columns, one row a pixel of `ipix`."""
        return self.sweep.coverage

    @property
    def no_data(self) -> NDArray[np.bool_]:
        """Which of the pixels the star source does not cover, shape (n,)."""
        return np.isnan(self.sweep.coverage.usable_fraction)

    @property
    def pixel_deg2(self) -> float:
        """Area of a pixel, square degrees."""
        return 4.0 * float(np.degrees(1.0)) ** 2 * float(np.pi) / healpix.pixel_count(self.order)

    @property
    def order(self) -> int:
        """HEALPix order, the binary logarithm of `nside`."""
        return self.nside.bit_length() - 1
