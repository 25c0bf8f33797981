"""The geometric guide field: which part of the focal plane the prism and the guide sensor share.

Rig frame, mm in the focal plane: x along the tangent, y radially outward, the axis at the origin. A point r of the
focal plane sends its chief ray through the prism's entrance face at r·(1 − s/P), with the face s mm before the focal
plane and the exit pupil P mm before it (similar triangles about the pupil's centre).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def face_scale(ahead_mm: float, exit_pupil_mm: float) -> float:
    """Return 1 − s/P, the size of a pattern at the prism's face over its size in the focal plane.

    `ahead_mm` ≥ 0; `exit_pupil_mm` > `ahead_mm`, infinite for a telecentric telescope (then 1).
    """
    return 1.0 - ahead_mm / exit_pupil_mm


def field_centre_mm(offset_mm: float, ahead_mm: float, exit_pupil_mm: float) -> float:
    """Return y_c, mm from the axis in the focal plane, of the chief ray through the prism face's centre."""
    return offset_mm / face_scale(ahead_mm, exit_pupil_mm)


def guide_polygon(
    *,
    sensor_width_mm: float,
    sensor_height_mm: float,
    turned_deg: float,
    edge_margin_mm: float,
    prism_width_mm: float,
    prism_height_mm: float,
    centre_mm: float,
    face_scale: float,
) -> FloatArray:
    """Return the outline of the geometric guide field, shape (n, 2), mm, counter-clockwise in (x, y).

    The guide sensor about (0, `centre_mm`), turned by `turned_deg` from +y towards +x and less the margin on each
    side, cut by the prism's face as projected onto the focal plane (that edge is not shrunk). Empty, shape (0, 2),
    if the margin leaves nothing of the sensor.
    """
    half_u = sensor_width_mm / 2 - edge_margin_mm
    half_v = sensor_height_mm / 2 - edge_margin_mm
    if half_u <= 0 or half_v <= 0:
        return np.empty((0, 2))
    sensor = _turned_rectangle(half_u, half_v, turned_deg)
    half_x, half_y = prism_width_mm / 2 / face_scale, prism_height_mm / 2 / face_scale
    face = ((1.0, 0.0, half_x), (-1.0, 0.0, half_x), (0.0, 1.0, half_y), (0.0, -1.0, half_y))
    for normal_x, normal_y, limit in face:
        sensor = _cut(sensor, normal_x, normal_y, limit)
    return np.asarray(sensor + np.array([0.0, centre_mm]))


def _turned_rectangle(half_u: float, half_v: float, turned_deg: float) -> FloatArray:
    """Return the corners of a rectangle about the origin whose v axis is turned from +y towards +x."""
    sine, cosine = math.sin(math.radians(turned_deg)), math.cos(math.radians(turned_deg))
    u_axis, v_axis = np.array([cosine, -sine]), np.array([sine, cosine])
    signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return np.array([i * half_u * u_axis + j * half_v * v_axis for i, j in signs])


def _cut(polygon: FloatArray, normal_x: float, normal_y: float, limit: float) -> FloatArray:
    """Keep the part of a convex polygon where normal · point ≤ limit (one Sutherland–Hodgman step)."""
    excess = polygon @ np.array([normal_x, normal_y]) - limit
    kept: list[FloatArray] = []
    for i in range(len(polygon)):
        j = (i + 1) % len(polygon)
        if excess[i] <= 0:
            kept.append(polygon[i])
        if excess[i] * excess[j] < 0:
            share = excess[i] / (excess[i] - excess[j])
            kept.append(polygon[i] + share * (polygon[j] - polygon[i]))
    return np.array(kept).reshape(-1, 2)


def to_sensor(x_mm: FloatArray, y_mm: FloatArray, centre_mm: float, turned_deg: float) -> tuple[FloatArray, FloatArray]:
    """Return (u, v) on the guide sensor, mm from its centre, of points in the rig frame.

    u along the sensor's width, v along its height; with `turned_deg` = 0 they are x and y − `centre_mm`.
    """
    sine, cosine = math.sin(math.radians(turned_deg)), math.cos(math.radians(turned_deg))
    radial = y_mm - centre_mm
    return x_mm * cosine - radial * sine, x_mm * sine + radial * cosine


def half_planes(polygon: FloatArray) -> FloatArray:
    """Return (n, 3) rows (a, b, c), unit normals outward: a point is inside where a·x + b·y ≤ c for every row.

    Edges of no length (a cut through a corner) carry no condition and are left out.
    """
    edges = np.roll(polygon, -1, axis=0) - polygon
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    solid = lengths > 1e-9
    normals = np.column_stack((edges[solid, 1], -edges[solid, 0])) / lengths[solid, None]
    return np.column_stack((normals, np.sum(normals * polygon[solid], axis=1)))


def swept_radii_mm(polygon: FloatArray) -> tuple[float, float]:
    """Return the inner and outer radius, mm, of the ring that the polygon sweeps in a full turn about the axis.

    The inner radius is 0 where the polygon holds the axis.
    """
    outer = float(np.max(np.hypot(polygon[:, 0], polygon[:, 1])))
    if np.all(half_planes(polygon)[:, 2] >= 0):
        return 0.0, outer
    start = polygon
    edge = np.roll(polygon, -1, axis=0) - polygon
    squared = np.sum(edge**2, axis=1)
    share = np.clip(-np.sum(start * edge, axis=1) / np.where(squared > 0, squared, 1.0), 0.0, 1.0)
    nearest = start + share[:, None] * edge
    return float(np.min(np.hypot(nearest[:, 0], nearest[:, 1]))), outer
