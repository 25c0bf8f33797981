"""A mosaic as text for a person."""

from __future__ import annotations

from guidestar.nudge.result import Mosaic, Panel
from guidestar.report import mosaic_sentences as sentences
from guidestar.report import wording as w
from guidestar.report.sheet import Sheet, new_sheet

_HEADINGS = ("panel", "right ascension", "declination", "lean", "", "guide star", "G mag", "stars")


def render(mosaic: Mosaic, *, width: int | None = None, colour: bool = False) -> str:
    """Write the whole report on a mosaic; parameters and lines as `guidestar.report.text.render`."""
    sheet = new_sheet(width, colour)
    sheet.title(mosaic.target.name)
    sheet.prose(sentences.opening(mosaic))
    sheet.prose(sentences.warnings(mosaic), hang="  ")
    sheet.gap()
    sheet.prose([sentences.meaning(mosaic)])
    for paragraph in [*sentences.answer(mosaic), sentences.chosen(mosaic)]:
        sheet.gap()
        sheet.prose([paragraph], hang="  ")
    sheet.gap()
    _table(sheet, mosaic)
    lines = sentences.nudges(mosaic)
    if lines:
        sheet.gap()
        sheet.prose(lines, hang="  ")
    sheet.gap()
    sheet.prose([sentences.completeness(mosaic)], hang="  ")
    return sheet.finished()


def _table(sheet: Sheet, mosaic: Mosaic) -> None:
    rows = [_cells(panel) for panel in mosaic.panels]
    if not sheet.table(_HEADINGS, rows, frozenset({4, 5})):
        sheet.prose([_line(panel) for panel in mosaic.panels], hang="  ")
    sheet.prose([sentences.table_note()])


def _cells(panel: Panel) -> tuple[str, ...]:
    star, magnitude = _star(panel)
    return (
        sentences.panel_name(panel),
        w.right_ascension(panel.ra_deg),
        w.declination(panel.dec_deg),
        sentences.leaning(panel),
        sentences.verdict(panel),
        star,
        magnitude,
        str(len(panel.asked.star_ids)),
    )


def _star(panel: Panel) -> tuple[str, str]:
    """Return the first of a panel's usable stars and its magnitude."""
    if not panel.asked.usable or not panel.asked.star_ids:
        return "–", "–"
    first = panel.asked.star_ids[0]
    found = next((item.g_mag for item in panel.asked.placements if item.star_id == first), None)
    return first, "–" if found is None else f"{found:.2f}"


def _line(panel: Panel) -> str:
    star, magnitude = _star(panel)
    on = f", {w.star(star)} (G{w.NBSP}{magnitude})" if panel.asked.usable else ""
    return (
        f"{sentences.panel_name(panel)}: {w.right_ascension(panel.ra_deg)}, {w.declination(panel.dec_deg)}: "
        f"{sentences.verdict(panel)}{on}"
    )
