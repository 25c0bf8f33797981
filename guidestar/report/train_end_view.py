"""The prism's plane as the light meets it, oriented like the displayed main picture: who stands in whose light.

Everything is drawn in the plane of the prism's entrance face, in mm: what lies in the focal plane is scaled by
1 − s/P, and one point's light is the beam's annulus there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from guidestar.report import palette
from guidestar.train.depth import Depth, to_picture
from guidestar.train.result import TrainResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes

FloatArray = NDArray[np.float64]

_DOTTED = (0.0, (1.0, 2.0))


def draw_end_view(axes: Axes, result: TrainResult) -> None:
    """Draw image circle, main sensor and its light, prism and holder, and the light of chosen points."""
    depth = Depth.of(result.rig)
    axes.set_aspect("equal", anchor="W")
    axes.set_axis_off()
    _openings(axes, depth)
    _sensor(axes, depth)
    _prism(axes, depth)
    _footprints(axes, depth)
    _limits(axes, depth)
    axes.set_title("In the prism's plane", fontsize=palette.NORMAL, weight="bold", color=palette.INK, loc="left")


def caption(result: TrainResult) -> str:
    """Say what the signs mean."""
    limited = bool(Depth.of(result.rig).stops)
    circle = " Dotted circles: a point within has its full light from that opening." if limited else ""
    return (
        "Turned like the main picture, up is up; seen in the plane of the prism's face. Rectangle: the main sensor; "
        "tinted: all light on its way to it. Heavy square: the prism's face; dotted, outward of it: prism and holder "
        "in the light's way. Rings: light of the sensor's point nearest to the prism, and of the guide field's middle."
        f"{circle}"
    )


def _to_axes(depth: Depth, points: FloatArray) -> FloatArray:
    """Turn rig-frame points (n, 2) in the prism's plane into (right, up)."""
    return np.column_stack(to_picture(depth.rig, points[:, 0], points[:, 1]))


def _outline(axes: Axes, points: FloatArray, gid: str, **style: object) -> None:
    from matplotlib.patches import Polygon

    axes.add_patch(Polygon(points, closed=True, gid=gid, joinstyle="miter", **style))


def _openings(axes: Axes, depth: Depth) -> None:
    from matplotlib.patches import Circle

    for name, stop in depth.stops:
        radius = max(stop.radius_mm - stop.beam_mm, 0.0) / stop.scale * depth.footprint.scale
        circle = Circle((0.0, 0.0), radius, fill=False, edgecolor=palette.INK, linewidth=palette.MEDIUM, gid=name)
        circle.set(linestyle=_DOTTED, zorder=2.5)  # over the light, under prism and holder
        axes.add_patch(circle)
        turn = np.radians(200.0 if name == "image circle" else 320.0)
        axes.text(
            radius * np.cos(turn) * 0.97, radius * np.sin(turn) * 0.97, name, fontsize=palette.SMALL, ha="center",
            va="center", color=palette.INK,
            bbox={"facecolor": palette.PAPER, "edgecolor": "none", "pad": 0.5, "alpha": 0.9},
        )  # fmt: skip


def _sensor(axes: Axes, depth: Depth) -> None:
    """Draw the sensor's outline in this plane and, around it, the rim of all its light."""
    corners = _to_axes(depth, depth.corners_mm * depth.footprint.scale)
    turn = np.linspace(0.0, 2.0 * np.pi, 90)
    rim = depth.footprint.radius_mm * np.column_stack((np.cos(turn), np.sin(turn)))
    grown = np.vstack([corner + rim for corner in corners])
    _outline(
        axes, _hull(grown), "sensor light", facecolor=palette.TINT, edgecolor=palette.SHADE, linewidth=palette.THIN
    )
    _outline(axes, corners, "main sensor", fill=False, edgecolor=palette.INK, linewidth=palette.MEDIUM)
    low = corners.min(axis=0)
    axes.text(low[0] + 0.8, low[1] + 0.8, "main sensor", fontsize=palette.SMALL, color=palette.INK)


def _hull(points: FloatArray) -> FloatArray:
    """Return the convex hull of points, anticlockwise (monotone chain)."""
    ordered = points[np.lexsort((points[:, 1], points[:, 0]))]
    halves = []
    for run in (ordered, ordered[::-1]):
        chain: list[FloatArray] = []
        for point in run:
            while len(chain) > 1 and _turns_right(chain[-2], chain[-1], point):
                chain.pop()
            chain.append(point)
        halves += chain[:-1]
    return np.array(halves)


def _turns_right(one: FloatArray, two: FloatArray, three: FloatArray) -> bool:
    a, b = two - one, three - one
    return bool(a[0] * b[1] - a[1] * b[0] <= 0.0)


def _prism(axes: Axes, depth: Depth) -> None:
    prism = depth.rig.prism
    inner, half = depth.body.inner_edge_mm(prism.offset_mm), depth.body.width_mm / 2
    outer = _reach_mm(depth)
    body = np.array([(-half, inner), (half, inner), (half, outer), (-half, outer)])
    _outline(
        axes, _to_axes(depth, body), "body", facecolor="none", edgecolor=palette.SHADE, hatch="....",
        linewidth=palette.THIN, zorder=3,
    )  # fmt: skip
    wide, low, high = prism.width_mm / 2, inner, inner + prism.height_mm
    face = np.array([(-wide, low), (wide, low), (wide, high), (-wide, high)])
    _outline(
        axes, _to_axes(depth, face), "prism", facecolor=palette.PAPER, edgecolor=palette.INK, linewidth=palette.HEAVY,
        zorder=4,
    )  # fmt: skip
    field = depth.field_mm * depth.footprint.scale + np.array([0.0, prism.offset_mm])
    _outline(
        axes, _to_axes(depth, field), "guide field", fill=False, edgecolor=palette.ACCENT, linewidth=palette.MEDIUM,
        linestyle=palette.DASHED, zorder=5,
    )  # fmt: skip


def _footprints(axes: Axes, depth: Depth) -> None:
    from matplotlib.patches import Circle

    top = float(depth.corners_mm[:, 1].max())
    nearest = depth.corners_mm[depth.corners_mm[:, 1] > top - 1e-6].mean(axis=0) * depth.footprint.scale
    middle = np.array([0.0, depth.rig.prism.offset_mm])
    for point, colour in ((nearest, palette.INK), (middle, palette.ACCENT)):
        place = _to_axes(depth, point[None, :])[0]
        for radius in (depth.footprint.radius_mm, depth.footprint.radius_mm * depth.footprint.obstruction_ratio):
            ring = Circle((float(place[0]), float(place[1])), radius, fill=False, edgecolor=colour, zorder=6)
            ring.set(linewidth=palette.MEDIUM, gid="footprint")
            axes.add_patch(ring)
        axes.plot(*place, marker="+", color=colour, markersize=4.0, zorder=6)


def _reach_mm(depth: Depth) -> float:
    """Return how far out from the axis the drawing goes."""
    stops = [stop.radius_mm for _, stop in depth.stops]
    corner = float(np.max(np.hypot(depth.corners_mm[:, 0], depth.corners_mm[:, 1])))
    prism = depth.rig.prism
    return max([*stops, corner + depth.footprint.radius_mm, prism.offset_mm + prism.height_mm / 2 + 1.0])


def _limits(axes: Axes, depth: Depth) -> None:
    reach = 1.04 * _reach_mm(depth)
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    y = -0.98 * reach
    axes.plot([reach - 10.5, reach - 0.5], [y, y], color=palette.INK, linewidth=palette.HEAVY, solid_capstyle="butt")
    axes.text(reach - 5.5, y + 0.02 * reach, "10 mm", fontsize=palette.SMALL, ha="center", va="bottom")
