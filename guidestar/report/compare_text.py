"""A comparison of rigs as text for a person."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from guidestar.maps.compare import Compared, Comparison, difference, means
from guidestar.maps.targets import At, Wished
from guidestar.report import compare_sentences as sentences
from guidestar.report import wording as w
from guidestar.report.map_sentences import cell
from guidestar.report.map_text import write_files
from guidestar.report.sheet import Sheet, new_sheet

FILES: Final = {
    "compare.png": "the comparison on one page",
    "compare.csv": "the table",
    "differences.fits": "usable share of each rig minus the first one's, a HEALPix table",
    "compare.json": "what stands here, for scripts",
}
"""What `compare` writes, in order."""

_MOST_COLUMNS: Final = 6
"""Rigs side by side in the table of targets; more are written below each other."""


def render_compare(
    found: Comparison,
    notes: Sequence[str] = (),
    *,
    folder: str | None = None,
    width: int | None = None,
    colour: bool = False,
) -> str:
    """Write the whole report; parameters as for `guidestar.report.map_text.render_map`."""
    sheet = new_sheet(width, colour)
    sheet.title(_title(found))
    varied = f"Varied: {w.joined([item.key for item in found.varied])}. " if found.varied else ""
    sheet.prose([varied + sentences.conditions(found)])
    for note in (*sentences.cautions(found), *(f"NOTE  {note}" for note in notes)):
        sheet.prose([note], hang="  ")
    _names(sheet, found)
    for line in sentences.verdict(found):
        sheet.gap()
        sheet.prose([line], hang="  ")
    _figures(sheet, found)
    _bands(sheet, found)
    if found.rows:
        _targets(sheet, found)
    if folder is not None:
        sheet.gap()
        write_files(sheet, folder, FILES)
    return sheet.finished()


def _title(found: Comparison) -> str:
    bases = list(dict.fromkeys(rig.variant.base for rig in found.rigs))
    if len(bases) > 1:
        return f"{w.counted(len(found.rigs), 'rig')} side by side"
    return bases[0]


def _names(sheet: Sheet, found: Comparison) -> None:
    """List the rigs' names; variants of one rig have their values in the table instead."""
    bases = list(dict.fromkeys(rig.variant.base for rig in found.rigs))
    if len(bases) == 1:
        return
    sheet.gap()
    longest = len(str(len(found.rigs)))
    lines = [f"{at:>{longest}}  {rig.rig.name}" for at, rig in enumerate(found.rigs, start=1)]
    sheet.prose(lines, indent="  ", hang=" " * (longest + 2))


def _labels(found: Comparison) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return the columns that tell the rigs apart: their number, and the varied keys."""
    keys = tuple(item.key.partition(".")[2] or item.key for item in found.varied)
    cells = [
        (str(at), *(sentences.value_of(item.key, v) for item, v in zip(found.varied, rig.variant.values, strict=True)))
        for at, rig in enumerate(found.rigs, start=1)
    ]
    return ("rig", *keys), cells


def _figures(sheet: Sheet, found: Comparison) -> None:
    heads, labels = _labels(found)
    headings = (*heads, "usable", "sure", "flip-safe", "no angle", "sparse", "expected", "reach", "lit", "")
    rows = [(*label, *figures_of(rig)) for label, rig in zip(labels, found.rigs, strict=True)]
    sheet.gap()
    sheet.table_or_lines(headings, rows)
    sheet.prose([sentences.table_note(found)])


def figures_of(rig: Compared) -> tuple[str, ...]:
    """Return a rig's cells of the first table."""
    whole = rig.summary.whole
    shares = (whole.usable.mean, whole.sure.mean, whole.flip_safe.mean, whole.no_angle, whole.usable.below)
    lit = "–" if rig.lit_share is None else w.percent(rig.lit_share)
    reach = f"G{w.NBSP}{rig.reach_mag:.2f}"
    return (*(cell(value) for value in (*shares, whole.expected.mean)), reach, lit, "!" if rig.shadows else "")


def _bands(sheet: Sheet, found: Comparison) -> None:
    _band_table(sheet, found, [means(rig) for rig in found.rigs], ("all", "sure"))
    sheet.prose([sentences.BANDS_NOTE])
    if any(rig.reach_mag > rig.sky.sweep.stars.complete_to_mag for rig in found.rigs):
        _band_table(sheet, found, [_expected(rig) for rig in found.rigs], ("all",))
        sheet.prose([sentences.EXPECTED_NOTE])


def _expected(rig: Compared) -> tuple[float | None, ...]:
    return tuple(band.expected.mean for band in (*rig.summary.bands, rig.summary.whole))


def _band_table(
    sheet: Sheet, found: Comparison, values: Sequence[Sequence[float | None]], last: tuple[str, ...]
) -> None:
    """Print a line a rig, by band, and below what each has more than the first one."""
    heads, labels = _labels(found)
    bands = found.rigs[0].summary.bands
    headings = (*heads, *(f"{band.from_deg:.0f}°–{band.to_deg:.0f}°" for band in bands), *last)
    rows = [(*label, *map(cell, row)) for label, row in zip(labels, values, strict=True)]
    changes = [
        (*label, *(sentences.points(difference(now, first)) for now, first in zip(row, values[0], strict=True)))
        for label, row in zip(labels[1:], values[1:], strict=True)
    ]
    sheet.gap()
    sheet.table_or_lines(headings, [*rows, ("",) * len(headings), *changes])


def _targets(sheet: Sheet, found: Comparison) -> None:
    columns = [f"rig {at}" for at in range(1, len(found.rigs) + 1)]
    rows = [
        (str(row.number), _name(row), *(_both(rig.at[at]) for rig in found.rigs)) for at, row in enumerate(found.rows)
    ]
    sheet.gap()
    sheet.table_or_lines(("row", "target", *columns), rows, frozenset({1}))
    bad = [row for row in found.rows if row.error is not None]
    sheet.prose([f"Row {row.number}, “{row.text}”: {row.error}" for row in bad], hang="  ")
    sheet.prose([sentences.TARGETS_NOTE])


def _name(row: Wished) -> str:
    return row.text if row.place is None else row.place.name


def _both(at: At | None) -> str:
    if at is None:
        return "error"
    if at.usable_fraction is None:
        return "no data"
    return f"{cell(at.usable_fraction)} / {cell(at.sure_fraction)}"
