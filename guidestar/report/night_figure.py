"""The night as a page of strips, one a target under one another, on one axis of hours by the site's clocks.

In each strip: how high the target stands (heavy where it can be imaged), the Moon's height (dashed), the limit of
altitude, the meridian flip; under it a bar that says when a guide star serves at the chosen camera angle, and which.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from guidestar.night.result import NightResult, Run, TargetNight
from guidestar.night.safety import NEVER
from guidestar.night.window import horizon_line
from guidestar.report import night_sentences as sentences
from guidestar.report import palette, paper
from guidestar.report import wording as w
from guidestar.report.night_wording import MONTHS, Clock, clock_of, hours

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_WIDTH_MM: Final = 210.0
_PAGE_MM: Final = 297.0
_STRIP_MM: Final = (18.5, 48.0)
"""Least and greatest height of a strip; between them they fill an A4 page, and beyond a dozen the page grows."""
_TOP_MM: Final = 5.0
_HEAD_MM: Final = 25.0
"""Least height of what stands above the strips."""
_GAP_MM: Final = 4.0
_FOOT_MM: Final = 33.0
_LEFT_MM: Final = 52.0
_RIGHT_MM: Final = 8.0
_MOST_STRIPS: Final = 40
_LINE, _BOLD_LINE = 150, 128
"""Letters to a line across the page, in plain and in heavy type."""
_LINE_MM: Final = 3.3
_MOST_RUNS_BESIDE: Final = 9

_BAR_TOP, _BAR_BOTTOM = -8.0, -26.0
"""The bar's place on the strip's scale of altitudes, which begins below it."""
_LOWEST, _HIGHEST = -30.0, 96.0

_TWILIGHT, _DARK = "#f3f4f5", "#dde0e4"
"""Greys behind the hours of nautical twilight and of darkness; ink keeps its contrast on both."""


def save_night(result: NightResult, path: Path) -> Path:
    """Draw the page and write it, whole or not at all; parameters and errors as `guidestar.report.figures.save`."""
    return paper.save_page(path, lambda: night_page(result))


def plot_night(result: NightResult) -> Figure:
    """Return the page as a figure, for a notebook."""
    with paper.style():
        return night_page(result)


def night_page(result: NightResult) -> Figure:
    """Lay out the page: heading, strips, what the signs mean."""
    clock, drawn = clock_of(result), result.targets[:_MOST_STRIPS]
    heading = _heading(result, clock)
    head_mm = max(_HEAD_MM, _TOP_MM + sum(one.height_mm + one.gap_mm for one in heading) + _GAP_MM)
    strip_mm = float(np.clip((_PAGE_MM - head_mm - _FOOT_MM) / len(drawn), *_STRIP_MM))
    height_mm = head_mm + len(drawn) * strip_mm + _FOOT_MM
    figure = paper.new_figure((_WIDTH_MM / 25.4, height_mm / 25.4))
    _draw_heading(figure, heading, height_mm)
    for number, night in enumerate(drawn):
        bottom_mm = height_mm - head_mm - (number + 1) * strip_mm
        box = (_LEFT_MM / _WIDTH_MM, (bottom_mm + 1.2) / height_mm, 1.0 - (_LEFT_MM + _RIGHT_MM) / _WIDTH_MM)
        axes = figure.add_axes((*box, (strip_mm - 2.4) / height_mm))
        draw_strip(axes, result, night, first=number == 0)
        _hour_axis(axes, result, clock, below=number == len(drawn) - 1)
        _beside(figure, result, night, number + 1, (bottom_mm + strip_mm - 1.6) / height_mm, clock)
    _caption(figure, result, height_mm, len(result.targets) - len(drawn))
    return figure


def draw_strip(axes: Axes, result: NightResult, night: TargetNight, *, first: bool = True) -> None:
    """Draw one target's night on given axes: hours since the evening's 24 hours begin across, degrees upward.

    The Moon is named only on the `first` strip of a page.
    """
    axes.set(xlim=_limits(result), ylim=(_LOWEST, _HIGHEST))
    _backdrop(axes, result)
    _curves(axes, result, night)
    _moon_sign(axes, result, named=first)
    _flip(axes, result, night)
    _bar(axes, result, night)
    axes.set_yticks([0, 30, 60, 90], ["0°", "30°", "60°", "90°"])
    axes.tick_params(labelsize=palette.SMALL, colors=palette.INK, width=palette.THIN, length=2.0, pad=1.5)
    for spine in axes.spines.values():
        spine.set(linewidth=palette.THIN, color=palette.INK)


def _since(result: NightResult, moment: datetime) -> float:
    """Return hours since the 24 hours looked at begin."""
    return (moment - result.dark.whole.start).total_seconds() / 3600.0


def _limits(result: NightResult) -> tuple[float, float]:
    """Return the hours shown: from half an hour before sunset to half an hour after sunrise, or all 24."""
    dark = result.dark
    if dark.sunset is None or dark.sunrise is None or not dark.nautical:
        return 0.0, 24.0
    return max(_since(result, dark.sunset) - 0.5, 0.0), min(_since(result, dark.sunrise) + 0.5, 24.0)


def _backdrop(axes: Axes, result: NightResult) -> None:
    """Shade twilight and dark hours, and rule the limit of altitude."""
    for spans, colour, name in (
        (result.dark.nautical, _TWILIGHT, "nautical"),
        (result.dark.astronomical, _DARK, "dark"),
    ):
        for span in spans:
            band = (_since(result, span.start), _since(result, span.end))
            axes.axvspan(*band, color=colour, linewidth=0.0, zorder=0, gid=f"{name} hours")
    for altitude in (0.0, 30.0, 60.0, 90.0):
        axes.axhline(altitude, color=palette.SHADE, linewidth=0.3, zorder=1)


def _curves(axes: Axes, result: NightResult, night: TargetNight) -> None:
    start = result.dark.whole.start.timestamp()
    for curve, style, name in (
        (result.dark.moon.curve, palette.DASHED, "Moon"),
        (night.curve, "-", "target"),
    ):
        at, height = (curve.unix_s - start) / 3600.0, np.where(curve.altitude_deg > 0.0, curve.altitude_deg, np.nan)
        axes.plot(at, height, color=palette.INK, linewidth=palette.THIN, linestyle=style, zorder=3, gid=name)
    at = (night.curve.unix_s - start) / 3600.0
    limit = np.maximum(horizon_line(result.site, night.curve.azimuth_deg), result.least_altitude_deg)
    axes.plot(at, limit, color=palette.INK, linewidth=palette.THIN, linestyle=":", zorder=2, gid="limit")
    for window in night.windows:
        shown = np.linspace(_since(result, window.start), _since(result, window.end), 200)
        height = np.interp(shown, at, night.curve.altitude_deg)
        axes.plot(shown, height, color=palette.ACCENT, linewidth=palette.HEAVY + 0.4, zorder=4, gid="can be imaged")


def _moon_sign(axes: Axes, result: NightResult, *, named: bool) -> None:
    """Mark the Moon's curve with a small disc at its highest within the page."""
    moon, (low, high) = result.dark.moon, axes.get_xlim()
    at = (moon.curve.unix_s - result.dark.whole.start.timestamp()) / 3600.0
    seen = (at > low + 0.4) & (at < high - 0.4) & (moon.curve.altitude_deg > 6.0)
    if not np.any(seen):
        return
    top = np.flatnonzero(seen)[np.argmax(moon.curve.altitude_deg[seen])]
    axes.plot(at[top], moon.curve.altitude_deg[top], "o", ms=5.5, mfc=palette.PAPER, mec=palette.INK, mew=0.8, zorder=6)
    if not named:
        return
    axes.annotate(
        f"Moon, {100.0 * moon.illuminated:.0f} % lit",
        (at[top], moon.curve.altitude_deg[top]),
        (4.0, 4.0),
        textcoords="offset points",
        va="bottom",
        fontsize=palette.SMALL - 0.5,
        color=palette.INK,
        zorder=6,
        gid="moon label",
    )


def _flip(axes: Axes, result: NightResult, night: TargetNight) -> None:
    if night.flip is None:
        return
    at = _since(result, night.flip)
    axes.plot([at, at], [_BAR_BOTTOM, 90.0], color=palette.INK, linewidth=palette.MEDIUM, zorder=7, gid="flip")
    axes.plot(at, 92.0, marker="v", ms=4.0, color=palette.INK, zorder=7, clip_on=False)


def _bar(axes: Axes, result: NightResult, night: TargetNight) -> None:
    """Draw who serves when: filled where the angle is sure all night, else hatched, empty where none serves."""
    for run in night.runs:
        _run_bar(axes, result, night, run)
    if not night.runs:
        middle = (_BAR_TOP + _BAR_BOTTOM) / 2.0
        axes.text(
            sum(axes.get_xlim()) / 2.0, middle, "no hours tonight", ha="center", va="center", fontsize=palette.SMALL
        )


def _run_bar(axes: Axes, result: NightResult, night: TargetNight, run: Run) -> None:
    from matplotlib.patches import Rectangle

    start, end = _since(result, run.start), _since(result, run.end)
    sure = night.choice is not None and night.choice.holds == "sure"
    kind = "none" if run.star_id is None else "sure" if sure else "usable"
    look: dict[str, Any] = {
        "none": {"facecolor": palette.PAPER},
        "sure": {"facecolor": palette.ACCENT},
        "usable": {"facecolor": palette.PAPER, "hatch": palette.HATCH},
    }[kind]
    box = Rectangle(
        (start, _BAR_BOTTOM),
        end - start,
        _BAR_TOP - _BAR_BOTTOM,
        edgecolor=palette.INK,
        linewidth=palette.THIN,
        zorder=5,
        gid=f"run {kind}",
        **look,
    )
    axes.add_patch(box)
    words = _run_words(run, _room(axes, end - start))
    if words:
        inside = palette.PAPER if kind == "sure" else palette.INK
        axes.text(
            (start + end) / 2.0,
            (_BAR_TOP + _BAR_BOTTOM) / 2.0 - 0.5,
            words,
            ha="center",
            va="center",
            fontsize=palette.SMALL - 0.5,
            color=inside,
            zorder=8,
            gid="run label",
            bbox=None if kind != "usable" else {"boxstyle": "square,pad=0.12", "fc": palette.PAPER, "ec": "none"},
        )


def _room(axes: Axes, hours_wide: float) -> int:
    """Return how many letters fit into a stretch of hours."""
    low, high = axes.get_xlim()
    width_pt = (_WIDTH_MM - _LEFT_MM - _RIGHT_MM) / 25.4 * 72.0 * hours_wide / (high - low)
    return int(width_pt / (0.62 * (palette.SMALL - 0.5)))


def _run_words(run: Run, letters: int) -> str:
    """Return the longest wording that fits: star, magnitude and exposure; star; or nothing."""
    if run.star_id is None:
        choices = ["no star"]
        if run.exposure_s is not None:
            choices.insert(0, f"no star; one with {w.exposure(run.exposure_s)}")
    else:
        more = [f"G {run.g_mag:.1f}"] if run.g_mag is not None else []
        more += [] if run.exposure_s is None else [w.exposure(run.exposure_s)]
        choices = [", ".join([run.star_id, *more]), ", ".join([run.star_id, *more[:1]]), run.star_id]
        choices += [more[0]] if more else []
        choices = [f"{words}{_full_sign(run)}" for words in choices]
    return next((words.replace(w.NBSP, " ") for words in choices if len(words) <= letters), "")


def _full_sign(run: Run) -> str:
    """Mark a star that fills its brightest pixel."""
    return " !" if run.saturated else ""


def _hour_axis(axes: Axes, result: NightResult, clock: Clock, *, below: bool) -> None:
    """Tick full hours by the site's clocks; date the first of them and midnight."""
    low, high = axes.get_xlim()
    start = clock.local(result.dark.whole.start)
    # Counted on from the first full local hour: where the clocks change, an hour is missing or comes twice.
    first = result.dark.whole.start + timedelta(minutes=(60 - start.minute) % 60, seconds=-start.second)
    step = 1 if high - low <= 11.0 else 2
    moments = [first + timedelta(hours=count) for count in range(26)]
    shown = [m for m in moments if low <= _since(result, m) <= high and clock.local(m).hour % step == 0]
    marks = [_since(result, moment) for moment in shown]
    names = [hour_name(clock.local(moment), dated=i == 0) for i, moment in enumerate(shown)]
    axes.set_xticks(marks, names if below else [""] * len(marks))
    for at in marks:
        axes.axvline(at, color=palette.SHADE, linewidth=0.3, zorder=1)


def hour_name(local: datetime, *, dated: bool) -> str:
    """Write an hour for the axis, with the date below it at midnight or where wanted."""
    return f"{local:%H}\n{local.day} {MONTHS[local.month - 1][:3]}" if dated or local.hour == 0 else f"{local:%H}"


def _beside(figure: Figure, result: NightResult, night: TargetNight, rank: int, top: float, clock: Clock) -> None:
    """Write rank, name and what matters to the left of the strip."""
    left = 5.0 / _WIDTH_MM
    number = f"{rank}  " if result.is_list else ""
    name = textwrap.shorten(night.target.name, 24, placeholder="…")
    paper.text(figure, left, top, f"{number}{name}", size=palette.NORMAL, bold=True)
    lines = _facts(night)
    if not result.is_list:
        lines += ["", *_runs_beside(night, clock)]
    height_mm = figure.get_figheight() * 25.4
    for i, line in enumerate(lines):
        paper.text(figure, left, top - (4.0 + _LINE_MM * i) / height_mm, line)


def _facts(night: TargetNight) -> list[str]:
    choice = night.choice
    danger = ["DANGER: the Sun"] if night.warnings else []
    if choice is None:
        return [*danger, *textwrap.wrap(night.no_window or "", 30)[:3]]
    if choice.holds == "never" and not choice.asked:
        return [*danger, f"up {hours(night.hours)}; no guide star", "at any camera angle"]
    angles = " | ".join(w.angle(side.camera_angle_deg) for side in night.sides[:2])
    guided = hours(night.guidable_hours) if night.guidable_hours else "0 h"
    return [
        *danger,
        f"camera angle {angles}",
        f"star {guided} of {hours(night.hours)}",
        {"sure": "sure all night", "usable": "usable all night", "partly": "not all night", "never": "never"}[
            choice.holds
        ],
    ]


def _runs_beside(night: TargetNight, clock: Clock) -> list[str]:
    """List who serves from when, where a page has a single strip and room for it."""
    shown = night.runs[:_MOST_RUNS_BESIDE]
    lines = [f"{clock.at(run.start)}  {run.star_id or 'no star'}{_full_sign(run)}" for run in shown]
    more = len(night.runs) - len(shown)
    return [*lines, f"and {more} more"] if more else lines


@dataclass(frozen=True)
class _Paragraph:
    """Words of the heading, broken into lines, and the height that each line takes."""

    words: str
    size: float = palette.SMALL
    bold: bool = False
    line_mm: float = _LINE_MM
    gap_mm: float = 0.0

    @property
    def height_mm(self) -> float:
        return self.line_mm * (self.words.count("\n") + 1)


def _heading(result: NightResult, clock: Clock) -> list[_Paragraph]:
    """Return what stands above the strips: dangers and warnings before everything else."""
    warned = [night.target.name for night in result.targets if night.warnings]
    near = f"DANGER  {w.joined(warned)}: the Sun is near, or comes near at dawn. {NEVER}"
    first = [near] if warned else []
    first += sentences.warnings(result)
    number = w.counted(len(result.targets), "target")
    title = f"{number} for the night" if result.is_list else result.targets[0].target.name
    said = " ".join([sentences.heading(result), *sentences.darkness(result, clock)]).replace("DARK  ", "Dark: ")
    return [
        *(_Paragraph(_broken(words, _BOLD_LINE), bold=True, line_mm=3.6, gap_mm=1.2) for words in first),
        _Paragraph(title, palette.LARGE, bold=True, line_mm=6.0),
        _Paragraph(_broken(said, _LINE)),
    ]


def _broken(words: str, letters: int) -> str:
    return textwrap.fill(words, letters, break_on_hyphens=False)


def _draw_heading(figure: Figure, paragraphs: Sequence[_Paragraph], height_mm: float) -> None:
    top_mm = _TOP_MM
    for one in paragraphs:
        paper.text(figure, 5.0 / _WIDTH_MM, 1.0 - top_mm / height_mm, one.words, size=one.size, bold=one.bold)
        top_mm += one.height_mm + one.gap_mm


def _signs(result: NightResult) -> str:
    """Say what the signs mean, of those that are drawn."""
    drawn = result.targets[:_MOST_STRIPS]
    moon = "; dashed: the Moon's" if _moon_shown(result) else ""
    flip = ""
    if any(night.flip is not None for night in drawn):
        flip = " Vertical line with a triangle: the meridian flip; camera angles are written before | after it."
    full = (
        " !: it fills its brightest pixel even so." if any(r.saturated for night in drawn for r in night.runs) else ""
    )
    return (
        f"Heavy line: the target can be imaged (dark, above the dotted limit); thin: its altitude{moon}. Dark grey: "
        f"dark hours; light grey: nautical twilight.{flip} Bar: filled where a star serves and the angle is sure all "
        "night, hatched where a star serves but the angle is not sure all night, empty where none does; in it the "
        f"star, its Gaia G and the shortest usual exposure, as far as there is room.{full} Hours at the foot: "
        f"{result.site.time_zone}."
    )


def _moon_shown(result: NightResult) -> bool:
    """Tell whether the Moon is up at any time within the hours drawn."""
    (low, high), curve = _limits(result), result.dark.moon.curve
    at = (curve.unix_s - result.dark.whole.start.timestamp()) / 3600.0
    return bool(np.any((at >= low) & (at <= high) & (curve.altitude_deg > 0.0)))


def _caption(figure: Figure, result: NightResult, height_mm: float, left_out: int) -> None:
    words = _signs(result)
    if left_out:
        words += f" {w.counted(left_out, 'more target')} not drawn."
    filled = textwrap.fill(words, _LINE, break_on_hyphens=False)
    paper.text(figure, 5.0 / _WIDTH_MM, (_FOOT_MM - 13.0) / height_mm, filled)
