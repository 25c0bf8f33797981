"""A flat's result as text, as JSON values (schema `guidestar.flat/1`), and as a picture."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from guidestar.flat.result import FlatResult, Sensor
from guidestar.report import flat_sentences as say
from guidestar.report import palette, paper
from guidestar.report import wording as w
from guidestar.report.contour_labels import label_lines
from guidestar.report.json_values import number
from guidestar.report.sheet import new_sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SCHEMA: Final = "guidestar.flat/1"
_SIZE_IN = (240.0 / 25.4, 120.0 / 25.4)
_INSIDE = 0.9
"""Cells by which the cross keeps inside the frame, to be seen whole."""
_LEVELS = (0.01, 0.03, 0.05, 0.10, 0.20, 0.40, 0.60, 0.80)
_GREYS = (palette.PAPER, "#f3f4f5", "#eaecee", palette.TINT, "#d2d5d9", "#bfc3c8", "#a9aeb4", "#94999f", "#7e8389")


def render_flat(
    result: FlatResult, sensor: Sensor | None, name: str, *, width: int | None = None, colour: bool = False
) -> str:
    """Write the report; parameters as `guidestar.report.text.render`."""
    sheet = new_sheet(width, colour)
    sheet.title("Flat" if name == "flat" else f"Flat {name}")  # an array has no name of its own
    kind = "colour mosaic, binned 2 × 2" if result.colour else "no colour mosaic"
    sheet.prose([f"{result.width_px} × {result.height_px} pixels, {kind}."])
    sheet.gap()
    sheet.prose([" ".join(say.answer(result, rig_known=sensor is not None))])
    sheet.prose(say.remedy(result, sensor))
    return sheet.finished()


def flat_to_json(result: FlatResult, sensor: Sensor | None, name: str) -> dict[str, Any]:
    """Turn a result into plain JSON values; shares 0 … 1, what is not known is null."""
    return {
        "schema": SCHEMA,
        "flat": name,
        "width_px": result.width_px,
        "height_px": result.height_px,
        "colour": result.colour,
        "verdict": result.verdict,
        "side": result.place or None,
        "depth": number(result.depth, 4),
        "width": number(result.width, 4),
        "reach": number(result.reach, 4),
        "confidence": number(result.confidence, 3),
        "draw_out_mm": number(result.draw_out_mm, 3),
        "width_mm": number(result.width_mm, 3),
        "offset_mm": number(result.offset_mm, 3),
        "rig_offset_mm": None if sensor is None else sensor.body.offset_mm,
        "rates_on_rendered_flats": {
            "faint_edge_found": say.FAINT_FOUND_PERCENT[0] / 100,
            "faint_corner_found": say.FAINT_FOUND_PERCENT[1] / 100,
            "round_opening_taken_for_prism": say.ROUND_TAKEN_PERCENT / 100,
        },
    }


def save_flat(result: FlatResult, path: Path, sensor: Sensor | None = None) -> Path:
    """Draw the loss as measured and as fitted side by side; parameters and errors as `figures.save`."""
    return paper.save_page(path, lambda: flat_page(result, sensor))


def flat_page(result: FlatResult, sensor: Sensor | None = None) -> Figure:
    """Lay out the page: what was found, the loss as measured, the loss as fitted, and what the signs mean."""
    figure = paper.new_figure(_SIZE_IN)
    _map(figure.add_axes((0.03, 0.13, 0.455, 0.66)), result, result.measured, "Measured, the round falloff taken out")
    fitted = figure.add_axes((0.515, 0.13, 0.455, 0.66))
    _map(fitted, result, result.fitted, "The shape that was fitted" if result.place else "No shape was fitted")
    found = [say.answer(result, rig_known=sensor is not None)[0], *(say.remedy(result, sensor) if sensor else [])]
    lines = [textwrap.fill(sentence.replace(w.NBSP, " "), 150) for sentence in found]
    paper.text(figure, 0.03, 0.965, "\n".join(lines[:1]), bold=result.verdict != "none")
    if lines[1:]:
        paper.text(figure, 0.03, 0.915, lines[1])
    paper.text(figure, 0.03, 0.085, _caption(result))
    return figure


def _caption(result: FlatResult) -> str:
    levels = [f"{100 * level:.0f}" for level in _lines(result)]
    lines = f" Lines, from outside in: {w.joined(levels)} % of loss." if levels else ""
    cross = " Cross: the worst place." if result.place else ""
    return (
        f"The picture as it is displayed; the darker, the more light is lost; white: less than 1 %.{lines}{cross}"
        f"{_dust(result)}"
    )


def _lines(result: FlatResult) -> list[float]:
    """Return the levels of the lines drawn."""
    worst = float(np.max(result.fitted))
    return [level for level in _LEVELS[1:] if level < worst]


def _dust(result: FlatResult) -> str:
    """Explain grey that only the measured picture has, where there is some."""
    if not np.any((result.measured >= _LEVELS[0]) & (result.fitted < _LEVELS[0])):
        return ""
    return "\nGrey on the left alone is dust, noise or uneven light, which the shape does not take."


def _map(axes: Axes, result: FlatResult, loss: np.ndarray, title: str) -> None:
    rows, columns = loss.shape
    # One more row and column of the same all round: the grid is of the cells' middles, the picture ends at their rims.
    x = np.clip(np.arange(-1, columns + 1) + 0.5, 0, columns)
    y = np.clip(rows - np.arange(-1, rows + 1) - 0.5, 0, rows)
    shown, fitted = np.pad(loss, 1, mode="edge"), np.pad(result.fitted, 1, mode="edge")
    axes.contourf(x, y, shown, levels=(-10.0, *_LEVELS, 1.01), colors=_GREYS)
    worst = float(np.max(fitted))
    lines = _lines(result)
    axes.set(xlim=(0, columns), ylim=(0, rows), xticks=[], yticks=[])
    if lines:
        drawn = axes.contour(x, y, fitted, levels=lines, colors=palette.INK, linewidths=palette.THIN)
        label_lines(axes, drawn, lambda level: f"{100 * level:.0f}")
    if result.place:
        at = np.nonzero(fitted >= 0.99 * worst)
        places = zip((x[at[1]], y[at[0]]), (columns, rows), strict=True)
        cross = [float(np.clip(np.mean(found), _INSIDE, end - _INSIDE)) for found, end in places]
        axes.plot(
            *cross, marker="x", markersize=7.0, color=palette.ACCENT, markeredgewidth=palette.HEAVY, linestyle="none",
            gid="worst",
        )  # fmt: skip
    axes.set_aspect("equal", anchor="NW")
    for spine in axes.spines.values():
        spine.set(linewidth=palette.MEDIUM, color=palette.INK)
    axes.set_title(title, fontsize=palette.NORMAL, weight="bold", color=palette.INK, loc="left")
