"""`guidestar check`: can I guide on this target, at which camera angles, on which star."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from guidestar.cli import options as shared
from guidestar.cli import terminal
from guidestar.cli.check_panels import mosaic_options, show_mosaic
from guidestar.errors import ExitStatus, InputError

if TYPE_CHECKING:
    from guidestar.api.check import Answer
    from guidestar.report.text import TargetRow
    from guidestar.rig import Rig
    from guidestar.sky.targetlist import TargetRow as ListedTarget


@click.command("check", short_help="Which camera angles find a guide star for a target?")
@click.argument("target", nargs=-1)
@shared.rig_file
@shared.target_list
@click.option("--angle", type=float, metavar="DEG", help="Judge this camera angle, and its twin half a turn away.")
@click.option("--tolerance", type=float, metavar="DEG", help="How far --angle may be off either way  [the rig's]")
@click.option("--any-side", is_flag=True, help="With --angle: try the prism at all four sides of the frame.")
@shared.faintest_mag
@click.option(
    "--exposure", metavar="SECONDS|auto", help="Guide exposure, instead of the rig's; auto: the shortest that will do."
)
@shared.airmass
@shared.sky
@shared.min_stars
@click.option("--epoch", metavar="DATE", help="Date of the star positions: 2026-11-25 or 2026.9  [today]")
@shared.equinox
@shared.online_names
@shared.star_data
@shared.store
@click.option("--nudge", type=float, metavar="ARCMIN", help="Find the smallest shift of the target that brings a star.")
@click.option("--nudge-percent", type=float, metavar="PERCENT", help="The same, of the picture's shorter side.")
@click.option("--turn-cost", type=float, metavar="PERCENT", help="What a degree of turn costs beside a shift  [1]")
@click.option("--panels", metavar="COLSxROWS", help="A mosaic about TARGET: which camera angles serve every panel?")
@click.option("--overlap", type=float, metavar="PERCENT", help="With --panels: what neighbours share  [10]")
@click.option("--grid-angle", type=float, metavar="DEG", help="With --panels: a grid that stays put at this angle.")
@click.option("--figure", metavar="FILE", help="Draw the answer: .png, .svg or .pdf.")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.check/1; a line each with --targets).")
def command(target: tuple[str, ...], rig_path: str, targets: str | None, figure: str | None, **options: Any) -> int:
    """Find the camera angles at which the prism shows the guide camera a star.

    TARGET is a catalogue name ("NGC 7331", M31) or "RA DEC": two plain decimals are degrees, sexagesimal RA is
    hours ("22 37 04.1 +34 24 56").
    """
    from guidestar.rig import read_rig

    if bool(target) == bool(targets):
        raise InputError('Give either one TARGET, such as "NGC 7331" or "339.27 34.42", or --targets FILE.')
    if targets and figure:
        raise InputError("--figure draws one target: leave out --targets or --figure.")
    as_json = options.pop("as_json")
    options["exposure"] = _exposure(options["exposure"])
    rig = read_rig(rig_path)
    mosaic = mosaic_options(options, bool(targets))
    if targets:
        return _check_list(targets, rig, as_json, options)
    if mosaic is not None:
        return show_mosaic(" ".join(target), rig, figure, as_json, mosaic)
    return _check_one(" ".join(target), rig, figure, as_json, options)


def _exposure(text: str | None) -> float | str | None:
    """Read --exposure: seconds, or the word auto."""
    if text is None or text.strip().lower() == "auto":
        return None if text is None else "auto"
    try:
        return float(text)
    except ValueError as error:
        raise InputError(f'--exposure "{text}": give seconds, such as 2, or the word auto.') from error


def _ask(target: str, rig: Rig, options: dict[str, Any]) -> Answer:
    from guidestar import check

    return check(target, rig, **options)


def _check_one(target: str, rig: Rig, figure: str | None, as_json: bool, options: dict[str, Any]) -> int:
    answer = _ask(target, rig, options)
    if as_json:
        terminal.say_json(answer.to_json())
    else:
        from guidestar.report.text import render

        click.echo(render(answer, width=terminal.width(), colour=sys.stdout.isatty(), nudge=answer.nudge))
    if figure:
        # Last, so that the answer stands even where the picture cannot be written.
        from guidestar.report.figures import save

        save(answer, Path(figure), nudge=answer.nudge)
        if not as_json:
            click.echo(f"Picture: {figure}")
    return ExitStatus.ANSWERED


def _check_list(path: str, rig: Rig, as_json: bool, options: dict[str, Any]) -> int:
    """Answer row by row; as JSON each row at once, but bad rows only after the first good one."""
    from guidestar.report.json_output import error_row
    from guidestar.report.text import TargetRow, render_rows
    from guidestar.sky.targetlist import read_targets

    rows: list[TargetRow] = []
    waiting: list[dict[str, object]] = []
    for row in read_targets(path):
        answer = _row_answer(row, rig, options)
        rows.append(TargetRow(row.number, row.text, answer))
        if as_json:
            waiting.append(error_row(row.number, answer) if isinstance(answer, str) else answer.to_json())
            if any(not isinstance(item.answer, str) for item in rows):
                for line in waiting:
                    terminal.say_json(line)
                waiting.clear()
    bad = [item for item in rows if isinstance(item.answer, str)]
    if len(bad) == len(rows):
        raise InputError(_no_row(path, bad))
    if not as_json:
        click.echo(render_rows(rows, width=terminal.width(), colour=sys.stdout.isatty()))
    elif bad:
        terminal.say_json(error_row(None, f"{len(bad)} of {len(rows)} rows cannot be used."))
    return ExitStatus.ANSWERED


def _row_answer(row: ListedTarget, rig: Rig, options: dict[str, Any]) -> Answer | str:
    """Return a row's answer under its own name, or the sentence that says why it has none."""
    try:
        answer = _ask(row.require_text(), rig, options)
    except InputError as error:
        return str(error)
    return replace(answer, target=replace(answer.target, name=row.label)) if row.label else answer


def _no_row(path: str, bad: Sequence[TargetRow]) -> str:
    """Say that nothing in a list can be used, and why the first row cannot."""
    from guidestar.report.text import short

    first, asked = bad[0], short(bad[0].asked)
    if len(bad) == 1:
        return f"The only row of “{path}” cannot be used; row {first.number}, “{asked}”: {first.answer}"
    return f"None of the {len(bad)} rows of “{path}” can be used; row {first.number}, “{asked}”: {first.answer}"
