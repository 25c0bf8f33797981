"""From where a star may stand on the guide field to the directions, then the camera angles, that put it there.

A direction a (degrees) is measured in the rig frame from +y towards +x, so that a star ρ mm from the axis stands at
ρ·(sin a, cos a). Turning the camera turns a and leaves ρ alone: a guide field is, for each ρ, a set of directions.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.circular import SLIVER_DEG

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def polygon_arcs(half_planes: FloatArray, radius_mm: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return the arcs of direction along which circles about the axis lie inside a convex polygon, exactly.

    Parameters
    ----------
    half_planes : (m, 3) array
        Rows (a, b, c), unit normals: inside where a·x + b·y ≤ c, mm. No rows: inside everywhere.
    radius_mm : (n,) array
        Radii of the circles, ≥ 0.

    Returns
    -------
    owner : (k,) int array
        Which circle an arc belongs to, ascending. A circle may have any number of arcs, or none.
    arcs : (k, 2) array
        Start and end of each arc, degrees, end ≤ start + 360; arcs of one circle do not overlap.

    Notes
    -----
    Along a circle a·x + b·y = ρ cos(a − a_n), with a_n the normal's direction: a half-plane cuts away the arc
    |a − a_n| < arccos(c/ρ). The ends of these cuts are all the angles where the answer can change; between two
    neighbouring ones it is what it is in their middle. arccos is taken of exact ratios, so a circle that only just
    touches an edge keeps its square-root behaviour.
    """
    crossings = np.sort(_crossings(half_planes, radius_mm), axis=1)  # absent ones are nan, sorted to the end
    # Without any crossing the whole circle is in or out: a single segment from 0 to 360.
    crossings[np.isnan(crossings[:, 0]), 0] = 0.0
    first = crossings[:, :1]
    following = np.concatenate((crossings[:, 1:], np.full_like(first, np.nan)), axis=1)
    ends = np.where(np.isnan(following), first + 360.0, following)
    middles = (crossings + ends) / 2
    inside = _inside(half_planes, radius_mm, middles) & (ends - crossings > SLIVER_DEG)
    owner, column = np.nonzero(inside)
    return owner, np.column_stack((crossings[owner, column], ends[owner, column]))


def _crossings(half_planes: FloatArray, radius_mm: FloatArray) -> FloatArray:
    """Return (n, 2m + 1) directions in [0, 360) where each circle meets each edge's line; nan where it does not."""
    normal_deg = np.degrees(np.arctan2(half_planes[:, 0], half_planes[:, 1]))
    limits = np.broadcast_to(half_planes[:, 2], (len(radius_mm), len(half_planes)))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # a star on the axis meets no edge
        ratio = limits / radius_mm[:, None]
        half_width = np.degrees(np.arccos(np.where(np.abs(ratio) < 1, ratio, np.nan)))
    both = np.concatenate((normal_deg - half_width, normal_deg + half_width), axis=1)
    return np.concatenate((np.mod(both, 360.0), np.full((len(radius_mm), 1), np.nan)), axis=1)


def _inside(half_planes: FloatArray, radius_mm: FloatArray, direction_deg: FloatArray) -> NDArray[np.bool_]:
    """Return whether points (radius of the row, direction) lie in every half-plane; nan directions do not."""
    x = radius_mm[:, None] * np.sin(np.radians(direction_deg))
    y = radius_mm[:, None] * np.cos(np.radians(direction_deg))
    inside = ~np.isnan(direction_deg)
    for a, b, c in half_planes:
        inside &= a * x + b * y <= c
    return inside


def star_phase_deg(position_angle_deg: FloatArray, side_deg: float, mirrored: bool) -> FloatArray:
    """Return γ such that a star stands in the rig direction a = γ − t at the turn t (see `turn_to_camera`).

    The guide field's centre lies at PA ψ = φ + β, mirrored φ − β, and a star of position angle θ at a = θ − ψ,
    mirrored ψ − θ. With t = φ, mirrored t = −φ, both read a = γ − t: γ = θ − β, mirrored −θ − β.
    """
    return -position_angle_deg - side_deg if mirrored else position_angle_deg - side_deg


def direction_to_turn(phase_deg: FloatArray, owner: IntArray, arcs: FloatArray) -> FloatArray:
    """Return the arcs of turn t = γ − a that put each owner's star in its arcs of direction."""
    return phase_deg[owner, None] - arcs[:, ::-1]


def turn_to_camera(turn_deg: FloatArray, mirrored: bool) -> FloatArray:
    """Return camera-angle arcs for arcs of turn (the same map both ways): φ = t, mirrored φ = −t."""
    return -turn_deg[..., ::-1] if mirrored else turn_deg
