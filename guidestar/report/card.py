"""The card to take outside: one page a target, printed or on a phone (`guidestar.report.card_page` lays it out)."""

from __future__ import annotations

import io
import os
import re
import unicodedata
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from guidestar.errors import InputError
from guidestar.night.result import NightResult
from guidestar.report.card_page import PAPERS_PT, Contents, paper_card, phone_card
from guidestar.report.card_sheet import style
from guidestar.report.writing import write_whole
from guidestar.train.result import TrainResult

_PHONE_DPI: Final = 243
"""Makes a phone's card 1080 pixels wide."""


def save_cards(
    results: NightResult | Sequence[NightResult],
    path: str | os.PathLike[str],
    *,
    trains: Sequence[TrainResult | None] | None = None,
    paper: str = "a4",
) -> tuple[Path, ...]:
    """Draw a card for each target and write them, each file whole or not at all.

    Parameters
    ----------
    results : NightResult, or several
    path : path-like
        .pdf: all targets in one file, a page each. .png: one tall narrow picture a target for a phone; of more than one
        the name of each target is put behind the file's own.
    trains : sequence of TrainResult or None, optional
        The imaging train of each result's rig, None where the rig has no [train]; by default of none.
    paper : "a4" or "letter"
        Of the pdf.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    InputError
        For another suffix or paper, where there is no target, or where a file cannot be written; a file that stood
        there stays as it was.
    """
    file = Path(path)
    suffix = suffix_of(file)
    size = _paper_of(paper)
    several = [results] if isinstance(results, NightResult) else list(results)
    everything = _contents(several, trains or [None] * len(several))
    if not everything:
        raise InputError(f"There is nothing to put on the card “{file}”: no target could be planned.")
    if suffix == "pdf":
        write_whole(file, _pdf(everything, size), "card")
        return (file,)
    many = len(everything) > 1 or any(result.is_list for result in several)
    paths = list(_names(file, [one.night.target.name for one in everything])) if many else [file]
    pictures = [_png(one) for one in everything]
    for one, picture in zip(paths, pictures, strict=True):
        write_whole(one, picture, "card")
    return tuple(paths)


def suffix_of(path: Path) -> str:
    """Return "pdf" or "png" from a card's file name; `InputError` for any other."""
    suffix = path.suffix.lower().removeprefix(".")
    if suffix not in ("pdf", "png"):
        found = f"“.{suffix}”" if suffix else "no suffix"
        raise InputError(
            f"A card's file name must end in .pdf (to print) or .png (for a phone); “{path}” has {found}: try "
            f"“{path.stem or 'card'}.pdf”."
        )
    return suffix


def _paper_of(paper: str) -> str:
    size = paper.strip().lower()
    if size not in PAPERS_PT:
        raise InputError(f"The paper “{paper}” is not known: choose a4 or letter.")
    return size


def _contents(results: Sequence[NightResult], trains: Sequence[TrainResult | None]) -> list[Contents]:
    return [
        Contents(result, night, train)
        for result, train in zip(results, trains, strict=True)
        for night in result.targets
    ]


def _pdf(everything: Sequence[Contents], size: str) -> bytes:
    """Return a document with a page a target; no date, so that the same result gives the same bytes."""
    from matplotlib.backends.backend_pdf import PdfPages

    written = io.BytesIO()
    with (
        style(),
        PdfPages(written, metadata={"CreationDate": None, "Title": _title(everything)}) as pages,
    ):
        for one in everything:
            pages.savefig(paper_card(one, size))
    return written.getvalue()


def _title(everything: Sequence[Contents]) -> str:
    return f"Guiding card, {everything[0].result.dark.evening.isoformat()}"


def _png(contents: Contents) -> bytes:
    written = io.BytesIO()
    with style():
        phone_card(contents).savefig(written, format="png", dpi=_PHONE_DPI)
    return written.getvalue()


def _names(path: Path, targets: Sequence[str]) -> Iterator[Path]:
    """Yield a file name for each target: its letters and digits behind the file's own name, none twice."""
    taken: set[str] = set()
    for target in targets:
        plain = unicodedata.normalize("NFKD", target).encode("ascii", "ignore").decode()
        slug = re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60] or "target"
        name, number = slug, 2
        while name in taken:
            name, number = f"{slug}-{number}", number + 1
        taken.add(name)
        yield path.with_name(f"{path.stem}-{name}{path.suffix}")
