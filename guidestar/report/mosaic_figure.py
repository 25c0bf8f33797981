"""A mosaic on the sky, with every panel's verdict, and the camera angles that serve them all."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from guidestar.constants import ARCMIN_PER_RADIAN
from guidestar.field import geometry
from guidestar.field.result import FloatArray, Intervals
from guidestar.nudge.result import Mosaic, Panel
from guidestar.report import layout, palette, paper
from guidestar.report import mosaic_sentences as sentences
from guidestar.report import wording as w
from guidestar.sky import plane

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MOST_LISTED = 24
_MOST_NAMED = 36
"""Panels that the page lists, and of how many each is named in the picture."""

_CROWDED = 12
_SCALE_BARS_ARCMIN = (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1200.0)


def save_mosaic(mosaic: Mosaic, path: Path) -> Path:
    """Draw the page and write it, whole or not at all; the suffix chooses the format: png, svg or pdf.

    Raises
    ------
    InputError
        For another suffix, or where the file cannot be written.
    """
    return paper.save_page(path, lambda: page(mosaic))


def page(mosaic: Mosaic) -> Figure:
    """Lay out the page: the sky on the left, the answer, the panels and all camera angles on the right."""
    figure = paper.new_figure(paper.A4_LANDSCAPE_IN)
    paper.text(figure, 0.030, 0.974, _heading(mosaic), size=palette.LARGE, bold=True)
    paper.text(figure, 0.030, 0.946, textwrap.shorten(_subheading(mosaic), 165, placeholder=" …"))
    draw_mosaic(figure.add_axes((0.030, 0.075, 0.570, 0.820)), mosaic)
    draw_angles(figure.add_axes((0.640, 0.845, 0.335, 0.030)), mosaic)
    paper.text(figure, 0.640, 0.802, "Solid: every panel sure; hatched: every panel usable; triangle: the angle shown.")
    paper.text(figure, 0.640, 0.745, _listed(mosaic), mono=True)
    paper.text(figure, 0.030, 0.060, _filled(caption(mosaic), 130))
    paper.text(figure, 0.640, 0.130, "\n".join(_filled(line, 80) for line in _below(mosaic)))
    return figure


def draw_mosaic(axes: Axes, mosaic: Mosaic) -> None:
    """Draw panels, guide fields and guide stars, arcminutes east and north of the mosaic's centre (tangent plane)."""
    _prepare(axes, mosaic)
    for panel in mosaic.panels:
        _panel(axes, mosaic, panel)
    _scale_bar(axes)
    _compass(axes)
    title = f"The panels at camera angle {w.angle(mosaic.angle_deg)}".replace(w.NBSP, " ")
    axes.set_title(title, fontsize=palette.NORMAL, weight="bold", color=palette.INK)


def draw_angles(axes: Axes, mosaic: Mosaic) -> None:
    """Draw all camera angles as a strip: solid where every panel is sure, hatched where every panel is usable."""
    axes.set(xlim=(0.0, 360.0), ylim=(0.0, 1.0), yticks=[], xticks=range(0, 361, 45))
    axes.set_xticklabels([f"{angle}°" for angle in range(0, 361, 45)], fontsize=palette.SMALL, color=palette.INK)
    axes.tick_params(length=2.5, width=palette.THIN, color=palette.INK)
    for spine in axes.spines.values():
        spine.set(linewidth=palette.THIN, color=palette.INK)
    bars: dict[str, Any] = {"edgecolor": palette.INK, "linewidth": palette.THIN}
    _bars(axes, mosaic.usable_angles_deg, "usable", facecolor=palette.PAPER, hatch=palette.HATCH, **bars)
    _bars(axes, mosaic.sure_angles_deg, "sure", facecolor=palette.INK, **bars)
    shown: dict[str, Any] = {
        "marker": "v",
        "markersize": 7.0,
        "color": palette.ACCENT,
        "clip_on": False,
        "linestyle": "none",
    }
    axes.plot([mosaic.angle_deg], [1.32], gid="angle shown", **shown)
    if not mosaic.usable_angles_deg:
        axes.text(180.0, 0.45, "none", fontsize=palette.SMALL, ha="center", va="center", color=palette.INK)
    axes.set_title(
        "Camera angles that serve every panel", fontsize=palette.NORMAL, weight="bold", color=palette.INK, pad=12.0
    )


def caption(mosaic: Mosaic) -> str:
    """Say what the signs of the picture mean."""
    moved = " Dotted: where a panel without a star would have to go." if any(p.nudge for p in mosaic.panels) else ""
    return (
        "North up, east left. Grey panels: sure; hatched: usable if the prism sits where it was measured; white with a "
        "cross: no guide star. Heavy edge: up in the picture. Blue outlines: the guide fields of the panels they name; "
        f"dots: guide stars.{moved}"
    )


def _heading(mosaic: Mosaic) -> str:
    size = f"{mosaic.columns} × {mosaic.rows} panels"
    counts = f"{mosaic.usable_panels} of {len(mosaic.panels)} usable, {mosaic.sure_panels} sure"
    why = "camera angle" if mosaic.asked_for or mosaic.margin_deg is None else "best camera angle"
    return f"{mosaic.target.name}, {size}, {why} {w.angle(mosaic.angle_deg)}: {counts}"


def _subheading(mosaic: Mosaic) -> str:
    target = mosaic.target
    return (
        f"{w.right_ascension(target.ra_deg)}, {w.declination(target.dec_deg)} (ICRS), stars at "
        f"{mosaic.epoch_year:.1f}; rig “{mosaic.rig.name}”; overlap {w.plain(mosaic.overlap_percent)} %; "
        f"{mosaic.source}, magnitudes Gaia G"
    )


def _listed(mosaic: Mosaic) -> str:
    lines = [f"{'panel':<7}{'right asc.':<15}{'declination':<16}{'':<8}guide star"]
    for panel in mosaic.panels[:_MOST_LISTED]:
        stars = panel.asked.star_ids if panel.asked.usable else ()
        place = f"{w.right_ascension(panel.ra_deg):<15}{w.declination(panel.dec_deg):<16}"
        star = stars[0] if stars else _move(panel)
        lines.append(f"{sentences.panel_name(panel):<7}{place}{sentences.verdict(panel):<8}{star}".rstrip())
    if len(mosaic.panels) > _MOST_LISTED:
        lines.append(f"and {w.counted(len(mosaic.panels) - _MOST_LISTED, 'more panel')}")
    return "\n".join(lines)


def _move(panel: Panel) -> str:
    shift = None if panel.nudge is None else panel.nudge.best or panel.nudge.beyond
    return "–" if shift is None else f"move it {shift.shift_arcmin:.1f}′ {_short(shift.direction_deg)}"


def _short(direction_deg: float) -> str:
    return "".join(part[0].upper() for part in w.compass(direction_deg).split("-"))


def _below(mosaic: Mosaic) -> list[str]:
    lines = [] if mosaic.margin_deg is None else [f"The angle holds within {w.margin(mosaic.margin_deg)} either way."]
    if mosaic.flip_safe_angles_deg is not None and mosaic.usable_angles_deg:
        lines.append(
            "Some angles serve every panel after the meridian flip too."
            if mosaic.flip_safe_angles_deg
            else "No angle serves every panel after the meridian flip too."
        )
    lines.append("Camera angles count from north at each panel's own centre.")
    return lines


def _filled(words: str, width: int) -> str:
    return textwrap.fill(words, width, break_on_hyphens=False)


def _bars(axes: Axes, intervals: Intervals, gid: str, **pen: Any) -> None:
    from matplotlib.patches import Rectangle

    for start, end in intervals:
        for low, high in ((start, min(end, 360.0)), (0.0, end - 360.0)):
            if high > low:
                axes.add_patch(Rectangle((low, 0.0), high - low, 1.0, gid=gid, **pen))


def _corners(mosaic: Mosaic, centre: tuple[float, float], outline_mm: FloatArray) -> FloatArray:
    """Return an outline of (east, north) mm about a framing's centre as arcminutes about the mosaic's."""
    focal, target = mosaic.rig.telescope.focal_length_mm, mosaic.target
    ra, dec = plane.from_plane(outline_mm[:, 0] / focal, outline_mm[:, 1] / focal, *centre)
    xi, eta = plane.to_plane(ra, dec, target.ra_deg, target.dec_deg)
    return np.column_stack((xi, eta)) * ARCMIN_PER_RADIAN


def _frame(mosaic: Mosaic, centre: tuple[float, float]) -> FloatArray:
    return _corners(mosaic, centre, layout.main_frame(mosaic.rig, mosaic.angle_deg))


def _prepare(axes: Axes, mosaic: Mosaic) -> None:
    rig = mosaic.rig
    field = layout.rig_to_sky(rig, geometry.sensor_polygon(rig), mosaic.angle_deg)
    centres = [(panel.ra_deg, panel.dec_deg) for panel in mosaic.panels]
    drawn = np.concatenate([part for c in centres for part in (_frame(mosaic, c), _corners(mosaic, c, field))])
    middle, half = (drawn.max(axis=0) + drawn.min(axis=0)) / 2, 1.06 * np.ptp(drawn, axis=0).max() / 2
    axes.set(xlim=(middle[0] + half, middle[0] - half), ylim=(middle[1] - half, middle[1] + half), aspect="equal")
    axes.set(xticks=[], yticks=[], facecolor=palette.PAPER, anchor="C")
    for spine in axes.spines.values():
        spine.set(linewidth=palette.THIN, color=palette.INK)
    axes.apply_aspect()


def _panel(axes: Axes, mosaic: Mosaic, panel: Panel) -> None:
    from matplotlib.patches import Polygon

    centre = (panel.ra_deg, panel.dec_deg)
    corners = _frame(mosaic, centre)
    verdict = sentences.verdict(panel)
    fill = {"sure": palette.TINT, "usable": palette.PAPER, "no": palette.PAPER}[verdict]
    face = Polygon(corners, closed=True, facecolor=fill, edgecolor=palette.INK, linewidth=palette.THIN)
    face.set(zorder=2, gid=f"panel {sentences.panel_name(panel)} {verdict}", joinstyle="miter", alpha=0.75)
    if verdict == "usable":
        face.set(hatch=palette.HATCH, edgecolor=palette.SHADE)
    axes.add_patch(face)
    edge = Polygon(corners, closed=True, fill=False, edgecolor=palette.INK, linewidth=palette.MEDIUM, zorder=3)
    axes.add_patch(edge)
    axes.plot(*corners[[0, 3]].T, color=palette.INK, linewidth=palette.HEAVY, zorder=3, gid="upper edge")
    if verdict == "no":
        for ends in ([0, 2], [1, 3]):
            inner = corners.mean(axis=0) + 0.8 * (corners[ends] - corners.mean(axis=0))
            axes.plot(*inner.T, color=palette.SHADE, linewidth=palette.THIN, zorder=2)
    _guide_field(axes, mosaic, panel)
    _moved(axes, mosaic, panel)
    if len(mosaic.panels) <= _MOST_NAMED:
        _name(axes, mosaic, panel, corners.mean(axis=0))


def _name(axes: Axes, mosaic: Mosaic, panel: Panel, place: FloatArray) -> None:
    size = palette.SMALL if len(mosaic.panels) > _CROWDED else palette.NORMAL
    words = f"{sentences.panel_name(panel)}\n{sentences.verdict(panel)}"
    box = {"boxstyle": "square,pad=0.15", "facecolor": palette.PAPER, "edgecolor": "none", "alpha": 0.85}
    axes.text(place[0], place[1], words, fontsize=size, ha="center", va="center", color=palette.INK, zorder=8, bbox=box)


def _guide_field(axes: Axes, mosaic: Mosaic, panel: Panel) -> None:
    """Draw the panel's guide field, and its usable stars as dots."""
    from matplotlib.patches import Polygon

    rig, centre = mosaic.rig, (panel.ra_deg, panel.dec_deg)
    outline = _corners(mosaic, centre, layout.rig_to_sky(rig, geometry.sensor_polygon(rig), mosaic.angle_deg))
    pen: dict[str, Any] = {"edgecolor": palette.ACCENT, "linewidth": palette.MEDIUM, "zorder": 5, "gid": "guide field"}
    axes.add_patch(Polygon(outline, closed=True, fill=False, **pen))
    if len(mosaic.panels) <= _MOST_NAMED:
        corner = outline.mean(axis=0) + 0.72 * (outline[0] - outline.mean(axis=0))
        words: dict[str, Any] = {
            "fontsize": palette.SMALL,
            "ha": "center",
            "va": "center",
            "color": palette.ACCENT,
            "zorder": 7,
        }
        axes.text(corner[0], corner[1], sentences.panel_name(panel), **words)
    if panel.asked.usable:
        places = np.array([(item.x_mm, item.y_mm) for item in panel.asked.placements if item.usable])
        stars = _corners(mosaic, centre, layout.rig_to_sky(rig, places, mosaic.angle_deg))
        axes.scatter(stars[:, 0], stars[:, 1], s=9.0, color=palette.ACCENT, linewidths=0.0, zorder=6, gid="guide star")


def _moved(axes: Axes, mosaic: Mosaic, panel: Panel) -> None:
    """Draw, dotted, where the panel would have to go."""
    from matplotlib.patches import Polygon

    shift = None if panel.nudge is None else panel.nudge.best or panel.nudge.beyond
    if shift is None:
        return
    corners = _frame(mosaic, (shift.ra_deg, shift.dec_deg))
    pen: dict[str, Any] = {"edgecolor": palette.ACCENT, "linewidth": palette.MEDIUM, "linestyle": ":", "zorder": 4}
    axes.add_patch(Polygon(corners, closed=True, fill=False, gid="moved panel", **pen))


def _scale_bar(axes: Axes) -> None:
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    wide = left - right
    length = max((bar for bar in _SCALE_BARS_ARCMIN if bar <= 0.25 * wide), default=_SCALE_BARS_ARCMIN[0])
    start, level = right + 0.03 * wide, low + 0.025 * (high - low)
    pen: dict[str, Any] = {
        "color": palette.INK,
        "linewidth": palette.HEAVY,
        "marker": "|",
        "markersize": 6.0,
        "zorder": 8,
    }
    axes.plot([start + length, start], [level, level], gid="scale bar", **pen)
    words = f"{w.plain(length)}′" if length < 60 else f"{w.plain(length / 60)}°"
    place = (start + length / 2, level + 0.008 * (high - low))
    axes.text(place[0], place[1], words, fontsize=palette.SMALL, ha="center", va="bottom", color=palette.INK, zorder=8)


def _compass(axes: Axes) -> None:
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    wide, tall = right - left, high - low
    layout.compass(axes, (left + 0.075 * wide, low + 0.03 * tall), 0.05 * tall, 1.3)
