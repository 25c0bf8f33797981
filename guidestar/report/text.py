"""A result as text for a person: at the kitchen table, or by a dim light at the telescope.

A table that does not fit the page is written as lines, so that no star's designation is ever cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from guidestar.field.result import Asked, CheckResult, Placement, UsableRange, together
from guidestar.nudge.result import Nudge
from guidestar.report import nudge_sentences, sentences
from guidestar.report import wording as w
from guidestar.report.expected_sentences import estimated_share, further
from guidestar.report.sheet import Sheet, new_sheet

_LONGEST_ASKED = 30
"""Characters of a bad row that are repeated."""


@dataclass(frozen=True)
class TargetRow:
    """One row of a list of targets: what was asked, and a result or the sentence that says why there is none.

    `number` is the row's line in the file, counted from 1.
    """

    number: int
    asked: str
    answer: CheckResult | str


def render(result: CheckResult, *, width: int | None = None, colour: bool = False, nudge: Nudge | None = None) -> str:
    """Write the whole report on one target.

    Parameters
    ----------
    result : CheckResult
    width : int, optional
        Characters a line; default: the terminal's width, or 80 where there is none.
    colour : bool
        Mark headings and answers with terminal codes.
    nudge : Nudge, optional
        The shifts that were asked for besides.

    Returns
    -------
    str
        Lines that end in a newline; no line is longer than `width`, unless a single word is.
    """
    sheet = new_sheet(width, colour)
    _heading(sheet, result)
    if result.asked is not None:
        _asked(sheet, result, result.asked)
    if nudge is not None:
        _nudge(sheet, result, nudge)
    if result.usable.angles_deg:
        _usable(sheet, result)
    else:
        _nothing(sheet, result)
    sheet.gap()
    sheet.prose([sentences.completeness(result)])
    for paragraph in further(result):
        sheet.gap()
        sheet.prose([paragraph])
    return sheet.finished()


def render_rows(rows: Sequence[TargetRow], *, width: int | None = None, colour: bool = False) -> str:
    """Write one line a target; a bad row stands in the table, its reason below it, and how many there are above.

    Parameters
    ----------
    rows : sequence of TargetRow
    width, colour
        As for `render`.

    Returns
    -------
    str
        Lines that end in a newline.
    """
    sheet = new_sheet(width, colour)
    bad = [row for row in rows if isinstance(row.answer, str)]
    if bad:
        sheet.prose([f"WARNING  {len(bad)} of {w.counted(len(rows), 'row')} cannot be used."], hang="  ")
        sheet.gap()
    headings = ("row", "target", "sure", "usable", "expected", "best", "margin", "G mag", "flip-safe")
    cells = [_row_cells(row) for row in rows]
    sheet.table_or_lines(headings, cells, frozenset({1}), between="; ")
    if bad:
        sheet.gap()
    sheet.prose([f"Row {row.number}, “{short(row.asked)}”: {row.answer}" for row in bad], hang="  ")
    sheet.gap()
    sheet.prose(
        [
            "sure, usable, flip-safe: share of all camera angles, by stars that the catalogue lists. expected: an "
            "estimate of the share usable, with the fainter stars besides that star counts foretell (~; – where none "
            "can be missing). best: the best sure angle, or the best of all where none is sure "
            "(marked ?); margin: either way; G mag: Gaia G of the brightest star there."
        ]
    )
    return sheet.finished()


def short(asked: str) -> str:
    """Cut a bad row's text to what is enough to know it by."""
    return asked if len(asked) <= _LONGEST_ASKED else f"{asked[:_LONGEST_ASKED].rstrip()}…"


def _row_cells(row: TargetRow) -> tuple[str, ...]:
    if isinstance(row.answer, str):
        return (str(row.number), short(row.asked), "error", *("–",) * 6)
    result = row.answer
    flip = result.usable.flip_safe_fraction
    best = result.best_sure or result.best
    confirmed = (w.short_share(result.usable.sure_fraction), w.short_share(result.usable.fraction))
    shares = (*confirmed, estimated_share(result.expected))
    flip_text = "–" if flip is None else w.short_share(flip)
    if best is None:
        return (str(row.number), result.target.name, *shares, "–", "–", "–", flip_text)
    mark = "" if best.sure else "?"
    brightest = min((p.g_mag for p in best.placements if p.usable), default=None)
    magnitude = "–" if brightest is None else f"{brightest:.2f}"
    margin = "any" if best.margin_deg >= 180.0 else w.margin(best.margin_deg)
    return (str(row.number), result.target.name, *shares, w.angle(best.angle_deg) + mark, margin, magnitude, flip_text)


def _heading(sheet: Sheet, result: CheckResult) -> None:
    sheet.title(result.target.name)
    sheet.prose(sentences.opening(result))
    for paragraph in sentences.warnings(result):
        sheet.prose([paragraph], hang="  ")
    sheet.gap()
    sheet.prose([sentences.camera_angle_meaning()])


def _asked(sheet: Sheet, result: CheckResult, question: Asked) -> None:
    sheet.gap()
    paragraphs = sentences.asked(result, question)
    sheet.prose(paragraphs[:1], hang="  ")
    _placements(sheet, result, question.placements)
    sheet.prose(paragraphs[1:], hang="  ")
    for side in question.sides:
        sheet.prose([sentences.side_line(result, side)], indent="  ", hang="  ")


def _nudge(sheet: Sheet, result: CheckResult, found: Nudge) -> None:
    sheet.gap()
    first, *rest = nudge_sentences.nudge(found)
    sheet.prose([first], hang="  ")
    if found.best is not None and found.best.shift_arcmin > 0:
        _placements(sheet, result, found.best.placements)
    sheet.prose(rest, indent="  ")


def _usable(sheet: Sheet, result: CheckResult) -> None:
    for paragraph in sentences.shares(result):
        sheet.gap()
        sheet.prose([paragraph], hang="  ")
    best = result.best_sure or result.best
    if best is not None:
        sheet.gap()
        first, *caveats = sentences.setting(result, best)
        sheet.prose([first], hang="  ")
        _placements(sheet, result, best.placements)
        sheet.prose([*caveats, *sentences.wider_choice(result)], indent="  ")
    sheet.gap()
    _ranges(sheet, result)
    for paragraph in sentences.flip_safe(result):
        sheet.gap()
        sheet.prose([paragraph], hang="  ")


def _nothing(sheet: Sheet, result: CheckResult) -> None:
    sheet.gap()
    sheet.prose(sentences.nothing_usable(result), hang="  ")
    for item in result.hints:
        sheet.prose([f"- {sentences.hint(result, item)}"], indent="  ", hang="  ")


_PLACE = ("u", "v", "u pixel", "v pixel")
_LIGHT = ("SNR", "light", "peak", "error")
_PLACE_NOTE = (
    "u runs along the guide sensor's width, v along its height; mm from its centre, pixels from the corner where both "
    "are smallest."
)
_LIGHT_NOTE = (
    "SNR: signal to noise of one exposure; light: share of the star's beam that the prism catches; peak: how full the "
    "brightest pixel gets; error: expected error of the place, one axis, from the light alone (the air's own motion "
    "comes on top)."
)


def _placements(sheet: Sheet, result: CheckResult, placements: Sequence[Placement]) -> None:
    """Say where each usable star stands and, with the light model, what the guide camera gets of it."""
    usable = [item for item in placements if item.usable]
    if not usable:
        return
    shown = sentences.shown(placements)
    spoiled = sentences.spoiled_ids(result)
    names = [(f"  {item.star_id}", f"{item.g_mag:.2f}") for item in shown]
    marks = ["!" if item.star_id in spoiled or sentences.saturated(item) else "" for item in shown]
    parts = [(_PLACE, [_place_cells(item) for item in shown])]
    if all(item.light is not None for item in shown):
        parts.append((_LIGHT, [_light_cells(item) for item in shown]))
    _side_by_side(sheet, names, parts, marks)
    notes = [_PLACE_NOTE, *([_LIGHT_NOTE, *_averaged(placements)] if len(parts) > 1 else [])]
    if any(marks):
        notes.append("!: a double star, one with a close neighbour, one that fills its brightest pixel, or a galaxy.")
    if any(sentences.saturated(item) for item in shown):
        notes.append("No error is given for a star that fills its brightest pixel.")
    notes += [text for text in (_left_out(len(usable) - len(shown)), _not_usable(placements)) if text]
    sheet.prose([" ".join(notes)], indent="  ")


def _side_by_side(
    sheet: Sheet,
    names: Sequence[tuple[str, str]],
    parts: Sequence[tuple[tuple[str, ...], list[tuple[str, ...]]]],
    marks: Sequence[str],
) -> None:
    """Print the parts of a table beside each other, or below each other, or as lines, as the page allows."""

    def table(chosen: Sequence[tuple[tuple[str, ...], list[tuple[str, ...]]]]) -> bool:
        headings = ("  star", "G mag", *(heading for part, _ in chosen for heading in part), "")
        cells = (cells for _, cells in chosen)
        rows = [
            (*name, *(cell for part in row for cell in part), mark)
            for name, *row, mark in zip(names, *cells, marks, strict=True)
        ]
        return sheet.table(headings, rows, frozenset({0}))

    if table(parts):
        return
    for headings, rows in parts:
        if not table([(headings, rows)]):
            lines = [
                f"{star.strip()} (G {mag}){' !' if mark else ''}: "
                + ", ".join(f"{heading} {cell}" for heading, cell in zip(headings, row, strict=True))
                for (star, mag), row, mark in zip(names, rows, marks, strict=True)
            ]
            sheet.prose(lines, indent="  ", hang="  ")


def _place_cells(item: Placement) -> tuple[str, ...]:
    return (
        w.unit(w.signed(item.u_mm, 2), "mm"),
        w.unit(w.signed(item.v_mm, 2), "mm"),
        f"{item.u_px:.0f}",
        f"{item.v_px:.0f}",
    )


def _light_cells(item: Placement) -> tuple[str, ...]:
    light = item.light
    if light is None:
        return ("–",) * len(_LIGHT)
    return (
        f"{light.snr:.0f}",
        w.percent(light.transmission),
        w.percent(light.peak_fill),
        "–" if light.centroid_arcsec is None else w.arcsec(light.centroid_arcsec),
    )


def _averaged(placements: Sequence[Placement]) -> list[str]:
    found = together(placements)
    if found is None:
        return []
    return [f"Averaged over {w.counted(found.stars, 'star')}, the error is {w.arcsec(found.centroid_arcsec)}."]


def _left_out(number: int) -> str:
    if not number:
        return ""
    return f"{w.counted(number, 'fainter usable one')} {'is' if number == 1 else 'are'} left out."


def _not_usable(placements: Sequence[Placement]) -> str:
    others = sum(not item.usable for item in placements)
    if not others:
        return ""
    verb = "is" if others == 1 else "are"
    return f"{w.counted(others, 'more star')} there {verb} not usable: too faint, or too near the edge."


def _ranges(sheet: Sheet, result: CheckResult) -> None:
    flips = result.usable.flip_safe_fraction is not None
    headings = ["from", "to", "width", "sure", "brightest", "G mag", "stars", *(["flip"] if flips else []), ""]
    rows = [_range_cells(item, flips) for item in result.ranges]
    if not sheet.table(headings, rows, frozenset({4})):
        sheet.prose([_range_line(item, flips) for item in result.ranges], hang="  ")
    notes = ["width and sure: degrees of camera angle, and how many of them are sure."]
    if flips:
        notes.append("flip: how much of the range still has a star after the meridian flip.")
    if not all(item.settable for item in result.ranges):
        accuracy = w.plain(result.rig.guiding.rotation_accuracy_deg)
        notes.append(f"*: narrower than you can set the camera (±{accuracy}°).")
    sheet.prose([" ".join(notes)])


def _range_cells(item: UsableRange, flips: bool) -> list[str]:
    full = item.width_deg >= 360.0
    return [
        "0.0°" if full else w.angle(item.start_deg),
        "360.0°" if full else w.angle(item.end_deg),
        w.width(item.width_deg),
        w.width(item.sure_deg),
        item.brightest_id,
        f"{item.brightest_mag:.2f}",
        str(item.star_count),
        *([item.flip_safe or "–"] if flips else []),
        "" if item.settable else "*",
    ]


def _range_line(item: UsableRange, flips: bool) -> str:
    flip = f"; after the flip: {item.flip_safe or '–'}" if flips else ""
    mark = "" if item.settable else " *"
    return (
        f"{w.span(item.start_deg, item.end_deg)}{mark}: {w.width(item.width_deg)} wide, {w.width(item.sure_deg)} of it "
        f"sure; {w.counted(item.star_count, 'star')}, brightest {w.star(item.brightest_id)} "
        f"({w.magnitude(item.brightest_mag)}){flip}"
    )
