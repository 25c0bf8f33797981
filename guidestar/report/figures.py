"""The three pictures of a result on one A4 page, and a single picture for notebooks."""

from __future__ import annotations

import os
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from guidestar.field.result import CheckResult
from guidestar.nudge.result import Nudge
from guidestar.report import (
    dial_figure,
    field_figure,
    guide_picture,
    layout,
    nudge_figure,
    palette,
    paper,
    sentences,
)
from guidestar.report import wording as w

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def save(result: CheckResult, path: str | os.PathLike[str], nudge: Nudge | None = None) -> Path:
    """Draw the page and write it, whole or not at all.

    Parameters
    ----------
    result : CheckResult
    path : path-like
        Its suffix chooses the format: png, svg or pdf.
    nudge : Nudge, optional
        The shifts that were asked for besides: one more picture shows where the target then stands.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    InputError
        For another suffix, or where the file cannot be written; a file that stood there stays as it was.
    """
    return paper.save_page(Path(path), lambda: page(result, nudge))


def plot_field(result: CheckResult, axes: Axes | None = None) -> Axes:
    """Draw the field alone, for a notebook.

    Parameters
    ----------
    result : CheckResult
    axes : Axes, optional
        Where to draw; default: a new figure of 6 × 6 inches, reached as `.figure` of what is returned.

    Returns
    -------
    Axes
    """
    with paper.style():
        if axes is None:
            axes = paper.new_figure((6.0, 6.0)).add_axes((0.03, 0.03, 0.94, 0.90))
        field_figure.draw_field(axes, result)
    return axes


def page(result: CheckResult, nudge: Nudge | None = None) -> Figure:
    """Lay out the page: field and dial above, the guide camera's picture, the list of stars and a nudge below."""
    figure = paper.new_figure(paper.A4_LANDSCAPE_IN)
    field = figure.add_axes((0.030, 0.388, 0.365, 0.516))
    dial = figure.add_axes((0.402, 0.375, 0.4366, 0.529))
    field_figure.draw_field(field, result)
    dial_figure.draw_dial(dial, result)
    after = nudge_figure.after_shift(nudge)
    words = "" if after is None or nudge is None else nudge_figure.after_words(nudge)
    guide_picture.draw_guide_picture(figure.add_axes((0.070, 0.098, 0.330, 0.232)), result, after, after=words)
    _heading(figure, result)
    _star_list(figure, result, most_spans=3 if nudge is None else 1)
    if nudge is not None:
        nudge_figure.draw_frame(figure.add_axes((0.765, 0.142, 0.205, 0.195)), result, nudge)
        paper.text(figure, 0.765, 0.132, _filled(nudge_figure.caption(nudge).replace(w.NBSP, " "), 47))
    _captions(figure, result)
    return figure


def _heading(figure: Figure, result: CheckResult) -> None:
    shown = layout.shown(result)
    margin = "" if shown.margin_deg is None else f", {_either_way(shown.margin_deg)}"
    answer = f"{shown.why} {w.angle(shown.angle_deg)}{margin}{_verdict(result)}"
    target = result.target
    paper.text(figure, 0.030, 0.974, f"{target.name}, {answer}", size=palette.LARGE, bold=True)
    line = (
        f"{w.right_ascension(target.ra_deg)}, {w.declination(target.dec_deg)} (ICRS), stars at "
        f"{result.epoch_year:.1f}; rig “{result.rig.name}”; {result.stars.source}, magnitudes Gaia G"
    )
    paper.text(figure, 0.030, 0.946, textwrap.shorten(line, 165, placeholder=" …"))


def _verdict(result: CheckResult) -> str:
    asked = result.asked
    if asked is None:
        return ""
    if len(asked.star_ids) < result.rig.guiding.min_stars:
        best = layout.best(result)
        if best is None or best.margin_deg is None:
            return ": not usable, nor is any other"
        return f": not usable ({best.why} {w.angle(best.angle_deg)}, {_either_way(best.margin_deg)})"
    return ": sure" if asked.sure else ": usable, not sure" if asked.usable else ": only just usable"


def _either_way(margin_deg: float) -> str:
    return "any angle will do" if margin_deg >= 180.0 else f"give or take {w.margin(margin_deg)}"


def _star_list(figure: Figure, result: CheckResult, most_spans: int) -> None:
    """List the numbered stars: name, magnitude, and the camera angles that find them; or else what would help."""
    if not result.guide_stars:
        _help(figure, result, columns=72 if most_spans > 1 else 46)
        return
    shown, numbers = layout.shown(result), layout.star_numbers(result)
    drawn = layout.stars_drawn(result, shown)
    lines = [
        f"{numbers[star.id]:3d}{'*' if star.id in shown.star_ids else ' '} {star.id:<16} {star.g_mag:5.2f}  "
        f"{_spans(star.angles_deg, most_spans)}"
        for star in drawn
    ]
    more = len(result.guide_stars) - len(drawn)
    if more:
        lines.append(f"     and {w.counted(more, 'more star')}")
    if any(star.id in shown.star_ids for star in drawn):
        lines.append("  *  on the guide camera at the angle shown")
    head = f" No. {'star':<16} {'G mag':>5}  camera angles"
    paper.text(figure, 0.530, 0.345, "Guide stars", bold=True)
    paper.text(figure, 0.530, 0.325, "\n".join([head, *lines]), mono=True)


def _help(figure: Figure, result: CheckResult, columns: int) -> None:
    paper.text(
        figure, 0.530, 0.345, "What would help" if result.hints else "No guide star at any camera angle", bold=True
    )
    words = [_filled(sentences.hint(result, item), columns) for item in result.hints]
    paper.text(figure, 0.530, 0.320, "\n\n".join(words))


def _spans(intervals: tuple[tuple[float, float], ...], most: int) -> str:
    parts = [f"{w.angle(start)}–{w.angle(end)}" for start, end in intervals[:most]]
    if any(end - start >= 360.0 for start, end in intervals):
        return "all"
    return ", ".join(parts) + (", …" if len(intervals) > most else "")


def _captions(figure: Figure, result: CheckResult) -> None:
    paper.text(figure, 0.030, 0.048, _filled(guide_picture.caption(result), 118))
    beside = [field_figure.caption(result), dial_figure.caption(result)]
    paper.text(figure, 0.842, 0.904, "\n\n".join(_filled(words, 29) for words in beside))


def _filled(words: str, width: int) -> str:
    return textwrap.fill(words, width, break_on_hyphens=False)
