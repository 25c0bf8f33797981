"""The beam footprint on the prism's entrance plane, and how much of it lies in a rectangle.

A star's light converges on its point r of the focal plane. In the plane s mm before, it fills an annulus of
outer radius R = s/(2N) and inner radius ε·R about r·(1 − s/P) (N focal ratio, ε central obstruction over
aperture, P distance of the exit pupil before the focal plane). The pupil seen from there is a small disc
P/(2N) in radius; a ray from its point p to r crosses the plane at r·(1 − s/P) + p·s/P, which gives both the
place and the size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.optics.guidefield import face_scale

FloatArray = NDArray[np.float64]

CHUNK = 8192
"""Points worked on at once: arrays of this length stay in the processor's cache, half the time for 1e5 points."""


@dataclass(frozen=True)
class Footprint:
    """The annulus that a star's light fills in the plane of the prism's entrance face.

    Attributes
    ----------
    radius_mm : float
        Outer radius R ≥ 0, mm; 0 if the face stands in the focal plane.
    obstruction_ratio : float
        Inner over outer radius ε, 0 ≤ ε < 1.
    scale : float
        1 − s/P: the annulus of focal-plane point r is centred on r times this.
    """

    radius_mm: float
    obstruction_ratio: float
    scale: float

    @property
    def diameter_mm(self) -> float:
        """Outer diameter, mm."""
        return 2.0 * self.radius_mm


@dataclass(frozen=True)
class Rectangle:
    """An axis-aligned rectangle in the entrance plane, rig frame, mm; a limit may be infinite."""

    x_min_mm: float
    x_max_mm: float
    y_min_mm: float
    y_max_mm: float


def beam_footprint(
    *,
    focal_length_mm: float,
    aperture_mm: float,
    central_obstruction_mm: float,
    ahead_mm: float,
    exit_pupil_mm: float,
) -> Footprint:
    """Return the footprint in the plane `ahead_mm` before the focal plane.

    All mm; 0 ≤ `central_obstruction_mm` < `aperture_mm`, `ahead_mm` ≥ 0, `exit_pupil_mm` > `ahead_mm` or
    infinite.
    """
    return Footprint(
        radius_mm=ahead_mm * aperture_mm / (2.0 * focal_length_mm),
        obstruction_ratio=central_obstruction_mm / aperture_mm,
        scale=face_scale(ahead_mm, exit_pupil_mm),
    )


def disc_rectangle_area(
    x_min: ArrayLike, x_max: ArrayLike, y_min: ArrayLike, y_max: ArrayLike, radius: float = 1.0
) -> FloatArray:
    """Return the exact area that a disc about the origin shares with an axis-aligned rectangle.

    Parameters
    ----------
    x_min, x_max, y_min, y_max : array_like
        Limits of the rectangle, any one unit, broadcast together; infinite limits allowed; `min` ≤ `max`.
    radius : float
        Of the disc, same unit, > 0.

    Returns
    -------
    ndarray
        Area in that unit squared, 0 … π·radius²; rounding error about 1e-15 of radius².

    Notes
    -----
    Take radius 1. Let K(x, y) be the area of the disc over the rectangle spanned by the centre and the corner
    (x, y), counted negative where x·y < 0. Laying four such pieces against each other leaves the wanted
    rectangle: K(x₂, y₂) − K(x₁, y₂) − K(x₂, y₁) + K(x₁, y₁).

    K itself: a corner inside the disc cuts nothing, K = x·y. For a corner outside, with x, y ≥ 0, let g(t) =
    ∫₀ᵗ √(1 − u²) du = ½ (t √(1 − t²) + asin t), the quarter disc's part between 0 and t. The quarter disc
    (area π/4) loses π/4 − g(x) beyond x and π/4 − g(y) beyond y; the two losses do not overlap, as the corner
    is outside, so K = g(x) + g(y) − π/4. Limits beyond ±1 act like ±1, which also takes care of infinite
    ones.

    Every term is at most π/4, so the four-term difference keeps an absolute error of a few 1e-16; √(1 − t²)
    is taken as √((1 − t)(1 + t)), which loses nothing near the rim.
    """
    x1, x2, y1, y2 = (_limit(limit, radius) for limit in (x_min, x_max, y_min, y_max))
    area = _corner(x2, y2) - _corner(x1, y2) - _corner(x2, y1) + _corner(x1, y1)
    return np.asarray(np.maximum(area, 0.0) * radius**2)


class _Limit(NamedTuple):
    """One limit of a rectangle, in radii and cut to ±1, and what the corners need of it."""

    t: FloatArray
    t_squared: FloatArray
    strip: FloatArray  # |g(t)| − π/8, so that two of them add up to |K| of a corner outside


def _limit(limit: ArrayLike, radius: float) -> _Limit:
    """Return a limit's part in the corners that it belongs to."""
    # Cut before dividing: a limit over a tiny radius would overflow.
    t = np.clip(np.asarray(limit, dtype=np.float64), -radius, radius) / radius
    g = 0.5 * (t * np.sqrt((1.0 - t) * (1.0 + t)) + np.arcsin(t))
    return _Limit(t, t * t, np.abs(g) - math.pi / 8)


def _corner(x: _Limit, y: _Limit) -> FloatArray:
    """Return K(x, y) of `disc_rectangle_area` for the unit disc."""
    product = x.t * y.t
    # |K| takes the sign of x·y. For a corner outside |g(x)| + |g(y)| ≥ π/4; where the two are equal, at x = 0 or y = 0
    # on the rim, rounding may leave some 1e-16 of the wrong sign.
    outside = np.copysign(x.strip + y.strip, product)
    return np.where(x.t_squared + y.t_squared <= 1.0, product, outside)


def share_in_rectangle(x_mm: ArrayLike, y_mm: ArrayLike, footprint: Footprint, rectangle: Rectangle) -> FloatArray:
    """Return the share of a star's annulus that falls in a rectangle of the entrance plane.

    Parameters
    ----------
    x_mm, y_mm : array_like
        The star's focal-plane point(s), rig frame, mm, broadcast together; anywhere, also far outside.
        A grid is quickest as a row of x and a column of y.
    footprint, rectangle
        In the same plane.

    Returns
    -------
    ndarray
        0 … 1. The obstruction is left out of both sides of the ratio: an annulus wholly inside gives 1. For a
        footprint without size (radius 0) 1 inside, 0 outside, and on the rim what a vanishing disc gives: ½
        on an edge, ¼ on a corner.
    """
    x = np.asarray(x_mm, dtype=np.float64) * footprint.scale
    y = np.asarray(y_mm, dtype=np.float64) * footprint.scale
    share = _point_share if footprint.radius_mm <= 0.0 else _annulus_share
    if x.shape != y.shape or x.size <= CHUNK:
        return share(x, y, footprint, rectangle)
    pieces = -(-x.size // CHUNK)
    pairs = zip(np.array_split(x.ravel(), pieces), np.array_split(y.ravel(), pieces), strict=True)
    return np.concatenate([share(*pair, footprint, rectangle) for pair in pairs]).reshape(x.shape)


def _annulus_share(x: FloatArray, y: FloatArray, footprint: Footprint, rectangle: Rectangle) -> FloatArray:
    """Return the share of an annulus of some size centred on (x, y) in the entrance plane."""
    limits = (rectangle.x_min_mm - x, rectangle.x_max_mm - x, rectangle.y_min_mm - y, rectangle.y_max_mm - y)
    lit = disc_rectangle_area(*limits, radius=footprint.radius_mm)
    inner_mm = footprint.obstruction_ratio * footprint.radius_mm
    if inner_mm > 0.0:
        lit = lit - disc_rectangle_area(*limits, radius=inner_mm)
    whole = math.pi * (footprint.radius_mm - inner_mm) * (footprint.radius_mm + inner_mm)
    return np.asarray(np.clip(lit / whole, 0.0, 1.0))


def _point_share(x: FloatArray, y: FloatArray, _footprint: Footprint, rectangle: Rectangle) -> FloatArray:
    """Return what `_annulus_share` tends to as the annulus vanishes: 0 or 1, ½ on an edge, ¼ on a corner."""
    within_x = np.heaviside(x - rectangle.x_min_mm, 0.5) * np.heaviside(rectangle.x_max_mm - x, 0.5)
    within_y = np.heaviside(y - rectangle.y_min_mm, 0.5) * np.heaviside(rectangle.y_max_mm - y, 0.5)
    return np.asarray(within_x * within_y)
