"""Light and reach across the guide field as two maps, in the rig frame: outward from the axis is up.

Seen as the main picture shows it with the prism at its upper edge: x grows to the left. Lines carry the figures, the
grey below them only repeats what they say: the darker, the less light.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from guidestar.field.reach import ReachResult
from guidestar.field.reach_map import FloatArray, ReachMap, reach_map
from guidestar.report import palette, paper
from guidestar.report import wording as w
from guidestar.report.contour_labels import label_lines

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_MM: Final = 240.0
_MAP_MM: Final = 101.0
_ABOVE_MM, _BELOW_MM = 24.0, 29.0
"""Page width, width of each map, and what is left for words above and below; the page is as high as that needs."""

LIT_LEVELS: Final = (0.1, 0.25, 0.5, 0.75, 0.9, 0.999)

_GREYS: Final = ("#8d9299", "#a3a8ae", "#b9bdc2", "#ced1d5", "#e4e6e9", "#f3f4f5", palette.PAPER)
_MOST_LINES: Final = 6
_STEPS_MAG: Final = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0)
_FAINT_MAG: Final = 2.0
"""Lines of reach are drawn down to this much below the deepest: beyond, they would crowd along the prism's shadow."""


def save_reach(result: ReachResult, path: Path) -> Path:
    """Draw the page and write it, whole or not at all; parameters and errors as `guidestar.report.figures.save`."""
    return paper.save_page(path, lambda: reach_page(result))


def plot_reach(result: ReachResult) -> Figure:
    """Return the page as a figure, for a notebook."""
    with paper.style():
        return reach_page(result)


def reach_page(result: ReachResult) -> Figure:
    """Lay out the page: how much light on the left, how faint on the right."""
    drawn = reach_map(result.rig)
    map_mm = _MAP_MM * float(np.ptp(drawn.y_mm) / np.ptp(drawn.x_mm))
    height_mm = _ABOVE_MM + map_mm + _BELOW_MM
    figure = paper.new_figure((WIDTH_MM / 25.4, height_mm / 25.4))
    lit, faint = (
        figure.add_axes((left / WIDTH_MM, _BELOW_MM / height_mm, _MAP_MM / WIDTH_MM, map_mm / height_mm))
        for left in (15.0, 134.0)
    )
    _prepare(lit, drawn, "How much of a star's beam the prism catches")
    _prepare(faint, drawn, "Faintest star that can be guided on, Gaia G")
    _lines(lit, drawn, drawn.transmission, LIT_LEVELS, lambda level: w.unit(w.plain(100 * level, 1), "%"))
    _lines(faint, drawn, drawn.faintest_mag, reach_levels(drawn), _magnitude)
    for axes in (lit, faint):
        _outlines(axes, drawn)
        _marks(axes, result)
    _words(figure, result, height_mm)
    return figure


def _magnitude(level: float) -> str:
    """Write a line's magnitude to a tenth, or to a hundredth where it needs one."""
    return f"{level:.1f}" if abs(10 * level - round(10 * level)) < 1e-6 else f"{level:.2f}"


def reach_levels(drawn: ReachMap) -> list[float]:
    """Return round magnitudes for the lines of reach: a few across the sensor, going on outside it."""
    deepest = float(np.nanmax(drawn.faintest_mag))
    within = drawn.faintest_mag[_inside(drawn)]
    shallowest = deepest - _FAINT_MAG if np.isnan(within).any() else float(within.min())
    span = min(max(deepest - shallowest, 0.3), _FAINT_MAG)
    step = next((step for step in _STEPS_MAG if span / step <= _MOST_LINES - 2), _STEPS_MAG[-1])
    first = math.floor(deepest / step) * step
    return sorted(round(first - number * step, 4) for number in range(_MOST_LINES))


def _inside(drawn: ReachMap) -> FloatArray:
    """Return which points of the grid lie within the bounds of the sensor less its margin."""
    low, high = drawn.used_mm.min(axis=0), drawn.used_mm.max(axis=0)
    x, y = np.meshgrid(drawn.x_mm, drawn.y_mm)
    return np.asarray((x >= low[0]) & (x <= high[0]) & (y >= low[1]) & (y <= high[1]))


def _prepare(axes: Axes, drawn: ReachMap, title: str) -> None:
    axes.set_xlim(drawn.x_mm[-1], drawn.x_mm[0])  # x grows to the left
    axes.set_ylim(drawn.y_mm[0], drawn.y_mm[-1])
    axes.set_aspect("equal")
    axes.set_title(title, fontsize=palette.NORMAL, weight="bold", color=palette.INK)
    axes.set_xlabel("x, mm along the edge of the frame", fontsize=palette.SMALL, color=palette.INK)
    axes.set_ylabel("y, mm outward from the axis", fontsize=palette.SMALL, color=palette.INK)
    axes.tick_params(labelsize=palette.SMALL, colors=palette.INK, width=palette.THIN, length=2.5)
    for spine in axes.spines.values():
        spine.set(linewidth=palette.THIN, color=palette.INK)
    axes.apply_aspect()


def _lines(
    axes: Axes, drawn: ReachMap, values: FloatArray, levels: Sequence[float], words: Callable[[float], str]
) -> None:
    """Shade between levels and draw a labelled line at each; where no light comes it is darkest."""
    filled = np.nan_to_num(values, nan=-1e3)
    greys = _GREYS[-(len(levels) + 1) :]
    axes.contourf(drawn.x_mm, drawn.y_mm, filled, [-2e3, *levels, 2e3], colors=greys, zorder=1)
    drawn_lines = axes.contour(
        drawn.x_mm, drawn.y_mm, filled, levels, colors=palette.INK, linewidths=palette.THIN, zorder=2
    )
    middle = drawn.sensor_mm.mean(axis=0, keepdims=True)
    label_lines(axes, drawn_lines, words, [drawn.sensor_mm, drawn.used_mm, middle], [drawn.face_mm])


def _outlines(axes: Axes, drawn: ReachMap) -> None:
    from matplotlib.patches import Polygon

    pens = (
        ("prism face", drawn.face_mm, {"edgecolor": palette.INK, "linewidth": palette.MEDIUM, "linestyle": "dotted"}),
        ("guide sensor", drawn.sensor_mm, {"edgecolor": palette.ACCENT, "linewidth": palette.HEAVY}),
        (
            "margin",
            drawn.used_mm,
            {"edgecolor": palette.ACCENT, "linewidth": palette.THIN, "linestyle": palette.DASHED},
        ),
    )
    for name, corners, pen in pens:
        axes.add_patch(Polygon(corners, closed=True, fill=False, gid=name, zorder=4, joinstyle="miter", **pen))


def _marks(axes: Axes, result: ReachResult) -> None:
    """Mark the field's centre, and the place asked about."""
    centre = result.centre.point
    axes.plot(centre.x_mm, centre.y_mm, marker="+", markersize=9.0, color=palette.INK, zorder=5, gid="centre")
    if result.given is not None:
        point = result.given.point
        axes.plot(
            point.x_mm,
            point.y_mm,
            marker="D",
            markersize=6.0,
            fillstyle="none",
            color=palette.ACCENT,
            markeredgewidth=palette.HEAVY,
            zorder=5,
            gid="given",
        )


def _words(figure: Figure, result: ReachResult, height_mm: float) -> None:
    guiding, sky = result.rig.guiding, result.rig.sky
    paper.text(figure, 0.03, 1.0 - 4.0 / height_mm, result.rig.name, size=palette.LARGE, bold=True)
    conditions = (
        f"{w.exposure(guiding.exposure_s)} exposures, airmass {w.plain(guiding.airmass, 2)}, sky "
        f"V {w.plain(sky.brightness_mag_arcsec2, 2)} a square arcsecond. At the centre: {_centre(result)}."
    )
    paper.text(figure, 0.03, 1.0 - 11.0 / height_mm, conditions)
    paper.text(figure, 0.03, 15.0 / height_mm, textwrap.fill(_caption(result), 165, break_on_hyphens=False))


def _centre(result: ReachResult) -> str:
    point = result.centre.point
    reach = "no light" if point.faintest_mag is None else w.magnitude(point.faintest_mag)
    return f"{w.percent(point.transmission)} of the beam, {reach}"


def _caption(result: ReachResult) -> str:
    given = "" if result.given is None else " Diamond: the place asked about."
    edge = "" if result.rig.telescope.image_circle_mm is None else " The right map includes the telescope's own edge."
    return (
        "As the main picture shows it with the prism at its upper edge; the axis lies below. Heavy: the guide sensor; "
        "dashed: the same less the margin that is not used; dotted: the prism's face as seen from the focal plane. "
        f"Cross: centre of the field. Darker is less light.{edge}{given}"
    )
