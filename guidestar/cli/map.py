"""`guidestar map`: where in the sky is this rig short of stars."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import click

from guidestar.cli import terminal
from guidestar.cli.sky_options import declinations, progress_shown, sky_options
from guidestar.errors import ExitStatus


@click.command("map", short_help="Where in the sky is this rig short of guide stars?")
@click.option("--rig", "rig_path", metavar="FILE", required=True, help="The rig file (TOML); see 'guidestar rig new'.")
@click.option("--out", metavar="DIR", help="Folder for the map's files; made if it is missing.")
@sky_options(64, "the rig's", "marked on the map and listed")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.map/1).")
def command(rig_path: str, out: str | None, bounds: str | None, as_json: bool, **options: Any) -> int:
    """Take every part of the sky as a target, at every camera angle, and show where guide stars are scarce.

    With --out it writes coverage.fits (HEALPix), coverage.png, latitudes.csv, sparse.moc.fits and summary.json.
    """
    from guidestar.api.maps import sky_map
    from guidestar.maps.files import output_folder

    limits = None if bounds is None else declinations(bounds)
    with ExitStack() as stack:
        if out is not None:
            stack.enter_context(output_folder(Path(out)))
        with progress_shown(as_json) as progress:
            answer = sky_map(rig_path, bounds=limits, progress=progress, **options)
        if out is not None:
            answer.save(out)
    if as_json:
        terminal.say_json(answer.to_json())
    else:
        shown = None if out is None else str(Path(out))
        text = answer.to_text(folder=shown, width=terminal.width(), colour=sys.stdout.isatty())
        click.echo(text, nl=False)
    return ExitStatus.ANSWERED
