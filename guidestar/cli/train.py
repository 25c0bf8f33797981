"""`guidestar train`: what spacers, both cameras in focus, how deep the prism, and its shadow; or a flat judged."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from guidestar.cli import terminal
from guidestar.errors import ExitStatus, InputError

if TYPE_CHECKING:
    from guidestar.rig import Rig

_TRAIN_ONLY = ("order", "ray_exact", "allow_shadow", "clear_share", "checklist")


@click.command("train", short_help="What spacers, how deep the prism, does it shadow the sensor?")
@click.option("--rig", "rig_path", metavar="FILE", help="The rig file (TOML) with its [train] section.")
@click.option("--order", metavar="NAMES", help='Try the parts in this order: "pick-off body, spacer, filter drawer".')
@click.option(
    "--ray-exact", is_flag=True, help="Glass shifts for the beam's outermost ray, not for rays near the axis."
)
@click.option("--allow-shadow", type=float, metavar="PERCENT", help="Loss of light that you accept anywhere  [0]")
@click.option("--clear-share", type=float, metavar="PERCENT", help="How much of the picture that holds for  [100]")
@click.option("--checklist", is_flag=True, help="Print the order of building with this rig's numbers instead.")
@click.option("--flat", metavar="FITS", help="Look for the prism's shadow in a flat frame instead (--rig optional).")
@click.option(
    "--first-row",
    type=click.Choice(["bottom", "top"]),
    help="With --flat: where the file's first row is displayed  [as its header says, else bottom]",
)
@click.option("--figure", metavar="FILE", help="Draw it: .png, .svg or .pdf.")
@click.option(
    "--json", "as_json", is_flag=True, help="Machine output (guidestar.train/1; guidestar.flat/1 with --flat)."
)
def command(
    rig_path: str | None,
    flat: str | None,
    first_row: Literal["bottom", "top"] | None,
    figure: str | None,
    as_json: bool,
    **options: Any,
) -> int:
    """Work out the imaging train: spacers, both cameras in focus at once, the prism's depth and its shadow.

    With --flat a flat frame of the main camera is searched for a one-sided shadow; with --rig too, the answer is how
    far to draw the prism out. Never take flats or try optics with the telescope at or near the Sun.

    A train that cannot be built as it is, parts too long or no spacers that reach it, is worked out all the same; the
    exit status is then 2. Whatever else is to be mended, such as a guide camera that cannot reach focus or a prism too
    far in, leaves it 0.
    """
    from guidestar.rig import read_rig

    _demand_one_question(rig_path, flat, first_row, options)
    rig = None if rig_path is None else read_rig(rig_path)
    if flat is not None:
        return _flat(flat, rig, first_row, figure, as_json)
    assert rig is not None
    return _train(rig, figure, as_json, options)


def _demand_one_question(
    rig_path: str | None, flat: str | None, first_row: str | None, options: dict[str, Any]
) -> None:
    given = [f"--{name.replace('_', '-')}" for name in _TRAIN_ONLY if options[name] not in (None, False)]
    if flat is not None and given:
        raise InputError(f"{given[0]} asks about the train, --flat about a frame: leave out one of them.")
    if flat is None and rig_path is None:
        raise InputError("train: give --rig FILE (see 'guidestar rig new'), or --flat FITS to look at a flat frame.")
    if flat is None and first_row is not None:
        raise InputError("--first-row says how a flat's rows lie: give the flat with --flat.")


def _train(rig: Rig, figure: str | None, as_json: bool, options: dict[str, Any]) -> int:
    from guidestar.api.train import build_train

    loss, share = options["allow_shadow"], options["clear_share"]
    answer = build_train(
        rig,
        ray_exact=options["ray_exact"],
        order=options["order"],
        allowed_loss=0.0 if loss is None else loss / 100.0,
        clear_share=1.0 if share is None else share / 100.0,
    )
    checklist = options["checklist"]
    if as_json:
        terminal.say_json(answer.to_json(with_checklist=checklist))
    else:
        text = answer.to_text(checklist=checklist, width=terminal.width(), colour=sys.stdout.isatty())
        click.echo(text, nl=False)
    if figure:
        # Last, so that the answer stands even where the picture cannot be written.
        from guidestar.report.train_figure import save_train

        save_train(answer, Path(figure))
        _say_figure(figure, as_json)
    if answer.cannot_be_built:
        raise InputError(f"{rig.name}: {answer.cannot_be_built}")
    return ExitStatus.ANSWERED


def _flat(
    path: str, rig: Rig | None, first_row: Literal["bottom", "top"] | None, figure: str | None, as_json: bool
) -> int:
    from guidestar.api.train import judge_flat

    answer = judge_flat(path, rig, first_row=first_row)
    if as_json:
        terminal.say_json(answer.to_json())
    else:
        click.echo(answer.to_text(width=terminal.width(), colour=sys.stdout.isatty()), nl=False)
    if figure:
        from guidestar.report.flat_report import save_flat

        save_flat(answer, Path(figure), answer.sensor)
        _say_figure(figure, as_json)
    return ExitStatus.ANSWERED


def _say_figure(figure: str, as_json: bool) -> None:
    if not as_json:
        click.echo(f"Picture: {figure}")
