"""The prism's depth window: how far in it clears the main sensor, how far out its field still has light.

Rig frame, mm: x along the tangent, y radially outward. The prism's depth is `offset`, from the axis to the middle of
its entrance face, in the plane of that face; points of sensors are in the focal plane.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.optics.footprint import Footprint
from guidestar.optics.transmission import PrismFace, shadow_share

FloatArray = NDArray[np.float64]

_EDGE_POINTS = 201
"""Points tried along each edge of the main sensor before the best one is refined."""
_HALVINGS = 50


@dataclass(frozen=True)
class Body:
    """What stands in the main light: the face's radial height, and the width of prism or holder, mm."""

    height_mm: float
    width_mm: float

    def inner_edge_mm(self, offset_mm: float) -> float:
        """Return the radius of the inner edge in the plane of the face."""
        return offset_mm - self.height_mm / 2


@dataclass(frozen=True)
class Stop:
    """A round opening about the axis that the light has to pass.

    `radius_mm` of the opening; `scale` is 1 − d/P and `beam_mm` is d/(2N), with the stop d before the focal plane.
    The image circle is the stop at d = 0.
    """

    radius_mm: float
    scale: float = 1.0
    beam_mm: float = 0.0


def clear_offsets_mm(x_mm: ArrayLike, y_mm: ArrayLike, footprint: Footprint, body: Body) -> FloatArray:
    """Return, for main-sensor points, the least offset at which the body takes nothing of their light.

    A point's light fills a disc of radius R about its place c in the plane of the face. Of that disc the part beneath
    the strip |x| ≤ w/2 reaches out to c_y + √(R² − d²), with d the distance of c_x from the strip (0 inside), and the
    inner edge has to stay outside that. −inf where the disc misses the strip altogether.
    """
    x = np.asarray(x_mm, dtype=np.float64) * footprint.scale
    y = np.asarray(y_mm, dtype=np.float64) * footprint.scale
    aside = np.maximum(np.abs(x) - body.width_mm / 2, 0.0)
    inside = footprint.radius_mm**2 - aside**2
    reach = np.where(inside >= 0.0, y + np.sqrt(np.maximum(inside, 0.0)), -np.inf)
    return np.asarray(reach + body.height_mm / 2)


def shadow(x_mm: ArrayLike, y_mm: ArrayLike, offset_mm: ArrayLike, footprint: Footprint, body: Body) -> FloatArray:
    """Return the share of light that the body takes from main-sensor points, 0 … 1; offsets broadcast with points.

    `transmission.shadow_share` takes one offset for all; here each point may have its own. Only the
    difference between point and body matters, so the body is kept at offset 0 and the points are moved instead.
    """
    y = np.asarray(y_mm, dtype=np.float64) - np.asarray(offset_mm, dtype=np.float64) / footprint.scale
    return shadow_share(x_mm, y, footprint, PrismFace(body.width_mm, body.height_mm, 0.0), body.width_mm)


def least_offset_mm(corners_mm: FloatArray, footprint: Footprint, body: Body, *, allowed_loss: float = 0.0) -> float:
    """Return the innermost offset at which no point of a convex sensor loses more than `allowed_loss` of its light.

    Parameters
    ----------
    corners_mm : ndarray, shape (n, 2)
        The main sensor's corners in the rig frame, in order round it.
    footprint, body
        In the plane of the face.
    allowed_loss : float
        0 ≤ share < 1.

    Returns
    -------
    float
        mm; at least half the face's height (the prism never crosses the axis).

    Notes
    -----
    Along y the loss only grows, so the worst point lies on the sensor's rim. Along one edge the offset that is needed
    has a single maximum for `allowed_loss` 0 (a concave root over a straight line); points are tried along each edge
    and the neighbourhood of the best is refined.
    """
    start, end = corners_mm, np.roll(corners_mm, -1, axis=0)
    low, high = np.zeros(len(start)), np.ones(len(start))
    needed = np.full(len(start), -math.inf)
    for _ in range(4):  # each round narrows the stretch to two steps: 201 points, 100-fold
        share = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, _EDGE_POINTS)
        x, y = (start[:, None, :] + share[:, :, None] * (end - start)[:, None, :]).transpose(2, 0, 1)
        tried = needed_offsets_mm(x, y, footprint, body, allowed_loss)
        best = np.argmax(tried, axis=1)
        needed = np.maximum(needed, tried[np.arange(len(tried)), best])
        step = (high - low) / (_EDGE_POINTS - 1)
        middle = share[np.arange(len(share)), best]
        low, high = np.maximum(middle - step, 0.0), np.minimum(middle + step, 1.0)
    return max(float(np.max(needed)), body.height_mm / 2)


def needed_offsets_mm(
    x_mm: ArrayLike, y_mm: ArrayLike, footprint: Footprint, body: Body, allowed_loss: float
) -> FloatArray:
    """Return, for each main-sensor point, the least offset at which it loses no more than `allowed_loss`.

    −inf where even the deepest body leaves the point more than that.
    """
    clear = clear_offsets_mm(x_mm, y_mm, footprint, body)
    if allowed_loss <= 0.0:
        return clear
    missed = np.isneginf(clear)
    high = np.where(missed, 0.0, clear)
    low = high - 2.0 * footprint.radius_mm
    never = shadow(x_mm, y_mm, low, footprint, body) <= allowed_loss
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        too_dark = shadow(x_mm, y_mm, middle, footprint, body) > allowed_loss
        low, high = np.where(too_dark, middle, low), np.where(too_dark, high, middle)
    return np.where(never | missed, -np.inf, high)


def greatest_offset_mm(field_mm: FloatArray, footprint: Footprint, stops: Sequence[Stop]) -> float:
    """Return the outermost offset at which every point of the guide field still gets all the light of every stop.

    Parameters
    ----------
    field_mm : ndarray, shape (n, 2)
        Corners of the guide field relative to its centre, focal plane, rig frame, n ≥ 1.
    footprint : Footprint
        Of the prism's plane: its scale turns a field centre into an offset.
    stops : sequence of Stop
        Empty: no limit.

    Returns
    -------
    float
        mm; inf without stops; −inf if not even the axis side of the field fits.

    Notes
    -----
    A point at distance ρ fills at a stop the disc of radius `beam` about ρ·scale: wholly inside the opening where
    ρ ≤ (radius − beam)/scale. Discs are convex, so corners are enough. A corner (x, y) of a field centred on (0, c)
    is within ρ where c ≤ √(ρ² − x²) − y.
    """
    centre = math.inf
    for stop in stops:
        within = (stop.radius_mm - stop.beam_mm) / stop.scale
        room = within**2 - field_mm[:, 0] ** 2
        if within <= 0.0 or np.any(room < 0.0):
            return -math.inf
        centre = min(centre, float(np.min(np.sqrt(room) - field_mm[:, 1])))
    return centre * footprint.scale


def needed_stop_mm(field_mm: FloatArray, offset_mm: float, footprint: Footprint, stop: Stop) -> float:
    """Return the radius, mm, that a stop would need to leave the whole guide field its light at this offset."""
    reach = np.hypot(field_mm[:, 0], field_mm[:, 1] + offset_mm / footprint.scale)
    return float(np.max(reach)) * stop.scale + stop.beam_mm


def disc_overlap_area(distance: ArrayLike, radius: float, other: float) -> FloatArray:
    """Return the area that two discs share, their centres `distance` ≥ 0 apart; radii ≥ 0, any one unit.

    The lens between two circles: a² acos(…) + b² acos(…) less the kite between centres and crossings (any textbook of
    plane geometry). Cosines are cut to ±1, which makes separate discs 0 and nested ones the smaller disc.
    """
    d = np.asarray(distance, dtype=np.float64)
    small, large = min(radius, other), max(radius, other)
    if small <= 0.0:
        return np.zeros_like(d)
    apart = np.where(d > 0.0, d, 1.0)
    cos_small = np.clip((apart**2 + small**2 - large**2) / (2.0 * apart * small), -1.0, 1.0)
    cos_large = np.clip((apart**2 + large**2 - small**2) / (2.0 * apart * large), -1.0, 1.0)
    kite = (-apart + small + large) * (apart + small - large) * (apart - small + large) * (apart + small + large)
    lens = small**2 * np.arccos(cos_small) + large**2 * np.arccos(cos_large) - 0.5 * np.sqrt(np.maximum(kite, 0.0))
    return np.asarray(np.where(d <= large - small, math.pi * small**2, np.where(d >= large + small, 0.0, lens)))


def stop_share(radius_mm: ArrayLike, stop: Stop, obstruction_ratio: float) -> FloatArray:
    """Return the share of a point's light that a stop passes, 0 … 1, for points `radius_mm` from the axis.

    The overlap of the point's annulus at the stop with the opening; a stop in the focal plane passes all or nothing.
    """
    centre = np.asarray(radius_mm, dtype=np.float64) * stop.scale
    if stop.beam_mm <= 0.0:
        return np.asarray(np.where(centre <= stop.radius_mm, 1.0, 0.0))
    inner = stop.beam_mm * obstruction_ratio
    lit = disc_overlap_area(centre, stop.beam_mm, stop.radius_mm) - disc_overlap_area(centre, inner, stop.radius_mm)
    return np.asarray(np.clip(lit / (math.pi * (stop.beam_mm**2 - inner**2)), 0.0, 1.0))
