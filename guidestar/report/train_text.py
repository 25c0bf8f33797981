"""The report of `train` as text for a person."""

from __future__ import annotations

from guidestar.report import train_sentences as say
from guidestar.report import wording as w
from guidestar.report.sheet import Sheet, new_sheet
from guidestar.report.train_checklist import SAFETY, checklist
from guidestar.train.result import Piece, TrainResult


def render_train(result: TrainResult, *, width: int | None = None, colour: bool = False) -> str:
    """Write the whole report; parameters as `guidestar.report.text.render`."""
    sheet = new_sheet(width, colour)
    sheet.title("The imaging train")
    sheet.prose([f"{result.rig.name}."])
    if result.warnings:
        sheet.prose(["To be settled first, since what follows rests on it:"])
        sheet.prose([f"- {w.sentence(text)}" for text in result.warnings], indent="  ", hang="  ")
    problems = say.problems(result)
    if problems:
        sheet.prose(["To be mended:"])
        sheet.prose([f"- {sentence}" for sentence in problems], indent="  ", hang="  ")
    elif not result.warnings:
        sheet.prose(["Nothing has to be mended."])
    _spacing(sheet, result)
    _focus(sheet, result)
    _depth(sheet, result)
    return sheet.finished()


def render_checklist(result: TrainResult, *, width: int | None = None, colour: bool = False) -> str:
    """Write the order of building, with this rig's numbers, and the safety lines."""
    sheet = new_sheet(width, colour)
    sheet.title("Building the train")
    sheet.prose([f"{result.rig.name}."])
    sheet.gap()
    for number, step in enumerate(checklist(result), start=1):
        sheet.prose([f"{number}. {step}"], hang="   ")
    sheet.gap()
    sheet.title("Safety")
    sheet.prose([f"- {line}" for line in SAFETY], hang="  ")
    return sheet.finished()


def _spacing(sheet: Sheet, result: TrainResult) -> None:
    sheet.gap()
    sheet.title("Spacing")
    sheet.prose([" ".join(say.spacing_answer(result))])
    rows = [_piece_cells(piece) for piece in result.spacing.pieces]
    if not sheet.table(("  piece, telescope side first", "from", "length", "to", "holds"), rows, frozenset({0, 4})):
        sheet.prose(
            [f"{name.strip()}: {length}, {start} to {end}" for name, start, length, end, _ in rows], indent="  "
        )
    sheet.prose(["from and to: mm behind the corrector's flange."], indent="  ")
    sheet.prose(say.filter_answer(result))


def _piece_cells(piece: Piece) -> tuple[str, ...]:
    held = [
        f"{what} at {w.plain(at, 2)}"
        for what, at in (("prism", piece.prism_at_mm), ("filter", piece.filter_at_mm))
        if at is not None
    ]
    end = piece.start_mm + piece.length_mm
    return (f"  {piece.name}", *(f"{value:.2f}" for value in (piece.start_mm, piece.length_mm, end)), ", ".join(held))


def _focus(sheet: Sheet, result: TrainResult) -> None:
    sheet.gap()
    sheet.title("Both cameras in focus")
    sheet.prose([" ".join(say.focus_answer(result))])
    sheet.prose([say.ORDER_OF_FOCUSING])


def _depth(sheet: Sheet, result: TrainResult) -> None:
    sheet.gap()
    sheet.title("Depth of the prism")
    sheet.prose([" ".join(say.depth_answer(result))])
    sheet.prose([f"- {say.remedy(result, item)}" for item in result.window.remedies], indent="  ", hang="  ")
    sheet.prose([say.shadow_answer(result)])
