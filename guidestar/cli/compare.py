"""`guidestar compare`: which prism, focal length or guide camera serves better."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import click

from guidestar.cli import terminal
from guidestar.cli.sky_options import declinations, progress_shown, sky_options
from guidestar.errors import ExitStatus


@click.command("compare", short_help="Which prism, focal length or guide camera serves better?")
@click.argument("rigs", nargs=-1, metavar="RIG...")
@click.option(
    "--vary", multiple=True, metavar="KEY=V1,V2,…",
    help="Try these numbers for a key of the rig file, such as prism.width_mm=8,10,12; repeat it for a grid.",
)  # fmt: skip
@click.option("--out", metavar="DIR", help="Folder for figure, tables and map of differences; made if it is missing.")
@sky_options(32, "the rigs'", "a table of targets and rigs")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.compare/1).")
def command(rigs: tuple[str, ...], out: str | None, bounds: str | None, as_json: bool, **options: Any) -> int:
    """Set rigs side by side over the whole sky: which finds a guide star more often, and where.

    RIG is a rig file, or the name of a preset ('guidestar rig new --list'). Name two or more, or one with --vary,
    which tries other numbers without writing files. The first rig is what the others are measured against.
    """
    from guidestar.api.compare import compare
    from guidestar.maps.files import output_folder

    limits = None if bounds is None else declinations(bounds)
    with ExitStack() as stack:
        if out is not None:
            stack.enter_context(output_folder(Path(out)))
        with progress_shown(as_json, "the sky, for each rig") as progress:
            answer = compare(rigs, bounds=limits, progress=progress, **options)
        if out is not None:
            answer.save(out)
    if as_json:
        terminal.say_json(answer.to_json())
    else:
        shown = None if out is None else str(Path(out))
        click.echo(answer.to_text(folder=shown, width=terminal.width(), colour=sys.stdout.isatty()), nl=False)
    return ExitStatus.ANSWERED
