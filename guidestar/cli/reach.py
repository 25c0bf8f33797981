"""`guidestar reach`: how faint does the guide camera go, across its field."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from guidestar.cli import options as shared
from guidestar.cli import terminal
from guidestar.errors import ExitStatus

if TYPE_CHECKING:
    from guidestar.api.reach import ReachAnswer


@click.command("reach", short_help="How faint does the guide camera go, across its field?")
@shared.rig_file
@click.option(
    "--at", metavar="X,Y", help="One place instead of nine: mm along the frame's edge, mm outward from the axis."
)
@shared.exposure
@shared.airmass
@shared.sky
@click.option(
    "--guide-scope", metavar="FOCAL,APERTURE", help="Compare with a separate guide scope, mm, such as 240,60."
)
@click.option("--main-exposure", type=float, metavar="SECONDS", help="With --guide-scope: one main exposure  [300]")
@click.option("--figure", metavar="FILE", help="Draw light and reach across the field: .png, .svg or .pdf.")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.reach/1).")
def command(
    rig_path: str,
    at: str | None,
    exposure: float | None,
    airmass: float | None,
    sky: float | None,
    guide_scope: str | None,
    main_exposure: float | None,
    figure: str | None,
    as_json: bool,
) -> int:
    """Tell how faint the guide camera goes across its field, what holds it back, and what would help.

    The light of a star is reckoned through telescope, prism and guide camera. With --guide-scope the same camera
    behind a small separate telescope is set beside it.
    """
    from guidestar.api.reach import reach

    answer = reach(
        rig_path,
        at=None if at is None else shared.two_numbers("--at", at, "two numbers in mm", "-1.5,16"),
        exposure=exposure,
        airmass=airmass,
        sky=sky,
        guide_scope=None
        if guide_scope is None
        else shared.two_numbers("--guide-scope", guide_scope, "two numbers in mm", "240,60"),
        main_exposure=main_exposure,
    )
    _print(answer, as_json)
    if figure:
        # Last, so that the answer stands even where the picture cannot be written.
        from guidestar.report.reach_figure import save_reach

        save_reach(answer, Path(figure))
        if not as_json:
            click.echo(f"Picture: {figure}")
    return ExitStatus.ANSWERED


def _print(answer: ReachAnswer, as_json: bool) -> None:
    if as_json:
        terminal.say_json(answer.to_json())
        return
    click.echo(answer.to_text(width=terminal.width(), colour=sys.stdout.isatty()), nl=False)
