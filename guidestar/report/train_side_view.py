"""The train from the side, to scale: light comes from the left, the main sensor is on the right, the guide side above.

x is mm behind the corrector's flange, y mm from the axis towards the prism.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from guidestar.report import palette
from guidestar.rig.clearance import sensor_extent_mm
from guidestar.rig.limits import AHEAD_DISAGREEMENT_MM
from guidestar.train.result import Piece, TrainResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LABEL_STEP_MM = 5.6


def draw_side_view(axes: Axes, result: TrainResult) -> None:
    """Draw pieces, filter, prism, both sensors and the way of the light to each."""
    end = result.spacing.pieces[-1].start_mm + result.spacing.pieces[-1].length_mm
    wall = _wall_mm(result)
    axes.set_aspect("equal", anchor="W")
    axes.set_axis_off()
    _axis_and_light(axes, end, wall)
    _cone(axes, result, end)
    for number, piece in enumerate(result.spacing.pieces):
        _piece(axes, piece, wall)
        _label(axes, piece, wall, number)
    _filter(axes, result, wall)
    _main_sensor(axes, result, end, wall)
    _guide_side(axes, result, end)
    _ruler(axes, result, end, wall)
    axes.set_title("From the side, to scale", fontsize=palette.NORMAL, weight="bold", color=palette.INK, loc="left")


def caption(result: TrainResult) -> str:
    """Say what the signs mean."""
    missing = "Hatched: the spacer still needed. " if _spacer(result) else ""
    return (
        f"Light comes from the left. {missing}Tinted: light on its way to the outermost point of the main sensor on "
        "the prism's side. Heavy lines: the sensors. Dashed: where the main sensor belongs. Lengths in mm."
        f"{_at_odds(result)}"
    )


def _at_odds(result: TrainResult) -> str:
    """Say that the prism is drawn elsewhere than in the part that should hold it, where that is so."""
    told = None if result.rig.train is None else result.rig.train.prism_ahead_mm
    drawn = result.focus.ahead_mm
    if told is None or abs(told - drawn) <= AHEAD_DISAGREEMENT_MM:
        return ""
    return (
        f" The prism is drawn {drawn:g} mm before the sensor, as ahead_mm says; by the parts it would be {told:g} mm."
    )


def _spacer(result: TrainResult) -> bool:
    return any(piece.kind == "spacer" for piece in result.spacing.pieces)


def _wall_mm(result: TrainResult) -> float:
    """Return half the height to draw pieces with: the prism stands inside."""
    prism = result.rig.prism
    return float(max(prism.offset_mm + prism.height_mm / 2 + 3.0, _half_sensor_mm(result) + 6.0))


def _half_sensor_mm(result: TrainResult) -> float:
    camera = result.rig.camera
    return sensor_extent_mm(camera.width_mm, camera.height_mm, result.rig.prism.side_deg) / 2


def _axis_and_light(axes: Axes, end: float, wall: float) -> None:
    axes.plot([-9.0, end + 4.0], [0.0, 0.0], color=palette.SHADE, linewidth=palette.THIN, linestyle=(0, (9, 3, 1, 3)))
    for y in (-wall * 0.5, wall * 0.5):
        axes.annotate(
            "", (-1.5, y), (-9.0, y), arrowprops={"arrowstyle": "-|>", "color": palette.INK, "linewidth": palette.THIN}
        )
    axes.text(-9.0, wall * 0.5 + 1.2, "light", fontsize=palette.SMALL, color=palette.INK)


def _cone(axes: Axes, result: TrainResult, end: float) -> None:
    """Tint the light of the sensor's edge point on the prism's side."""
    from matplotlib.patches import Polygon

    top = _half_sensor_mm(result)
    pupil, f_ratio = result.rig.telescope.exit_pupil_mm, result.rig.telescope.f_ratio
    middle, radius = top * (1.0 - end / pupil), end / (2.0 * f_ratio)
    corners = [(0.0, middle - radius), (0.0, middle + radius), (end, top)]
    axes.add_patch(Polygon(corners, facecolor=palette.TINT, edgecolor="none", zorder=0, gid="edge light"))


def _piece(axes: Axes, piece: Piece, wall: float) -> None:
    from matplotlib.patches import Rectangle

    hatch = palette.HATCH if piece.kind == "spacer" else None
    for y in (-wall - 2.2, wall):
        axes.add_patch(
            Rectangle(
                (piece.start_mm, y),
                piece.length_mm,
                2.2,
                facecolor=palette.PAPER if piece.kind == "spacer" else palette.SHADE,
                edgecolor=palette.INK,
                linewidth=palette.THIN,
                hatch=hatch,
                gid=f"wall of {piece.name}",
            )
        )


def _label(axes: Axes, piece: Piece, wall: float, number: int) -> None:
    """Write name and length below, on steps that keep neighbours apart."""
    middle = piece.start_mm + piece.length_mm / 2
    base = -wall - 2.2
    y = base - 9.5 - _LABEL_STEP_MM * (number % 2)
    axes.plot([middle, middle], [base, y + 2.9], color=palette.INK, linewidth=palette.THIN)
    name = piece.name if len(piece.name) <= 26 else f"{piece.name[:25]}…"
    words = f"{name}\n{piece.length_mm:.2f}"
    axes.text(
        middle, y, words, fontsize=palette.SMALL, ha="center", va="center", color=palette.INK,
        linespacing=1.1, parse_math=False, bbox={"facecolor": palette.PAPER, "edgecolor": "none", "pad": 0.6},
    )  # fmt: skip


def _filter(axes: Axes, result: TrainResult, wall: float) -> None:
    from matplotlib.patches import Rectangle

    thickness = result.rig.train.filter_thickness_mm if result.rig.train else 0.0
    for piece in result.spacing.pieces:
        if piece.filter_at_mm is not None and thickness > 0.0:
            at = piece.start_mm + piece.filter_at_mm
            glass = Rectangle((at, -wall + 1.5), thickness, 2 * wall - 3.0, facecolor=palette.PAPER, gid="filter")
            glass.set(edgecolor=palette.INK, linewidth=palette.MEDIUM, alpha=0.85)
            axes.add_patch(glass)
            axes.text(at + thickness + 0.8, -wall + 3.0, "filter", fontsize=palette.SMALL, rotation=90, va="bottom")


def _main_sensor(axes: Axes, result: TrainResult, end: float, wall: float) -> None:
    half, wanted = _half_sensor_mm(result), result.spacing.wanted_mm
    axes.plot(
        [end, end],
        [-half, half],
        color=palette.INK,
        linewidth=2 * palette.HEAVY,
        solid_capstyle="butt",
        gid="main sensor",
    )
    axes.text(end + 1.5, 0.0, "main\nsensor", fontsize=palette.SMALL, va="center", color=palette.INK)
    axes.plot(
        [wanted, wanted], [-wall - 3.0, wall + 3.0], color=palette.INK, linewidth=palette.MEDIUM,
        linestyle=palette.DASHED, gid="wanted",
    )  # fmt: skip


def _guide_side(axes: Axes, result: TrainResult, end: float) -> None:
    """Draw the prism with its mirror, and the guide sensor where it is in focus."""
    from matplotlib.patches import Rectangle

    prism, focus = result.rig.prism, result.focus
    left, height = end - focus.ahead_mm, prism.height_mm
    bottom = prism.offset_mm - height / 2
    face = Rectangle(
        (left, bottom), height, height, facecolor=palette.PAPER, edgecolor=palette.INK, zorder=4, gid="prism"
    )
    face.set(linewidth=palette.MEDIUM)
    axes.add_patch(face)
    axes.plot([left, left + height], [bottom, bottom + height], color=palette.INK, linewidth=palette.HEAVY, zorder=5)
    axes.text(
        left - 1.0, prism.offset_mm, "prism", fontsize=palette.SMALL, ha="right", va="center", zorder=6,
        bbox={"facecolor": palette.PAPER, "edgecolor": "none", "pad": 0.5, "alpha": 0.8},
    )  # fmt: skip
    x, y = left + height / 2, prism.offset_mm + focus.needed_mm - height / 2
    axes.plot(
        [left, x, x],
        [prism.offset_mm, prism.offset_mm, y],
        color=palette.ACCENT,
        linewidth=palette.MEDIUM,
        zorder=6,
        gid="guide path",
    )
    half = result.rig.guide_camera.height_mm / 2
    axes.plot(
        [x - half, x + half],
        [y, y],
        color=palette.ACCENT,
        linewidth=2 * palette.HEAVY,
        solid_capstyle="butt",
        gid="guide sensor",
    )
    words = f"guide sensor in focus: {focus.needed_mm:.2f} mm\nfrom the prism's face, round the reflection"
    axes.text(x + half + 1.5, y, words, fontsize=palette.SMALL, va="center", color=palette.INK)
    _travel(axes, result, x, y, half)


def _travel(axes: Axes, result: TrainResult, x: float, y: float, half: float) -> None:
    """Draw where the guide sensor can be put: from drawn in to drawn out."""
    focus = result.focus
    if focus.focuser_mm is None or focus.travel_mm is None:
        return
    low = y - focus.focuser_mm
    side = x - half - 3.0
    axes.plot(
        [side, side],
        [low, low + focus.travel_mm],
        color=palette.INK,
        linewidth=palette.HEAVY,
        solid_capstyle="butt",
        gid="travel",
    )
    for end in (low, low + focus.travel_mm):
        axes.plot([side - 1.2, side + 1.2], [end, end], color=palette.INK, linewidth=palette.MEDIUM)
    words = "focuser travel" if focus.in_travel else "focuser travel:\nout of reach"
    axes.text(side - 2.0, low + focus.travel_mm / 2, words, fontsize=palette.SMALL, ha="right", va="center")


def _ruler(axes: Axes, result: TrainResult, end: float, wall: float) -> None:
    """Draw a scale of 5 mm steps above the pieces, and set the limits."""
    y = wall + 4.0
    last = max(end, result.spacing.wanted_mm)
    for at in np.arange(0.0, last + 1e-9, 5.0):
        long = round(at) % 10 == 0
        axes.plot([at, at], [y, y + (1.4 if long else 0.8)], color=palette.INK, linewidth=palette.THIN)
        if long and not _near_arm(result, end, float(at)):
            axes.text(at, y + 1.9, f"{at:.0f}", fontsize=palette.SMALL, ha="center", color=palette.INK)
    axes.plot([0.0, last], [y, y], color=palette.INK, linewidth=palette.THIN)
    top = max(y + 8.0, result.rig.prism.offset_mm + result.focus.needed_mm - result.rig.prism.height_mm / 2 + 4.0)
    if result.focus.focuser_mm is not None and result.focus.travel_mm is not None:
        top = max(top, top - result.focus.focuser_mm + result.focus.travel_mm)
    axes.set_xlim(-12.0, last + 12.0)
    axes.set_ylim(-wall - 20.0, top)


def _near_arm(result: TrainResult, end: float, at: float) -> bool:
    """Tell whether a number of the scale would stand on the guide path."""
    return abs(at - (end - result.focus.ahead_mm + result.rig.prism.height_mm / 2)) < 2.5
