"""How far in the prism may go before it shadows the main sensor. Plain floats, mm."""

from __future__ import annotations

import math


def sensor_extent_mm(width_mm: float, height_mm: float, side_deg: float) -> float:
    """Return how far a sensor reaches along the prism's direction, mm, from one corner to the other.

    `side_deg` counts from the top edge (0) through the left (90), so a prism at the top or bottom meets the height, one
    at the left or right the width, and one between meets the rectangle's corners.
    """
    angle = math.radians(side_deg)
    return height_mm * abs(math.cos(angle)) + width_mm * abs(math.sin(angle))


def least_clear_offset_mm(
    *, prism_height_mm: float, sensor_extent_mm: float, ahead_mm: float, exit_pupil_mm: float, f_ratio: float
) -> float:
    """Return the least offset, mm from the axis to the prism face's centre, that leaves the main sensor all its light.

    Seen side-on, with s = `ahead_mm` and P = `exit_pupil_mm`, the chief ray to the sensor's edge at H/2 crosses the
    prism's plane at (1 − s/P)·H/2, and the light of that point fills a disc of radius R = s/(2N) about it. The
    prism's inner edge, at offset − h/2, clears the disc from offset = h/2 + (1 − s/P)·H/2 + R on. Similar
    triangles; the sensor is taken as a bar of the full extent, so a prism much narrower than the frame opposite a
    corner may go in a little further.

    `exit_pupil_mm` may be infinite (telecentric) and must exceed `ahead_mm`; `f_ratio` > 0.
    """
    beam_radius = ahead_mm / (2.0 * f_ratio)
    return prism_height_mm / 2 + (1.0 - ahead_mm / exit_pupil_mm) * sensor_extent_mm / 2 + beam_radius
