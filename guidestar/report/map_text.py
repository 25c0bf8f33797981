"""A sky map as text for a person: the answer, the table by latitude, the person's own targets, the files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from guidestar.maps.bands import Band
from guidestar.maps.result import SkyMap
from guidestar.maps.summary import Summary
from guidestar.maps.targets import TargetHere
from guidestar.report import map_sentences as sentences
from guidestar.report import wording as w
from guidestar.report.sheet import Sheet, new_sheet

FILES: Final = {
    "coverage.fits": "every target's figures, a HEALPix table (NESTED, ICRS)",
    "coverage.png": "the sky on one page",
    "latitudes.csv": "the figures by distance from the Milky Way",
    "sparse.moc.fits": "the sparse fields as a MOC",
    "summary.json": "what stands here, for scripts",
}
"""What `map` writes, in order."""


def render_map(
    sky: SkyMap,
    summary: Summary,
    targets: Sequence[TargetHere],
    notes: Sequence[str] = (),
    *,
    folder: str | None = None,
    width: int | None = None,
    colour: bool = False,
) -> str:
    """Write the whole report.

    Parameters
    ----------
    sky, summary, targets
        What `guidestar.api.maps.sky_map` finds out.
    notes : sequence of str
        What to know before trusting it.
    folder : str, optional
        Where the files are, if they have been written.
    width : int, optional
        Characters a line; default: the terminal's width, or 80 where there is none.
    colour : bool
        Mark headings with terminal codes.

    Returns
    -------
    str
        Lines that end in a newline; no line is longer than `width`, unless a single word is.
    """
    sheet = new_sheet(width, colour)
    sheet.title(sky.sweep.rig.name)
    sheet.prose([sentences.made_from(sky)])
    for note in (*sky.sweep.rig.warnings, *notes):
        sheet.prose([f"WARNING  {w.sentence(note)}"], hang="  ")
    for paragraph in (sentences.answer(sky, summary), sentences.expected(sky, summary), sentences.no_data(summary)):
        if paragraph:
            sheet.gap()
            sheet.prose([paragraph], hang="  ")
    _bands(sheet, summary)
    if targets:
        _targets(sheet, targets)
    if folder is not None:
        sheet.gap()
        write_files(sheet, folder, FILES)
    return sheet.finished()


def write_files(sheet: Sheet, folder: str, files: Mapping[str, str]) -> None:
    """Say which files have been written and what they hold."""
    sheet.prose([f"Files in {folder}:"])
    longest = max(map(len, files))
    sheet.prose([f"{name:<{longest}}  {what}" for name, what in files.items()], indent="  ", hang=" " * (longest + 2))


def _bands(sheet: Sheet, summary: Summary) -> None:
    headings = ("|b|", "usable", "sure", "flip-safe", "median", "worst 5 %", "sparse", "no angle", "expected")
    rows = [_band(band) for band in summary.bands] + [("all", *_band(summary.whole)[1:])]
    sheet.gap()
    if not sheet.table(headings, rows, frozenset({0})):
        for row in rows:
            cells = ", ".join(f"{heading} {cell}" for heading, cell in zip(headings[1:], row[1:], strict=True))
            sheet.prose([f"|b| {row[0]}: {cells}"], hang="  ")
    sheet.prose([sentences.bands_note(summary)])


def _band(band: Band) -> tuple[str, ...]:
    values = (band.usable.mean, band.sure.mean, band.flip_safe.mean, band.usable.median, band.usable.low)
    more = (band.usable.below, band.no_angle, band.expected.mean)
    return (f"{band.from_deg:.0f}°–{band.to_deg:.0f}°", *(sentences.cell(value) for value in (*values, *more)))


def _targets(sheet: Sheet, targets: Sequence[TargetHere]) -> None:
    headings = ("row", "target", "b", "usable", "sure", "flip-safe", "best", "expected")
    rows = [_target(row) for row in targets]
    sheet.gap()
    sheet.table_or_lines(headings, rows, frozenset({1}), between="; ")
    bad = [row for row in targets if row.error is not None]
    if bad:
        sheet.gap()
    sheet.prose([f"Row {row.number}, “{row.text}”: {row.error}" for row in bad], hang="  ")
    sheet.prose(
        [
            "usable, sure, flip-safe: share of all camera angles by confirmed stars. best: the best sure angle, or the "
            "best of all where none is sure (marked ?). expected: as usable, with estimated fainter stars besides."
        ]
    )


def _target(row: TargetHere) -> tuple[str, ...]:
    if row.target is None or row.at is None:
        return (str(row.number), row.text, "error", *("–",) * 5)
    at, best = row.at, row.best
    latitude = f"{row.target.b_deg:+.0f}°".replace("-", "−")
    usable = "no data" if at.usable_fraction is None else w.share(at.usable_fraction)
    shares = (usable, sentences.cell(at.sure_fraction), sentences.cell(at.flip_safe_fraction))
    angle = "–" if best is None else w.angle(best.angle_deg) + ("" if best.sure else "?")
    return (str(row.number), row.target.name, latitude, *shares, angle, sentences.cell(at.expected_fraction))
