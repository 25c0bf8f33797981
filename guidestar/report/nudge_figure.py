"""Where the target stands in the main picture after a nudge: the picture as displayed, up is up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from guidestar.field.result import CheckResult, FloatArray
from guidestar.nudge.result import Nudge, Shift
from guidestar.report import layout, palette
from guidestar.report import wording as w
from guidestar.report.nudge_sentences import arcmin, towards

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_NO_SHIFT_ARCMIN = 0.005
"""A shift that rounds to nothing."""
_PRISM_GAP = 0.06
_PRISM_DEPTH = 0.10
"""The prism's sign: how far outside the frame it is drawn, and how deep, as shares of the frame's shorter side."""


def shown_shift(found: Nudge) -> Shift | None:
    """Return the shift that the picture shows: the best within the limit, else the nearest beyond."""
    return found.best or found.beyond


def after_shift(found: Nudge | None) -> layout.Shown | None:
    """Return what stands on the guide camera after the shift; None without one within the limit."""
    if found is None or found.best is None:
        return None
    best = found.best
    return layout.Shown(best.angle_deg, "after the shift", None, best.star_ids, best.placements)


def after_words(found: Nudge) -> str:
    """Say what had to be done for the picture after the shift."""
    far = found.best is not None and found.best.shift_arcmin >= _NO_SHIFT_ARCMIN
    return ", after the shift" if far else ""


def draw_frame(axes: Axes, result: CheckResult, found: Nudge) -> None:
    """Draw the main frame in mm from its middle, with the target where it then stands, and north and east."""
    shift = shown_shift(found)
    camera = result.rig.camera
    half = np.array([camera.width_mm, camera.height_mm]) / 2
    _prepare(axes, half)
    _frame(axes, half)
    _prism(axes, result, half)
    if shift is None:
        axes.text(0, 0.25 * half[1], "no shift found", ha="center", fontsize=palette.SMALL, color=palette.INK)
    else:
        _target(axes, found, shift)
        _north_and_east(axes, result, shift, half)
    axes.set_title(title(found), fontsize=palette.NORMAL, weight="bold", color=palette.INK)


def title(found: Nudge) -> str:
    """Name the picture by what it shows."""
    shift = shown_shift(found)
    if shift is None:
        return "No shift brings a guide star"
    if found.best is None:
        return f"Beyond your limit: {arcmin(shift.shift_arcmin)} to the {towards(shift.target)}".replace(w.NBSP, " ")
    if shift.shift_arcmin < _NO_SHIFT_ARCMIN:
        return f"At {w.angle(shift.angle_deg)} the target stays in the middle"
    words = f"At {w.angle(shift.angle_deg)}: the target {arcmin(shift.shift_arcmin)} to the {towards(shift.target)}"
    return words.replace(w.NBSP, " ")


def caption(found: Nudge) -> str:
    """Say what the signs of the picture mean."""
    shift = shown_shift(found)
    where = "" if shift is None else f" at {w.angle(shift.angle_deg)}"
    words = f"The main picture{where} as displayed, its heavy edge up. Cross: its middle; ring: "
    words += "where the target then stands"
    if shift is not None:
        words += f", {_px(shift.target.right_px, 'right', 'left')}, {_px(shift.target.up_px, 'up', 'down')} in pixels"
    second = second_shift(found)
    if second is not None:
        words += f". Diamond: {arcmin(second.shift_arcmin)} is enough if you trust the prism's offset"
    return words + ". Hatched: the side of the prism."


def second_shift(found: Nudge) -> Shift | None:
    """Return the shorter shift that is usable only, where there is one."""
    sure, usable = found.sure, found.usable
    if sure is None or usable is None or usable.shift_arcmin < _NO_SHIFT_ARCMIN:
        return None
    return usable if sure.shift_arcmin - usable.shift_arcmin >= 0.05 else None


def _px(value: float, positive: str, negative: str) -> str:
    return f"{abs(value):.0f} {positive if value >= 0 else negative}"


def _prepare(axes: Axes, half: FloatArray) -> None:
    room = half + 0.36 * half.min()
    axes.set(xlim=(-room[0], room[0]), ylim=(-room[1], room[1]), aspect="equal")
    axes.set_axis_off()
    axes.apply_aspect()


def _frame(axes: Axes, half: FloatArray) -> None:
    from matplotlib.patches import Rectangle

    frame = Rectangle(tuple(-half), *(2 * half), fill=False, edgecolor=palette.INK, linewidth=palette.MEDIUM)
    frame.set(gid="main frame", joinstyle="miter")
    axes.add_patch(frame)
    axes.plot([-half[0], half[0]], [half[1]] * 2, color=palette.INK, linewidth=1.6 * palette.HEAVY, gid="upper edge")
    pen: dict[str, Any] = {"color": palette.SHADE, "linewidth": palette.THIN, "zorder": 1}
    for share in (-1 / 3, 1 / 3):
        axes.plot([share * half[0]] * 2, [-half[1], half[1]], **pen)
        axes.plot([-half[0], half[0]], [share * half[1]] * 2, **pen)
    axes.plot([0.0], [0.0], marker="+", markersize=8.0, color=palette.INK, zorder=6, gid="middle")


def _prism(axes: Axes, result: CheckResult, half: FloatArray) -> None:
    """Draw a hatched bar outside the frame where the prism sits: its side angle turns from the top to the left."""
    from matplotlib.patches import Polygon

    beta = np.radians(result.rig.prism.side_deg)
    outward = np.array([-np.sin(beta), np.cos(beta)])
    along = np.array([outward[1], -outward[0]])
    reach = np.min(half / np.maximum(np.abs(outward), 1e-9)) + 2 * half.min() * _PRISM_GAP
    depth, wide = 2 * half.min() * _PRISM_DEPTH, 0.35 * half.min()
    corners = [
        outward * (reach + out * depth) + along * side * wide for out, side in ((0, -1), (0, 1), (1, 1), (1, -1))
    ]
    bar = Polygon(corners, closed=True, facecolor=palette.PAPER, edgecolor=palette.INK, hatch=palette.HATCH)
    bar.set(linewidth=palette.THIN, gid="prism")
    axes.add_patch(bar)


def _target(axes: Axes, found: Nudge, shift: Shift) -> None:
    """Ring the target, a dashed line to it from the middle; a diamond where the shorter shift would put it."""
    place = (shift.target.right_mm, shift.target.up_mm)
    line: dict[str, Any] = {
        "color": palette.ACCENT,
        "linewidth": palette.MEDIUM,
        "linestyle": palette.DASHED,
        "zorder": 4,
    }
    axes.plot([0.0, place[0]], [0.0, place[1]], gid="shift", **line)
    second = second_shift(found)
    if second is not None:
        _mark(axes, (second.target.right_mm, second.target.up_mm), "D", 4.5, "usable shift")
    _mark(axes, place, "o", 8.0, "target")


def _mark(axes: Axes, place: tuple[float, float], marker: str, size: float, gid: str) -> None:
    pen: dict[str, Any] = {
        "color": palette.ACCENT,
        "markerfacecolor": palette.PAPER,
        "markeredgewidth": 1.6,
        "linestyle": "none",
    }
    axes.plot([place[0]], [place[1]], marker=marker, markersize=size, zorder=5, gid=gid, **pen)


def _north_and_east(axes: Axes, result: CheckResult, shift: Shift, half: FloatArray) -> None:
    """Draw both from inside the lower left corner: up is position angle φ, left φ + 90° (φ − 90° if mirrored)."""
    sense, phi = layout.sense(result.rig), np.radians(shift.angle_deg)
    north = np.array([sense * np.sin(phi), np.cos(phi)])
    east = np.array([-sense * np.cos(phi), np.sin(phi)])
    length = 0.24 * half.min()
    foot = np.array([-half[0], -half[1]]) + 0.42 * half.min()
    for name, direction in (("N", north), ("E", east)):
        axes.annotate(
            "",
            xy=tuple(foot + length * direction),
            xytext=tuple(foot),
            arrowprops={"arrowstyle": "-|>", "color": palette.INK, "lw": palette.MEDIUM, "shrinkA": 0, "shrinkB": 0},
            zorder=6,
            gid=f"arrow {name}",
        )
        words = foot + 1.42 * length * direction
        axes.text(
            words[0], words[1], name, fontsize=palette.SMALL, ha="center", va="center", color=palette.INK, zorder=6
        )
