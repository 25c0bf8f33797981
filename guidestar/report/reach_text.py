"""The answer to `reach` as text for a person."""

from __future__ import annotations

from collections.abc import Sequence

from guidestar.field.reach import ReachResult
from guidestar.field.reach_points import PointReach, SpotReach
from guidestar.field.remedies import Remedy
from guidestar.report import reach_sentences as sentences
from guidestar.report import wording as w
from guidestar.report.sheet import Sheet, new_sheet


def render_reach(result: ReachResult, *, width: int | None = None, colour: bool = False) -> str:
    """Write the whole report.

    Parameters
    ----------
    result : ReachResult
    width : int, optional
        Characters a line; default: the terminal's width, or 80 where there is none.
    colour : bool
        Mark headings and answers with terminal codes.

    Returns
    -------
    str
        Lines that end in a newline; no line is longer than `width`, unless a single word is.
    """
    sheet = new_sheet(width, colour)
    sheet.title(result.rig.name)
    sheet.prose([sentences.conditions(result)])
    for paragraph in (*sentences.warnings(result), *sentences.fixed_limit(result)):
        sheet.prose([paragraph], hang="  ")
    _section(sheet, sentences.answer(result))
    _section(sheet, sentences.limits(result))
    _places(sheet, result)
    _section(sheet, sentences.lit(result))
    _exposures(sheet, result)
    _stars(sheet, result)
    _section(sheet, sentences.air(result))
    _remedies(sheet, result)
    return sheet.finished()


def _section(sheet: Sheet, paragraph: str) -> None:
    sheet.gap()
    sheet.prose([paragraph], hang="  ")


def _table(sheet: Sheet, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table whose first column is words, or lines where it does not fit."""
    if sheet.table([f"  {headings[0]}", *headings[1:]], [[f"  {row[0]}", *row[1:]] for row in rows], frozenset({0})):
        return
    lines = [
        f"{row[0]}: " + ", ".join(f"{heading} {cell}" for heading, cell in zip(headings[1:], row[1:], strict=True))
        for row in rows
    ]
    sheet.prose(lines, indent="  ", hang="  ")


def _places(sheet: Sheet, result: ReachResult) -> None:
    headings = ("place", "x", "y", "light", "reach", "lost", "fails first")
    _table(sheet, headings, [_place(point) for point in result.points])
    sheet.prose([sentences.places_note(result)], indent="  ")


def _place(point: PointReach) -> tuple[str, ...]:
    return (
        {"centre": "centre", "edge": "edge", "corner": "corner", "given": "here"}[point.spot],
        w.unit(w.signed(point.x_mm, 2), "mm"),
        w.unit(w.signed(point.y_mm, 2), "mm"),
        w.percent(point.throughput),
        sentences.reach_of(point.faintest_mag),
        "–" if point.lost_mag is None else f"{point.lost_mag:.2f}",
        sentences.WISHES[point.limited_by],
    )


def _exposures(sheet: Sheet, result: ReachResult) -> None:
    here = [] if result.given is None else ["here"]
    headings = ("exposure", *here, "centre", "half of it", "worst edge", "worst corner")
    rows = [_exposure(row, given=result.given is not None) for row in result.exposures]
    _section(sheet, sentences.exposures_heading(result))
    _table(sheet, headings, rows)


def _exposure(row: SpotReach, *, given: bool) -> tuple[str, ...]:
    values = (*([row.given] if given else []), row.centre, row.half, row.edge, row.corner)
    return (w.exposure(row.exposure_s), *(sentences.reach_of(value) for value in values))


def _stars(sheet: Sheet, result: ReachResult) -> None:
    _section(sheet, sentences.star_heading(result))
    rows = [
        (
            w.magnitude(star.g_mag).replace(".00", ""),
            f"{star.snr:.0f}",
            "–" if star.centroid_arcsec is None else w.arcsec(star.centroid_arcsec),
            "–" if star.centroid_main_px is None else w.small(star.centroid_main_px),
        )
        for star in (result.given or result.centre).stars
    ]
    _table(sheet, ("star", "SNR", "error", "main pixels"), rows)
    sheet.prose(sentences.star_notes(result), indent="  ")


def _remedies(sheet: Sheet, result: ReachResult) -> None:
    helping = [remedy for remedy in result.remedies if sentences.helps(remedy)]
    _section(sheet, sentences.remedies_heading(helping))
    if helping:
        _table(sheet, ("change", "half the field", "centre", "worst corner"), [_remedy(remedy) for remedy in helping])
    sheet.prose(sentences.remedy_notes(result, helping), indent="  ", hang="  ")


def _remedy(remedy: Remedy) -> tuple[str, ...]:
    gains = (remedy.gain_mag, remedy.gain_centre_mag, remedy.gain_corner_mag)
    return (sentences.change(remedy), *("–" if gain is None else w.signed(gain, 2) for gain in gains))
