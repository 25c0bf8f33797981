"""The imaging train as drawings to scale on one A4 page: from the side, from the end, and its shadow on the picture."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from guidestar.report import palette, paper, train_end_view, train_shadow_map, train_side_view
from guidestar.report import train_sentences as say
from guidestar.report import wording as w
from guidestar.train.result import TrainResult

if TYPE_CHECKING:
    from matplotlib.figure import Figure


_LONGEST_NAME = 70


def save_train(result: TrainResult, path: Path) -> Path:
    """Draw the page and write it, whole or not at all; parameters and errors as `guidestar.report.figures.save`."""
    return paper.save_page(path, lambda: train_page(result))


def train_page(result: TrainResult) -> Figure:
    """Lay out the page: the side view on the left, end view and shadow on the right."""
    figure = paper.new_figure(paper.A4_LANDSCAPE_IN)
    train_side_view.draw_side_view(figure.add_axes((0.030, 0.115, 0.500, 0.765)), result)
    train_end_view.draw_end_view(figure.add_axes((0.562, 0.478, 0.262, 0.410)), result)
    train_shadow_map.draw_shadow_map(figure.add_axes((0.566, 0.080, 0.252, 0.345)), result)
    _heading(figure, result)
    _captions(figure, result)
    return figure


def _heading(figure: Figure, result: TrainResult) -> None:
    verdict = say.verdict(result)
    name = textwrap.shorten(result.rig.name, _LONGEST_NAME, placeholder=" …")
    paper.text(figure, 0.030, 0.974, f"{name}: the imaging train, {verdict}", size=palette.LARGE, bold=True)
    line = f"{say.spacing_answer(result)[0]} {say.depth_answer(result)[0]}"
    paper.text(figure, 0.030, 0.944, textwrap.fill(line.replace(w.NBSP, " "), 175))


def _captions(figure: Figure, result: TrainResult) -> None:
    beside = 0.836
    paper.text(figure, 0.030, 0.075, textwrap.fill(train_side_view.caption(result).replace(w.NBSP, " "), 118))
    for top, words in ((0.868, train_end_view.caption(result)), (0.405, train_shadow_map.caption(result))):
        paper.text(figure, beside, top, textwrap.fill(words.replace(w.NBSP, " "), 29, break_on_hyphens=False))
