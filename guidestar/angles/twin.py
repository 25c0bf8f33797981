"""The slow, obvious twin of the angle kernels: turn the camera in small steps and look where each star stands.

Reference for tests and for anyone who wants to see the definition without the cleverness.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

HalfPlane = tuple[float, float, float]


def inside(half_planes: Sequence[HalfPlane], x_mm: float, y_mm: float) -> bool:
    """Return whether the point lies in every half-plane a·x + b·y ≤ c."""
    return all(a * x_mm + b * y_mm <= c for a, b, c in half_planes)


def stars_inside(
    half_planes: Sequence[HalfPlane],
    radius_mm: Sequence[float],
    phase_deg: Sequence[float],
    turn_deg: float,
    move_mm: float = 0.0,
) -> list[int]:
    """Return which stars stand in the polygon, moved by `move_mm` along +y, at one turn of the camera."""
    found = []
    for i, (radius, phase) in enumerate(zip(radius_mm, phase_deg, strict=True)):
        direction = math.radians(phase - turn_deg)
        if inside(half_planes, radius * math.sin(direction), radius * math.cos(direction) - move_mm):
            found.append(i)
    return found


def usable(
    half_planes: Sequence[HalfPlane],
    radius_mm: Sequence[float],
    phase_deg: Sequence[float],
    turn_deg: float,
    count: int = 1,
    moves_mm: Sequence[float] = (0.0,),
) -> bool:
    """Return whether at least `count` stars stand in the polygon at this turn, for each of the moves."""
    return all(len(stars_inside(half_planes, radius_mm, phase_deg, turn_deg, move)) >= count for move in moves_mm)
