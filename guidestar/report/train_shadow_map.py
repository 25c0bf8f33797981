"""The prism's shadow on the displayed main picture: per cent of the light lost, as figures, lines and greys."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from guidestar.report import palette
from guidestar.report import train_sentences as say
from guidestar.train.result import Shadow, TrainResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEVELS = (0.01, 0.05, 0.10, 0.20, 0.40, 0.60, 0.80)
_GREYS = (palette.PAPER, "#eeeff1", palette.TINT, "#d2d5d9", "#bfc3c8", "#a9aeb4", "#94999f", "#7e8389")
_FIGURES = (9, 7)
_SHOWN = 5e-4
_BESIDE = 0.055
_ROOM = 0.06
"""How far from the cross its figure stands, and half the room that either takes, shares of the picture's width."""
_INSIDE = 0.015
"""Share of the picture's width that the cross keeps from its rim."""


def draw_shadow_map(axes: Axes, result: TrainResult) -> None:
    """Draw the map in mm right and up of the picture's middle."""
    shadow = result.shadow
    _frame(axes, shadow)
    if shadow.corner:
        axes.contourf(shadow.right_mm, shadow.up_mm, shadow.loss, levels=(-1.0, *LEVELS, 1.01), colors=_GREYS, zorder=0)
        axes.contour(
            shadow.right_mm, shadow.up_mm, shadow.loss, levels=LEVELS, colors=palette.INK, linewidths=palette.THIN
        )
    _figures(axes, shadow)
    if shadow.corner:
        _mark_worst(axes, shadow)
    title = "Shadow on the main picture, % lost" if shadow.corner else "Shadow on the main picture: none"
    axes.set_title(title, fontsize=palette.NORMAL, weight="bold", color=palette.INK, loc="left")


def caption(result: TrainResult) -> str:
    """Say what the signs mean."""
    if not result.shadow.corner:
        return "The main picture as it is displayed: no point of it loses light to the prism."
    levels = ", ".join(f"{100 * level:.0f}" for level in LEVELS)
    return (
        f"The main picture as it is displayed. Figures: per cent of the light that the prism takes there; lines at "
        f"{levels} %. Cross: the worst place, {result.shadow.corner}, {say.percent(result.shadow.worst)} darker."
    )


def _frame(axes: Axes, shadow: Shadow) -> None:
    axes.set_xlim(shadow.right_mm[0], shadow.right_mm[-1])
    axes.set_ylim(shadow.up_mm[-1], shadow.up_mm[0])
    axes.set_aspect("equal", anchor="W")
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set(linewidth=palette.MEDIUM, color=palette.INK)
    axes.set_xlabel(
        f"{np.ptp(shadow.right_mm):.1f} × {np.ptp(shadow.up_mm):.1f} mm", fontsize=palette.SMALL, color=palette.INK
    )


def _figures(axes: Axes, shadow: Shadow) -> None:
    """Write the loss at evenly spread places, rim included; a dot where there is none."""
    columns, rows = (
        np.linspace(0.045 * (n - 1), 0.955 * (n - 1), k).round().astype(int)
        for n, k in zip((len(shadow.right_mm), len(shadow.up_mm)), _FIGURES, strict=True)
    )
    for row in rows:
        for column in columns:
            if shadow.corner and _near_worst(shadow, row, column):
                continue
            loss = float(shadow.loss[row, column])
            axes.text(
                shadow.right_mm[column], shadow.up_mm[row], _figure(loss), fontsize=palette.SMALL, ha="center",
                va="center", color=palette.INK, weight="bold" if loss > 0.1 else "normal", bbox=_behind(loss),
            )  # fmt: skip


def _behind(loss: float) -> dict[str, object]:
    """Return a light ground for a figure, so that lines do not cross it; none for a mere dot."""
    alpha = 0.8 if loss >= _SHOWN else 0.0
    return {"facecolor": palette.PAPER, "edgecolor": "none", "pad": 0.7, "alpha": alpha}


def _figure(loss: float) -> str:
    if loss < _SHOWN:
        return "·"
    return f"{100 * loss:.1f}" if loss < 0.0095 else f"{100 * loss:.0f}"


def _near_worst(shadow: Shadow, row: int, column: int) -> bool:
    """Tell whether a figure would stand under the cross or its own figure."""
    here, wide = np.array([shadow.right_mm[column], shadow.up_mm[row]]), float(np.ptp(shadow.right_mm))
    apart = [np.abs(here - place) for place in (_worst_place(shadow), _worst_figure_place(shadow))]
    return any(bool(np.all(one < _ROOM * wide)) for one in apart)


def _worst_figure_place(shadow: Shadow) -> NDArray[np.float64]:
    """Return where the cross's own figure stands: beside it, towards the picture's middle."""
    place = _worst_place(shadow)
    inward = -place / max(float(np.hypot(*place)), 1e-9)
    return np.asarray(place + _BESIDE * float(np.ptp(shadow.right_mm)) * inward)


def _worst_place(shadow: Shadow) -> NDArray[np.float64]:
    """Return where the cross stands, so far inside that all of it is seen, and clear of the title."""
    rows, columns = np.nonzero(shadow.loss >= np.max(shadow.loss) - 1e-6)
    place: NDArray[np.float64] = np.array([np.mean(shadow.right_mm[columns]), np.mean(shadow.up_mm[rows])])
    rim = np.array([shadow.right_mm[-1], shadow.up_mm[0]]) - _INSIDE * np.ptp(shadow.right_mm)
    return np.clip(place, -rim, rim)


def _mark_worst(axes: Axes, shadow: Shadow) -> None:
    """Cross the worst place, and write beside it what is lost there."""
    place, figure = _worst_place(shadow), _worst_figure_place(shadow)
    axes.text(
        float(figure[0]), float(figure[1]), _figure(shadow.worst), fontsize=palette.SMALL, weight="bold",
        color=palette.INK, ha="center", va="center", bbox=_behind(shadow.worst), zorder=5, gid="worst figure",
    )  # fmt: skip
    axes.plot(
        *place, marker="x", markersize=9.0, color=palette.ACCENT, markeredgewidth=palette.HEAVY, clip_on=False,
        linestyle="none", gid="worst",
    )  # fmt: skip
