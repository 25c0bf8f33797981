"""Rays traced one by one, for the Monte Carlo of shadow and window. Shares no code with guidestar's optics."""

from __future__ import annotations

import math

import numpy as np


def pupil_points(count, obstruction, seed):
    """Points spread evenly over an annulus of radius 1: one a cell of a polar grid of equal areas, shaken within it."""
    rng = np.random.default_rng(seed)
    i, j = np.meshgrid(np.arange(count), np.arange(count), indexing="ij")
    share = (i + rng.random((count, count))) / count
    angle = 2 * math.pi * (j + rng.random((count, count))) / count
    distance = np.sqrt(obstruction**2 + share * (1 - obstruction**2))
    return (distance * np.cos(angle)).ravel(), (distance * np.sin(angle)).ravel()


def at_plane(x_mm, y_mm, before_mm, *, f_ratio, obstruction, pupil_mm, count=200, seed=0):
    """Where the rays that meet at a focal-plane point cross the plane `before_mm` ahead of it: straight lines."""
    u, v = pupil_points(count, obstruction, seed)
    if math.isinf(pupil_mm):
        return x_mm + u / (2 * f_ratio) * before_mm, y_mm + v / (2 * f_ratio) * before_mm
    at_x, at_y = u * pupil_mm / (2 * f_ratio), v * pupil_mm / (2 * f_ratio)
    way = before_mm / pupil_mm
    return x_mm + (at_x - x_mm) * way, y_mm + (at_y - y_mm) * way


def shadow(x_mm, y_mm, *, offset_mm, height_mm, width_mm, ahead_mm, **beam):
    """Share of a point's rays that a body |x| ≤ width/2, from offset − height/2 outward, stops."""
    at_x, at_y = at_plane(x_mm, y_mm, ahead_mm, **beam)
    return float(np.mean((np.abs(at_x) <= width_mm / 2) & (at_y >= offset_mm - height_mm / 2)))


def through_opening(x_mm, y_mm, *, radius_mm, before_mm, **beam):
    """Share of a point's rays that pass a round opening about the axis."""
    at_x, at_y = at_plane(x_mm, y_mm, before_mm, **beam)
    return float(np.mean(np.hypot(at_x, at_y) <= radius_mm))
