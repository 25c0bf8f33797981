"""The field on the sky: stars, main frame, guide field and the ring that it sweeps; north up, east left."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from guidestar.field.result import CheckResult, GuideStar
from guidestar.report import labels, layout, palette
from guidestar.report import wording as w

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MOST_MAGNITUDES = 3
"""With more stars than this in the guide field, only their numbers fit beside them."""
_SCALE_BARS_ARCMIN = (0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 180.0)


def draw_field(axes: Axes, result: CheckResult, angle: float | None = None) -> None:
    """Draw the field into `axes`, in arcminutes east and north of the target (tangent plane).

    Parameters
    ----------
    axes : matplotlib.axes.Axes
    result : CheckResult
    angle : float, optional
        Camera angle, degrees; default: the one that `layout.shown` chooses (asked, best sure, best).
    """
    shown = layout.shown(result, angle)
    half = _half_width_arcmin(result)
    _prepare(axes, half)
    _ring(axes, result)
    _frames(axes, result, shown)
    _stars(axes, result, half)
    _guide_stars(axes, result, shown, half)
    _compass(axes)
    _scale_bar(axes, half)
    axes.set_title(
        f"The sky at camera angle {w.angle(shown.angle_deg)}".replace(w.NBSP, " "),
        fontsize=palette.NORMAL,
        weight="bold",
        color=palette.INK,
    )


def caption(result: CheckResult) -> str:
    """Say what the signs of the picture mean."""
    flip = " Dashed: the guide field after the meridian flip." if result.rig.mount.flips else ""
    return (
        "North up, east left. Heavy outline: the guide field; grey ring: what it sweeps in a full turn; rectangle: the "
        f"main picture, its heavy edge is the upper one.{flip} Dots: stars, larger is brighter; filled ones can guide "
        "at some camera angle. Numbered circles: guide stars, 1 is the brightest."
    )


def _half_width_arcmin(result: CheckResult) -> float:
    camera = result.rig.camera
    reach_mm = max(result.field.outer_mm, np.hypot(camera.width_mm, camera.height_mm) / 2.0)
    return float(1.1 * reach_mm * layout.arcmin_per_mm(result))


def _prepare(axes: Axes, half: float) -> None:
    axes.set_xlim(half, -half)  # east is left
    axes.set_ylim(-half, half)
    axes.set_aspect("equal")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_facecolor(palette.PAPER)
    for spine in axes.spines.values():
        spine.set(linewidth=palette.THIN, color=palette.INK)
    axes.apply_aspect()


def _ring(axes: Axes, result: CheckResult) -> None:
    from matplotlib.patches import Annulus

    scale = layout.arcmin_per_mm(result)
    outer, inner = result.field.outer_mm * scale, result.field.inner_mm * scale
    ring = Annulus((0.0, 0.0), outer, max(outer - inner, 1e-9), facecolor=palette.TINT, edgecolor=palette.SHADE)
    ring.set(linewidth=palette.THIN, zorder=1, gid="ring")
    axes.add_patch(ring)


def _frames(axes: Axes, result: CheckResult, shown: layout.Shown) -> None:
    scale = layout.arcmin_per_mm(result)
    corners = layout.main_frame(result.rig, shown.angle_deg) * scale
    _outline(axes, corners, "main frame", color=palette.INK, linewidth=palette.MEDIUM)
    axes.plot(*corners[[0, 3]].T, color=palette.INK, linewidth=1.6 * palette.HEAVY, zorder=4, gid="upper edge")
    inward = 0.80 * corners[[0, 3]].mean(axis=0)
    axes.text(
        float(inward[0]),
        float(inward[1]),
        "up",
        fontsize=palette.SMALL,
        ha="center",
        va="center",
        color=palette.INK,
        zorder=4,
    )
    axes.plot([0.0], [0.0], marker="+", markersize=8.0, color=palette.INK, linewidth=palette.THIN, gid="target")
    outline = result.field.outline_mm
    here = layout.rig_to_sky(result.rig, outline, shown.angle_deg) * scale
    _outline(axes, here, "guide field", color=palette.ACCENT, linewidth=palette.HEAVY)
    if result.rig.mount.flips:
        _outline(
            axes, -here, "after the flip", color=palette.ACCENT, linewidth=palette.MEDIUM, linestyle=palette.DASHED
        )


def _outline(axes: Axes, corners: np.ndarray, gid: str, **pen: object) -> None:
    from matplotlib.patches import Polygon

    axes.add_patch(Polygon(corners, closed=True, fill=False, gid=gid, zorder=4, joinstyle="miter", **pen))


def _stars(axes: Axes, result: CheckResult, half: float) -> None:
    scale = layout.arcmin_per_mm(result)
    around = result.surroundings
    east, north = around.x_mm * scale, around.y_mm * scale
    inside = (np.abs(east) <= half) & (np.abs(north) <= half)
    faintest = _faintest_drawn(result)
    for usable, name in ((False, "faint stars"), (True, "stars")):
        rows = np.flatnonzero(inside & (around.usable == usable))
        axes.scatter(
            east[rows],
            north[rows],
            s=[palette.star_area(g, faintest) for g in around.g_mag[rows]],
            facecolors=palette.INK if usable else palette.PAPER,
            edgecolors=palette.INK if usable else palette.SHADE,
            linewidths=0.0 if usable else palette.THIN,
            zorder=3,
            gid=name,
        )


def _faintest_drawn(result: CheckResult) -> float:
    """Return the magnitude of the faintest star in the picture: it gets the smallest dot."""
    magnitudes = result.surroundings.g_mag
    return float(np.max(magnitudes)) if magnitudes.size else result.stars.faintest_mag


def _guide_stars(axes: Axes, result: CheckResult, shown: layout.Shown, half: float) -> None:
    """Ring and number the brightest guide stars, and every one that stands in the guide field now."""
    numbers, here = layout.star_numbers(result), set(shown.star_ids)
    drawn = layout.stars_drawn(result, shown)
    drawn.sort(key=lambda star: (star.id not in here, numbers[star.id]))
    say_magnitude = len(here) <= _MOST_MAGNITUDES
    places = {star.id: _place_arcmin(star, result) for star in drawn}
    for star in drawn:
        axes.plot(
            *places[star.id],
            marker="o",
            markersize=11.0,
            fillstyle="none",
            color=palette.ACCENT,
            markeredgewidth=palette.HEAVY if star.id in here else palette.MEDIUM,
            linestyle="none",
            zorder=5,
            gid=f"guide star {numbers[star.id]}",
        )
    labels.place(
        axes,
        [
            labels.Label(
                *places[star.id],
                f"{numbers[star.id]}: G {star.g_mag:.1f}"
                if star.id in here and say_magnitude
                else str(numbers[star.id]),
                6.0,
                star.id in here,
            )
            for star in drawn
            if max(map(abs, places[star.id])) <= half
        ],
    )


def _place_arcmin(star: GuideStar, result: CheckResult) -> tuple[float, float]:
    scale = layout.arcmin_per_mm(result)
    east_mm, north_mm = layout.guide_star_sky_mm(star)
    return east_mm * scale, north_mm * scale


def _compass(axes: Axes) -> None:
    """Draw north and east as two arrows in the lower left corner, in data directions."""
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    wide, high = right - left, top - bottom
    foot = (left + 0.115 * wide, bottom + 0.04 * high)
    length = 0.075 * high
    _clear(axes, (left + 0.004 * wide, bottom + 0.004 * high), (left + 0.145 * wide, bottom + 0.155 * high))
    layout.compass(axes, foot, length, 1.25)


def _clear(axes: Axes, corner: tuple[float, float], opposite: tuple[float, float]) -> None:
    """Lay a sheet of paper over the stars where a sign has to be read."""
    from matplotlib.patches import Rectangle

    size = (opposite[0] - corner[0], opposite[1] - corner[1])
    axes.add_patch(Rectangle(corner, *size, facecolor=palette.PAPER, edgecolor="none", zorder=7))


def _scale_bar(axes: Axes, half: float) -> None:
    fitting = [bar for bar in _SCALE_BARS_ARCMIN if bar <= 0.5 * half]
    length = fitting[-1] if fitting else _SCALE_BARS_ARCMIN[0]
    right, height = -0.94 * half, -0.93 * half
    _clear(axes, (right + length + 0.05 * half, -0.992 * half), (-0.992 * half, height + 0.11 * half))
    axes.plot(
        [right + length, right],
        [height, height],
        color=palette.INK,
        linewidth=palette.HEAVY,
        marker="|",
        markersize=6.0,
        zorder=8,
        gid="scale bar",
    )
    axes.text(
        right + length / 2.0,
        height + 0.025 * half,
        f"{w.plain(length)}′ (arcmin)",
        fontsize=palette.SMALL,
        ha="center",
        va="bottom",
        color=palette.INK,
        zorder=8,
    )
