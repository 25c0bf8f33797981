"""A comparison of rigs on one page: curves above, and where in the sky a rig gains or loses below."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from guidestar.maps.compare import Compared, Comparison
from guidestar.maps.regional import cell_means
from guidestar.maps.result import FloatArray
from guidestar.report import compare_curves as curves
from guidestar.report import compare_sentences as sentences
from guidestar.report import map_ramp, map_sky, palette, paper
from guidestar.report import wording as w

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.image import AxesImage

WIDTH_MM, HEIGHT_MM = 297.0, 210.0
_box = paper.box_on((WIDTH_MM, HEIGHT_MM))
_MAP_MM: Final = 84.0
_GAP_MM: Final = 9.0
_MOST_MAPS: Final = 3
_MOST_NAMES: Final = 9
_ROUND_POINTS: Final = (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 50.0, 100.0)
_LOSS: Final = "////"
_CELL_ORDER: Final = 3
"""Differences are small beside the scatter from target to target: cells 7.3° wide show them."""


def save_compare(found: Comparison, path: Path) -> Path:
    """Draw the page and write it, whole or not at all; parameters and errors as `guidestar.report.figures.save`."""
    return paper.save_page(path, lambda: compare_page(found))


def plot_compare(found: Comparison) -> Figure:
    """Return the page as a figure, for a notebook."""
    with paper.style():
        return compare_page(found)


def compare_page(found: Comparison) -> Figure:
    """Lay out the page: two panels of curves, then the maps of differences against the first rig."""
    figure = paper.new_figure((WIDTH_MM / 25.4, HEIGHT_MM / 25.4))
    _heading(figure, found)
    left, right = (figure.add_axes(_box(x, 38.0, 106.0, 70.0)) for x in (18.0, 160.0))
    if found.varied:
        _trade_off(left, right, found)
    else:
        _side_by_side(left, right, found)
    limit = scale_points(found)
    picture = None
    shown = shown_rigs(found)
    start_mm = (WIDTH_MM - (_MAP_MM + _GAP_MM) * len(shown) + _GAP_MM) / 2.0
    for column, number in enumerate(shown):
        axes = figure.add_axes(_box(start_mm + (_MAP_MM + _GAP_MM) * column, 126.0, _MAP_MM, _MAP_MM / 2.0))
        picture = draw_difference(axes, found, number, limit)
    if picture is not None:
        _scale(figure, picture, limit)
    paper.text(figure, 0.045, 1.0 - 184.0 / HEIGHT_MM, textwrap.fill(_caption(found), 190, break_on_hyphens=False))
    return figure


def _heading(figure: Figure, found: Comparison) -> None:
    bases = list(dict.fromkeys(rig.variant.base for rig in found.rigs))
    varied = w.joined([item.key for item in found.varied])
    title = f"{bases[0]}: {varied} varied" if len(bases) == 1 else f"{len(found.rigs)} rigs side by side"
    paper.text(figure, 0.045, 1.0 - 6.0 / HEIGHT_MM, title, size=palette.LARGE, bold=True)
    conditions = textwrap.fill(sentences.conditions(found), 190, break_on_hyphens=False)
    paper.text(figure, 0.045, 1.0 - 12.5 / HEIGHT_MM, conditions)
    if len(bases) == 1:
        return
    names = [
        f"{at}  {textwrap.shorten(rig.rig.name, 62, placeholder=' …')}" for at, rig in enumerate(found.rigs, start=1)
    ]
    if len(names) > _MOST_NAMES:
        names = [*names[: _MOST_NAMES - 1], f"and {len(names) - _MOST_NAMES + 1} more"]
    for column in range(0, len(names), 3):
        x = 0.045 + 0.31 * (column // 3)
        paper.text(figure, x, 1.0 - 19.6 / HEIGHT_MM, "\n".join(names[column : column + 3]))


def _trade_off(left: Axes, right: Axes, found: Comparison) -> None:
    """Draw what the varied numbers do; where confirmed stars tell no difference, what expected ones tell."""
    estimated = sentences.only_expected_differ(found)
    word = "Expected*" if estimated else "Usable"
    if len({(rig.variant.base, *rig.variant.values[1:]) for rig in found.rigs}) == 1:
        curves.draw(left, _whole_sky(found))
        curves.draw(right, _by_band(found, estimated))
        titles = ("Over the whole sky", f"{word}, by |b|, distance from the Milky Way's plane")
    else:
        measure = sentences.expected if estimated else sentences.usable
        curves.draw(left, curves.along(found, measure, word))
        curves.draw(right, curves.along(found, sentences.sure, "sure"), top=left.get_ylim()[1])
        keys = w.joined([item.key for item in found.varied[1:]])
        by = f", by {keys}" if keys else ""
        titles = (f"{word}, over the whole sky{by}", f"Sure, over the whole sky{by}")
    for axes, title in zip((left, right), titles, strict=True):
        curves.dress(axes, title, found.varied[0].key, "mean share of camera angles, %")
        axes.set_xticks(curves.positions(found), [f"{value:g}" for value in found.varied[0].values])


def _whole_sky(found: Comparison) -> list[curves.Curve]:
    """Return the curves of one rig along its varied key, those that are known."""
    measures = (
        ("usable", sentences.usable),
        ("sure", sentences.sure),
        ("flip-safe", sentences.flip_safe),
        ("expected*", sentences.expected),
    )
    drawn = [curves.along(found, measure, name)[0] for name, measure in measures]
    return [curve for curve in drawn if any(value is not None for value in curve.shares)]


def _by_band(found: Comparison, estimated: bool) -> list[curves.Curve]:
    """Return a curve a band along the varied key."""
    drawn = []
    for at, band in enumerate(found.rigs[0].summary.bands):

        def measure(rig: Compared, at: int = at) -> float | None:
            here = rig.summary.bands[at]
            return here.expected.mean if estimated else here.usable.mean

        [curve] = curves.along(found, measure, f"{band.from_deg:.0f}°–{band.to_deg:.0f}°")
        drawn.append(curve)
    return [curve for curve in drawn if any(value is not None for value in curve.shares)]


def _side_by_side(left: Axes, right: Axes, found: Comparison) -> None:
    """Draw each rig by distance from the Milky Way, and its figures over the whole sky."""
    curves.draw(left, curves.by_latitude(found))
    curves.dress(
        left,
        "Usable, by distance from the Milky Way's plane",
        "|b|, degrees (middle of each band)",
        "mean share of camera angles, %",
    )
    left.set_xticks([0, 10, 20, 30, 45, 60, 90])
    left.set_xlim(0.0, 90.0)
    _bars(right, found)


def _bars(axes: Axes, found: Comparison) -> None:
    """Draw, a row a rig, from sure to usable to expected."""
    for row, rig in enumerate(found.rigs):
        whole = rig.summary.whole
        if whole.usable.mean is None or whole.sure.mean is None:
            continue
        usable, sure, expected = (
            100.0 * (value or 0.0) for value in (whole.usable.mean, whole.sure.mean, whole.expected.mean)
        )
        pen: dict[str, Any] = {"height": 0.56, "edgecolor": palette.ACCENT, "linewidth": palette.MEDIUM}
        axes.barh(row, sure, facecolor=palette.ACCENT, gid="sure", **pen)
        axes.barh(row, usable - sure, left=sure, facecolor=palette.PAPER, hatch=palette.HATCH, gid="usable", **pen)
        if expected > usable:
            axes.plot(
                [usable, expected], [row, row], color=palette.ACCENT, linewidth=palette.MEDIUM, linestyle=palette.DASHED
            )
            axes.plot(
                expected, row, "d", color=palette.ACCENT, markerfacecolor=palette.PAPER, markersize=5.0, gid="expected"
            )
        if rig.shadows:
            axes.plot(usable, row, "x", color=palette.INK, markersize=11.0, markeredgewidth=1.4, gid="shadow")
    axes.set_yticks(range(len(found.rigs)), [str(at) for at in range(1, len(found.rigs) + 1)])
    axes.set_ylim(len(found.rigs) - 0.4, -0.6)
    axes.set_xlim(0.0, 104.0)
    curves.dress(
        axes,
        "Over the whole sky: sure (filled), usable (hatched), expected* (diamond)",
        "mean share of camera angles, %",
        "rig",
    )
    axes.grid(visible=False, axis="y")
    axes.grid(axis="x", color=palette.TINT, linewidth=palette.THIN)


def shown_rigs(found: Comparison) -> list[int]:
    """Return up to three rigs whose difference from the first is drawn, evenly out of all."""
    last = len(found.rigs) - 1
    return sorted({round(at) for at in np.linspace(1, last, min(last, _MOST_MAPS))})


def drawn_column(found: Comparison) -> str:
    """Return the column whose differences are drawn: the confirmed one, unless only the estimate tells any."""
    return "expected_fraction" if sentences.only_expected_differ(found) else "usable_fraction"


def known(found: Comparison, number: int) -> bool:
    """Tell whether there is any place where both rigs have data."""
    return bool(np.isfinite(found.difference(number)).any())


def _cells(found: Comparison, number: int) -> tuple[FloatArray, int]:
    return cell_means(found.rigs[0].sky, found.difference(number, drawn_column(found)), _CELL_ORDER)


def scale_points(found: Comparison) -> float:
    """Return the end of the maps' scale, a round number of percentage points that holds nearly all differences."""
    sizes = [np.nanpercentile(np.abs(_cells(found, at)[0]), 99.0) for at in shown_rigs(found) if known(found, at)]
    largest = 100.0 * max(sizes, default=0.0)
    return next((step for step in _ROUND_POINTS if step >= largest), _ROUND_POINTS[-1])


def draw_difference(axes: Axes, found: Comparison, number: int, limit: float) -> AxesImage:
    """Draw where a rig gains (blue) and loses (grey and hatched) against the first, over wide cells."""
    outline = map_sky.prepare(axes)
    cells, order = _cells(found, number)
    picture = map_sky.lay(axes, outline, "galactic", 100.0 * cells, order, map_ramp.loss_and_gain(), (-limit, limit))
    lost = np.nan_to_num(100.0 * cells) < -0.1 * limit
    map_sky.hatched(axes, "galactic", lost, order, _LOSS, "loss")
    map_sky.hatched(axes, "galactic", np.isnan(cells), order, "xxxx", "no data")
    map_sky.milky_way(axes, "galactic")
    axes.set_title(map_title(found, number), fontsize=palette.NORMAL, weight="bold", color=palette.INK, pad=3.0)
    return picture


def map_title(found: Comparison, number: int) -> str:
    """Say which rig a map is of, and what it gains in all."""
    values = [
        sentences.value_of(item.key, value)
        for item, value in zip(found.varied, found.rigs[number].variant.values, strict=True)
    ]
    name = f"rig {number + 1}" + (f" ({', '.join(values)})" if values else "")
    if not known(found, number):
        return f"{name}: no data"
    gain = float(np.nanmean(found.difference(number, drawn_column(found))))
    return f"{name}: {sentences.points(gain)} points".replace(w.NBSP, " ")


def _scale(figure: Figure, picture: AxesImage, limit: float) -> None:
    axes = figure.add_axes(_box(104.0, 172.0, 88.0, 3.0))
    bar = figure.colorbar(picture, cax=axes, orientation="horizontal", ticks=[-limit, 0.0, limit])
    bar.ax.set_xticklabels([f"−{limit:g} points (loss, hatched)", "0", f"+{limit:g} points (gain)"])
    bar.ax.tick_params(labelsize=palette.SMALL, colors=palette.INK, width=palette.THIN, length=2.0)
    bar.outline.set(linewidth=palette.THIN, edgecolor=palette.INK)


def _caption(found: Comparison) -> str:
    crosses = " Crosses: there the prism shadows the main sensor." if any(rig.shadows for rig in found.rigs) else ""
    by = "by confirmed stars" if drawn_column(found) == "usable_fraction" else "expected*, an estimate"
    return (
        "usable, sure, flip-safe: the chance that a target and a camera angle taken at random find a confirmed star. "
        f"*expected: with stars that the catalogue does not list, by star counts, an estimate.{crosses} Maps: the "
        f"share of camera angles that a rig serves minus that of the first, {by}, in percentage points; galactic "
        "coordinates, means over cells 7.3° wide; heavy line the Milky Way's plane, dashed 30° either side of it."
    )
