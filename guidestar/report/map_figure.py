"""The sky map as a page: the sky by galactic and by equatorial coordinates, and what it comes to by latitude."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from guidestar.maps.regional import cell_means, over_the_sky
from guidestar.maps.result import FloatArray, SkyMap
from guidestar.maps.summary import Summary
from guidestar.maps.targets import TargetHere
from guidestar.report import labels, map_ramp, map_sky, palette, paper
from guidestar.report import map_sentences as sentences
from guidestar.report import wording as w

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.image import AxesImage

BoolArray = NDArray[np.bool_]

WIDTH_MM, HEIGHT_MM = 210.0, 297.0
_box = paper.box_on((WIDTH_MM, HEIGHT_MM))
_MAP_MM: Final = 182.0
_LEFT_MM: Final = 17.0

_MOST_NAMES: Final = 25
"""Targets named on the maps; more are only marked."""

_SOFT_DOTS: Final = 4
"""Half width, in dots of the coarse raster, over which the outline is softened: 5° across in all."""


def save_map(sky: SkyMap, summary: Summary, targets: Sequence[TargetHere], path: Path) -> Path:
    """Draw the page and write it, whole or not at all; parameters and errors as `guidestar.report.figures.save`."""
    return paper.save_page(path, lambda: map_page(sky, summary, targets))


def plot_map(sky: SkyMap, summary: Summary, targets: Sequence[TargetHere]) -> Figure:
    """Return the page as a figure, for a notebook."""
    with paper.style():
        return map_page(sky, summary, targets)


def map_page(sky: SkyMap, summary: Summary, targets: Sequence[TargetHere]) -> Figure:
    """Lay out the page: galactic above, equatorial below it, then the scale and the curves by latitude."""
    figure = paper.new_figure((WIDTH_MM / 25.4, HEIGHT_MM / 25.4))
    _heading(figure, sky, summary)
    picture = None
    for frame, top_mm in _TOPS_MM.items():
        axes = figure.add_axes(_box(_LEFT_MM, top_mm, _MAP_MM, _MAP_MM / 2.0))
        picture = draw_sky(axes, frame, sky, summary, targets)
    if picture is not None:
        _scale(figure, picture, summary)
    _swatches(figure, sky)
    draw_latitudes(figure.add_axes(_box(24.0, 240.0, 80.0, 43.0)), summary)
    paper.text(figure, 126.0 / WIDTH_MM, 1.0 - 238.0 / HEIGHT_MM, _filled(sentences.caption(summary), 60))
    return figure


def _filled(words: str, width: int) -> str:
    return "\n".join(textwrap.fill(part, width, break_on_hyphens=False) for part in words.split("\n"))


def _heading(figure: Figure, sky: SkyMap, summary: Summary) -> None:
    paper.text(figure, 0.05, 1.0 - 9.0 / HEIGHT_MM, sky.sweep.rig.name, size=palette.LARGE, bold=True)
    lines = _filled(f"{sentences.headline(summary)} {sentences.made_from(sky)}", 150)
    paper.text(figure, 0.05, 1.0 - 16.0 / HEIGHT_MM, lines)


def draw_sky(
    axes: Axes, frame: map_sky.Frame, sky: SkyMap, summary: Summary, targets: Sequence[TargetHere]
) -> AxesImage:
    """Draw the map in one frame; return the picture, for a scale beside it."""
    outline = map_sky.prepare(axes)
    pixels = over_the_sky(sky, sky.coverage.usable_fraction)
    picture = map_sky.lay(axes, outline, frame, pixels, sky.order, map_ramp.dark_is_little(), (0.0, 1.0))
    map_sky.hatched(axes, frame, unknown(sky), sky.order, NO_DATA, "no data")
    map_sky.hatched(axes, frame, left_out(sky), sky.order, LEFT_OUT, "left out")
    map_sky.outlined(axes, sparse_share(frame, sky, summary.sparse_below), 0.5, "sparse")
    map_sky.graticule(axes, frame)
    map_sky.milky_way(axes, frame)
    _mark(axes, frame, targets)
    axes.set_title(_TITLES[frame], fontsize=palette.NORMAL, weight="bold", color=palette.INK, pad=3.0)
    return picture


_TOPS_MM: Final[dict[map_sky.Frame, float]] = {"galactic": 30.0, "equatorial": 128.0}
_TITLES: Final[dict[map_sky.Frame, str]] = {
    "galactic": "Galactic coordinates: heavy line the Milky Way's plane, dashed 30° either side of it",
    "equatorial": "Equatorial coordinates: the same lines",
}

NO_DATA, LEFT_OUT = "xxxx", "..."
"""Hatching of what the star source does not cover, and of what was not asked for."""


def unknown(sky: SkyMap) -> BoolArray:
    """Return which pixels of the whole sky were asked for but have no star data."""
    return over_the_sky(sky, sky.no_data.astype(np.float64)) > 0.5


def left_out(sky: SkyMap) -> BoolArray:
    """Return which pixels of the whole sky were not asked for."""
    return np.isnan(over_the_sky(sky, np.zeros(len(sky.ipix))))


def sparse_share(frame: map_sky.Frame, sky: SkyMap, sparse_below: float) -> FloatArray:
    """Return the share of sparse fields in the region about each point of a drawing, NaN where nothing is known."""
    usable = sky.coverage.usable_fraction
    sparse = np.where(np.isnan(usable), np.nan, usable < sparse_below)
    return map_sky.softened(map_sky.on_raster(frame, *cell_means(sky, sparse), map_sky.COARSE_DOTS), _SOFT_DOTS)


def _mark(axes: Axes, frame: map_sky.Frame, targets: Sequence[TargetHere]) -> None:
    """Mark the person's targets and name them, the first ones first."""
    found = [row.target for row in targets if row.target is not None]
    if not found:
        return
    x, y = map_sky.place_on(frame, [item.ra_deg for item in found], [item.dec_deg for item in found])
    for colour, size in ((palette.PAPER, 5.6), (palette.INK, 3.6)):
        axes.plot(x, y, "D", color=colour, markersize=size, markeredgewidth=0.0, zorder=8, gid="target")
    names = [w.star(item.name) for item in found[:_MOST_NAMES]]
    labels.place(axes, [labels.Label(float(a), float(b), name, 4.0) for a, b, name in zip(x, y, names, strict=False)])


def _scale(figure: Figure, picture: AxesImage, summary: Summary) -> None:
    """Draw the scale below the maps, the threshold marked."""
    axes = figure.add_axes(_box(64.0, 223.0, 88.0, 3.0))
    bar = figure.colorbar(picture, cax=axes, orientation="horizontal", ticks=[0.0, 0.25, 0.5, 0.75, 1.0])
    bar.ax.set_xticklabels(["0", "25", "50", "75", "100 %"])
    bar.ax.tick_params(labelsize=palette.SMALL, colors=palette.INK, width=palette.THIN, length=2.0)
    bar.outline.set(linewidth=palette.THIN, edgecolor=palette.INK)
    axes.plot([summary.sparse_below] * 2, [-0.2, 1.2], color=palette.INK, linewidth=palette.HEAVY, clip_on=False)
    paper.text(figure, 24.0 / WIDTH_MM, 1.0 - 223.0 / HEIGHT_MM, "share of camera angles that\nfind a confirmed star")


def _swatches(figure: Figure, sky: SkyMap) -> None:
    """Say what hatching means, where there is any."""
    kinds = (("no data", NO_DATA, bool(sky.no_data.any())), ("not asked for", LEFT_OUT, sky.bounds_deg is not None))
    shown = [(words, hatch) for words, hatch, there in kinds if there]
    for number, (words, hatch) in enumerate(shown):
        top_mm = 221.5 + 5.0 * number
        swatch = figure.add_axes(_box(164.0, top_mm, 8.0, 3.5), xticks=[], yticks=[], facecolor=palette.PAPER)
        swatch.patch.set(hatch=hatch, edgecolor=palette.SHADE)
        paper.text(figure, 174.0 / WIDTH_MM, 1.0 - top_mm / HEIGHT_MM, words)


def draw_latitudes(axes: Axes, summary: Summary) -> None:
    """Draw what the sky offers by distance from the Milky Way's plane, each band a step."""
    edges = [band.from_deg for band in summary.bands] + [summary.bands[-1].to_deg]
    curves = (
        ("expected*", [band.expected.mean for band in summary.bands], palette.MEDIUM, palette.DASHED),
        ("usable", [band.usable.mean for band in summary.bands], palette.HEAVY, "solid"),
        ("sure", [band.sure.mean for band in summary.bands], palette.MEDIUM, "solid"),
        ("worst 5 %", [band.usable.low for band in summary.bands], palette.MEDIUM, "dotted"),
    )
    ends = _apart([_last(values) for _, values, _, _ in curves])
    for (name, values, width, style), end in zip(curves, ends, strict=True):
        shares = [np.nan if value is None else 100.0 * value for value in values]
        axes.stairs(shares, edges, baseline=None, color=palette.ACCENT, linewidth=width, linestyle=style, gid=name)
        if end is not None:
            axes.annotate(
                name, (91.0, end), fontsize=palette.SMALL, color=palette.INK, va="center", annotation_clip=False
            )
    axes.set_xlim(0.0, 90.0)
    axes.set_ylim(0.0, 102.0)
    axes.set_xticks(edges)
    axes.set_xlabel("distance from the Milky Way's plane, |b|, degrees", fontsize=palette.SMALL, color=palette.INK)
    axes.set_ylabel("mean share of camera angles, %", fontsize=palette.SMALL, color=palette.INK)
    axes.tick_params(labelsize=palette.SMALL, colors=palette.INK, width=palette.THIN, length=2.5)
    for side, spine in axes.spines.items():
        spine.set(linewidth=palette.THIN, color=palette.INK, visible=side in ("left", "bottom"))


def _last(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return 100.0 * known[-1] if known else None


def _apart(ends: Sequence[float | None], gap: float = 8.5) -> list[float | None]:
    """Move the curves' names apart where their ends lie close, keeping their order."""
    order = sorted((i for i, end in enumerate(ends) if end is not None), key=lambda i: ends[i] or 0.0)
    placed: list[float | None] = list(ends)
    least = 0.0
    for index in order:
        placed[index] = max(ends[index] or 0.0, least)
        least = (placed[index] or 0.0) + gap
    overshoot = max(least - gap - 100.0, 0.0)
    return [None if end is None else end - overshoot * end / 108.0 for end in placed]
