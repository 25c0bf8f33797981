"""`guidestar map`: where in the sky is this rig short of stars."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import click

from guidestar.cli import terminal
from guidestar.errors import ExitStatus, InputError


@click.command("map", short_help="Where in the sky is this rig short of guide stars?")
@click.option("--rig", "rig_path", metavar="FILE", required=True, help="The rig file (TOML); see 'guidestar rig new'.")
@click.option("--out", metavar="DIR", help="Folder for the map's files; made if it is missing.")
@click.option("--nside", type=int, default=64, show_default=True, metavar="N", help="Resolution: 1, 2, 4, … 512.")
@click.option("--targets", metavar="FILE", help="A CSV list of names or coordinates: marked on the map and listed.")
@click.option("--bounds", metavar="MIN,MAX", help="Only declinations between these, degrees, such as -30,90.")
@click.option(
    "--sparse", type=float, default=0.25, show_default=True, metavar="SHARE",
    help="A field is sparse below this share of usable camera angles.",
)  # fmt: skip
@click.option("--faintest-mag", type=float, metavar="G", help="Count every star down to this G; no light is reckoned.")
@click.option("--exposure", type=float, metavar="SECONDS", help="Guide exposure, instead of the rig's.")
@click.option("--min-stars", type=int, metavar="N", help="How many stars are wanted at once, instead of the rig's.")
@click.option("--epoch", metavar="DATE", help="Date of the star positions: 2026-11-25 or 2026.9  [today]")
@click.option("--stars", type=click.Choice(["auto", "tycho2", "store"]), default="auto", help="Which star data to use.")
@click.option("--store", metavar="DIR", help="Folder of the local star store  [GUIDESTAR_STORE, else your data folder]")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.map/1).")
def command(rig_path: str, out: str | None, bounds: str | None, as_json: bool, **options: Any) -> int:
    """Take every part of the sky as a target, at every camera angle, and show where guide stars are scarce.

    With --out it writes coverage.fits (HEALPix), coverage.png, latitudes.csv, sparse.moc.fits and summary.json.
    """
    from guidestar.api.maps import check_outputs, sky_map
    from guidestar.maps.files import output_folder

    limits = None if bounds is None else declinations(bounds)
    with ExitStack() as stack:
        if out is not None:
            stack.enter_context(output_folder(check_outputs(out)))
        with progress_shown(as_json) as progress:
            answer = sky_map(rig_path, bounds=limits, progress=progress, **options)
        if out is not None:
            answer.save(out)
    if as_json:
        click.echo(json.dumps(answer.to_json(), ensure_ascii=False, allow_nan=False))
    else:
        shown = None if out is None else str(Path(out))
        text = answer.to_text(folder=shown, width=terminal.width(), colour=sys.stdout.isatty())
        click.echo(text, nl=False)
    return ExitStatus.ANSWERED


def declinations(text: str) -> tuple[float, float]:
    """Read two declinations with a comma between them."""
    try:
        low, high = (float(part) for part in text.split(","))
    except ValueError as error:
        raise InputError(
            f'--bounds "{text}": give two declinations in degrees with a comma between, such as -30,90.'
        ) from error
    return low, high


@contextmanager
def progress_shown(quiet: bool, words: str = "the sky") -> Iterator[Callable[[float], None] | None]:
    """Show a bar with the time left, on a terminal only."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (BarColumn(), TextColumn("{task.percentage:3.0f} %  {task.description}, left:"), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(words, total=1.0)
        yield lambda share: bar.update(task, completed=share)
