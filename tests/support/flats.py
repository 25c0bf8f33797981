"""Rendered flat frames with known shadows. All invented: no real camera, telescope or frame stands behind them.

Shares no code with guidestar. The shadow is the body's mask on a fine grid, smeared by the beam's annulus (FFT
convolution), so it owes nothing to the closed form under test. The falloff is cos⁴ with a soft round edge, both about a
centre off the frame's; then a gradient, dust rings, pixel gain, shot noise, and for colour cameras a 2 × 2 mosaic.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from scipy.ndimage import map_coordinates
from scipy.signal import fftconvolve
from scipy.special import expit

EDGES = {"top": 0.0, "left": 90.0, "bottom": 180.0, "right": 270.0}
CORNERS = ("top left", "bottom left", "bottom right", "top right")


@dataclass(frozen=True)
class Flat:
    """A frame (row 0 on top, as displayed), and the truth: largest loss at any pixel, and where it is."""

    pixels: np.ndarray
    depth: float
    place: str
    width_mm: float = 23.5
    height_mm: float = 15.7
    draw_out_mm: float = 0.0
    radius_mm: float = 0.0
    body_mm: float = 0.0
    obstruction: float = 0.0
    extra: dict = field(default_factory=dict)


def grid(width_px, height_px, width_mm, height_mm):
    """Pixel centres in mm right and up of the frame's centre."""
    right = (np.arange(width_px) + 0.5) / width_px * width_mm - width_mm / 2
    up = height_mm / 2 - (np.arange(height_px) + 0.5) / height_px * height_mm
    return np.meshgrid(right, up)


def smeared_strip(half_width, radius, obstruction, reach, steps=24):
    """The shadow of |x| ≤ half_width, y ≥ 0 behind an annular beam, on a grid of radius/steps; and a reader of it."""
    step = radius / steps
    x = np.arange(-reach, reach + step, step)
    y = np.arange(-2.0 * radius, 2.0 * radius + step, step)
    fine_x, fine_y = np.meshgrid(x, y)
    mask = expit((half_width - np.abs(fine_x)) / (0.12 * step)) * expit(fine_y / (0.12 * step))
    k = np.arange(-steps - 1, steps + 2) * step
    distance = np.hypot(*np.meshgrid(k, k))
    beam = ((distance <= radius) & (distance >= obstruction * radius)).astype(float)
    padded = np.pad(mask, ((steps + 2,) * 2, (0, 0)), mode="edge")
    smeared = fftconvolve(padded, beam / beam.sum(), mode="same")[steps + 2 : -steps - 2]

    def read(at_x, at_y):
        rows = np.clip((at_y - y[0]) / step, 0, len(y) - 1)
        columns = np.clip((at_x - x[0]) / step, 0, len(x) - 1)
        return np.clip(map_coordinates(smeared, [rows, columns], order=1), 0, 1)

    return read


def direction_of(place, width_mm, height_mm, tilt_deg=0.0):
    """Angle of the prism from up towards left, degrees: an edge's normal, or towards the corner."""
    if place in EDGES:
        return EDGES[place]
    lean = math.degrees(math.atan2(width_mm, height_mm))
    middle = {"top left": lean, "bottom left": 180 - lean, "bottom right": 180 + lean, "top right": -lean}[place]
    return middle + tilt_deg


def strip_shadow(right, up, *, place, depth, body_mm, radius_mm, obstruction, aside_mm=0.0, tilt_deg=0.0):
    """The shadow map with the body as far in as makes its largest loss `depth`; and how far to draw it out (mm)."""
    width, height = np.ptp(right) * 1.0, np.ptp(up) * 1.0
    beta = math.radians(direction_of(place, width, height, tilt_deg))
    x = -right * math.cos(beta) - up * math.sin(beta) - aside_mm
    y = -right * math.sin(beta) + up * math.cos(beta)
    read = smeared_strip(body_mm / 2, radius_mm, obstruction, np.abs(x).max() + 2 * radius_mm)
    rim = np.zeros_like(x, dtype=bool)
    rim[[0, -1], :] = rim[:, [0, -1]] = True
    low, high = y.max() - 2.0 * radius_mm, y.max() + 2.0 * radius_mm
    for _ in range(40):
        edge = (low + high) / 2
        low, high = (edge, high) if read(x[rim], y[rim] - edge).max() > depth else (low, edge)
    shadow = read(x, y - edge)
    aside = np.maximum(np.abs(x[rim]) - body_mm / 2, 0.0)
    touched = aside < radius_mm
    clear = np.max(y[rim][touched] + np.sqrt(radius_mm**2 - aside[touched] ** 2))
    return shadow, float(clear - edge)


def falloff(right, up, rng):
    """cos⁴ and a soft round edge about a centre off the frame's, and a gradient of up to 2 % across the frame."""
    diagonal = math.hypot(np.ptp(right), np.ptp(up)) / 2
    centre = rng.uniform(-0.12, 0.12, 2) * diagonal
    rho = np.hypot(right - centre[0], up - centre[1])
    angle = np.arctan(rho / (diagonal * rng.uniform(6.0, 25.0)))
    edge, soft = diagonal * rng.uniform(1.15, 1.7), diagonal * rng.uniform(0.12, 0.3)
    light = np.cos(angle) ** 4 * expit((edge - rho) / soft)
    slope, turn = rng.uniform(0.0, 0.02), rng.uniform(0, 2 * math.pi)
    gradient = 1 + slope * (right * math.cos(turn) + up * math.sin(turn)) / (2 * diagonal)
    return light / light.max() * gradient


def dust(shape, rng):
    """Rings of dust out of focus, 2 to 14 of them, 1 to 7 % deep, up to an eighth of the frame across."""
    rows, columns = np.indices(shape)
    light = np.ones(shape)
    for _ in range(rng.integers(2, 15)):
        radius = rng.uniform(0.008, 0.06) * shape[1]
        distance = np.hypot(rows - rng.uniform(0, shape[0]), columns - rng.uniform(0, shape[1])) / radius
        ring = expit((1 - distance) / 0.06) * (1 - 0.8 * expit((0.35 - distance) / 0.06))
        light *= 1 - rng.uniform(0.01, 0.07) * ring
    return light


def expose(light, rng, *, colour=False, level_e=None):
    """Pixels in counts: gains, shot and read noise, a few hot pixels; a 2 × 2 colour mosaic if asked for."""
    level = rng.uniform(8000, 30000) if level_e is None else level_e
    electrons = light * level
    if colour:
        weights = np.array([[0.55, 1.0], [1.0, 0.7]]) * rng.uniform(0.9, 1.1, (2, 2))
        electrons = (
            electrons
            * np.tile(weights, (light.shape[0] // 2 + 1, light.shape[1] // 2 + 1))[: light.shape[0], : light.shape[1]]
        )
    electrons = electrons * rng.normal(1.0, 0.004, light.shape)
    noisy = rng.normal(electrons, np.sqrt(electrons + 9.0))
    hot = rng.random(light.shape) < 1e-4
    noisy[hot] += rng.uniform(0.1, 1.0, hot.sum()) * level
    return np.clip(np.round(noisy * 1.3), 0, 65535).astype(np.uint16)


def plain_flat(seed, *, colour=False, size=(600, 400), mm=(23.5, 15.7)):
    """A flat without any shadow."""
    rng = np.random.default_rng(seed)
    right, up = grid(*size, *mm)
    light = falloff(right, up, rng) * dust(right.shape, rng)
    return Flat(expose(light, rng, colour=colour), 0.0, "none", *mm)


def shadowed_flat(seed, place, depth, *, colour=False, size=(600, 400), mm=(23.5, 15.7)):
    """A flat with the shadow of a prism or its holder at an edge or a corner."""
    rng = np.random.default_rng(seed)
    right, up = grid(*size, *mm)
    radius, obstruction = rng.uniform(1.5, 6.0), rng.choice([0.0, 0.35])
    body = rng.uniform(8.0, 16.0)
    edge = place in EDGES
    shadow, draw_out = strip_shadow(
        right, up, place=place, depth=depth, body_mm=body, radius_mm=radius, obstruction=obstruction,
        aside_mm=rng.uniform(-2.5, 2.5) if edge else 0.0, tilt_deg=0.0 if edge else rng.uniform(-10, 10),
    )  # fmt: skip
    light = falloff(right, up, rng) * dust(right.shape, rng) * (1 - shadow)
    return Flat(
        expose(light, rng, colour=colour), float(shadow.max()), place, *mm, draw_out, radius, body, float(obstruction)
    )


def round_stop_flat(seed, *, colour=False, size=(600, 400), mm=(23.5, 15.7)):
    """A flat cut on one side by a round opening off the axis (a narrow adapter, a focuser out of line)."""
    rng = np.random.default_rng(seed)
    right, up = grid(*size, *mm)
    diagonal = math.hypot(*mm) / 2
    soft, turn = rng.uniform(1.5, 6.0), rng.uniform(0, 2 * math.pi)
    opening = rng.uniform(0.8, 1.3) * diagonal
    shift = rng.uniform(0.15, 0.5) * diagonal
    # The disc of light cut by a circle, as an error-function-like ramp as wide as the beam (close to it for R >> soft).
    inside = opening - np.hypot(right - shift * math.cos(turn), up - shift * math.sin(turn))
    t = np.clip(inside / soft, -1, 1)
    share = 0.5 + (t * np.sqrt(1 - t**2) + np.arcsin(t)) / math.pi
    share = np.maximum(share, 0.02)
    light = falloff(right, up, rng) * dust(right.shape, rng) * share
    return Flat(expose(light, rng, colour=colour), float(1 - share.min() / share.max()), "round", *mm)
