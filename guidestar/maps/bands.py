"""The sky map in figures: the whole of it, and by distance from the Milky Way's plane.

Pixels have equal areas, so that a mean over pixels is a mean over the sky. Pixels without star data take no part: a
figure is None where no pixel has a value.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.maps.result import FloatArray, SkyMap
from guidestar.sky import frames, healpix

EDGES_DEG: Final = (0.0, 10.0, 20.0, 30.0, 45.0, 60.0, 90.0)
"""Distances from the galactic plane that bound the bands; the star counts fall most steeply near the plane."""

_LOW_PERCENT: Final = 5.0


@dataclass(frozen=True)
class Spread:
    """How a share is spread over a part of the sky, each 0 to 1, None where nothing is known.

    `mean`: also the chance that a target anywhere there is served at a camera angle chosen blindly. `low`: the 5th
    percentile, what all but the worst twentieth of the sky has. `below`: share of the sky under the threshold.
    """

    mean: float | None
    median: float | None
    low: float | None
    below: float | None


@dataclass(frozen=True)
class Band:
    """A part of the sky, `from_deg` ≤ |b| < `to_deg` (90 included).

    `pixels` were worked out there, `no_data` of them lie where the star source holds nothing. `usable`, `sure`
    and `flip_safe` are shares of the circle by confirmed stars, `expected` with estimated ones besides.
    `no_angle`: share of the sky where no camera angle is usable. `mean_stars`: mean over sky and angles.
    `longest_blind_deg`: the median of the widest run of unusable angles.
    """

    from_deg: float
    to_deg: float
    pixels: int
    no_data: int
    usable: Spread
    sure: Spread
    flip_safe: Spread
    expected: Spread
    no_angle: float | None
    mean_stars: float | None
    longest_blind_deg: float | None


def whole_sky(sky: SkyMap, sparse_below: float) -> Band:
    """Return the figures of all that was worked out; `sparse_below` is the threshold of `Spread.below`, 0 to 1."""
    return _band(sky, np.ones(len(sky.ipix), dtype=np.bool_), (EDGES_DEG[0], EDGES_DEG[-1]), sparse_below)


def bands(sky: SkyMap, sparse_below: float) -> tuple[Band, ...]:
    """Return the figures by distance from the galactic plane, the plane first."""
    number = np.digitize(latitude_deg(sky), EDGES_DEG[1:-1])
    edges = pairwise(EDGES_DEG)
    return tuple(_band(sky, number == index, pair, sparse_below) for index, pair in enumerate(edges))


def latitude_deg(sky: SkyMap) -> FloatArray:
    """Return the distance of each pixel's centre from the galactic plane, degrees, shape (n,)."""
    return np.abs(frames.icrs_to_galactic(*healpix.pixel_centres(sky.ipix, sky.order))[1])


def spread(values: FloatArray, threshold: float) -> Spread:
    """Return how values, shape (n,), NaN where unknown, are spread."""
    known = values[~np.isnan(values)]
    if not len(known):
        return Spread(None, None, None, None)
    low, median = np.percentile(known, (_LOW_PERCENT, 50.0))
    return Spread(float(known.mean()), float(median), float(low), float(np.mean(known < threshold)))


def _band(sky: SkyMap, here: NDArray[np.bool_], edges_deg: tuple[float, float], threshold: float) -> Band:
    columns = sky.coverage
    usable = columns.usable_fraction[here]
    known = usable[~np.isnan(usable)]
    return Band(
        *edges_deg,
        pixels=int(np.count_nonzero(here)),
        no_data=len(usable) - len(known),
        usable=spread(usable, threshold),
        sure=spread(columns.sure_fraction[here], threshold),
        flip_safe=spread(columns.flip_safe_fraction[here], threshold),
        expected=spread(columns.expected_fraction[here], threshold),
        no_angle=float(np.mean(known <= 0.0)) if len(known) else None,
        mean_stars=spread(columns.mean_stars[here], 0.0).mean,
        longest_blind_deg=spread(columns.longest_blind_deg[here], 0.0).median,
    )
