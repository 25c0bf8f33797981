"""`guidestar train`: what spacers, both cameras in focus, how deep the prism, and its shadow."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from guidestar.cli import terminal
from guidestar.errors import ExitStatus

if TYPE_CHECKING:
    from guidestar.rig import Rig


@click.command("train", short_help="What spacers, how deep the prism, does it shadow the sensor?")
@click.option("--rig", "rig_path", metavar="FILE", required=True, help="The rig file (TOML) with its [train] section.")
@click.option("--order", metavar="NAMES", help='Try the parts in this order: "pick-off body, spacer, filter drawer".')
@click.option(
    "--ray-exact", is_flag=True, help="Glass shifts for the beam's outermost ray, not for rays near the axis."
)
@click.option("--allow-shadow", type=float, metavar="PERCENT", help="Loss of light that you accept anywhere  [0]")
@click.option("--clear-share", type=float, metavar="PERCENT", help="How much of the picture that holds for  [100]")
@click.option("--checklist", is_flag=True, help="Print the order of building with this rig's numbers instead.")
@click.option("--figure", metavar="FILE", help="Draw it: .png, .svg or .pdf.")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.train/1).")
def command(rig_path: str, figure: str | None, as_json: bool, **options: Any) -> int:
    """Work out the imaging train: spacers, both cameras in focus at once, the prism's depth and its shadow.

    Never try optics with the telescope at or near the Sun.
    """
    from guidestar.rig import read_rig

    return _train(read_rig(rig_path), figure, as_json, options)


def _train(rig: Rig, figure: str | None, as_json: bool, options: dict[str, Any]) -> int:
    from guidestar.report.train_json import train_to_json
    from guidestar.report.train_text import render_checklist, render_train
    from guidestar.train.build import train

    loss, share = options["allow_shadow"], options["clear_share"]
    result = train(
        rig,
        ray_exact=options["ray_exact"],
        order=options["order"],
        allowed_loss=0.0 if loss is None else loss / 100.0,
        clear_share=1.0 if share is None else share / 100.0,
    )
    if as_json:
        _echo_json(train_to_json(result, with_checklist=options["checklist"]))
    else:
        render = render_checklist if options["checklist"] else render_train
        click.echo(render(result, width=terminal.width(), colour=sys.stdout.isatty()), nl=False)
    if figure:
        from guidestar.report.train_figure import save_train

        save_train(result, Path(figure))
        _say_figure(figure, as_json)
    return ExitStatus.ANSWERED


def _echo_json(values: dict[str, Any]) -> None:
    click.echo(json.dumps(values, ensure_ascii=False, allow_nan=False))


def _say_figure(figure: str, as_json: bool) -> None:
    if not as_json:
        click.echo(f"Picture: {figure}")
