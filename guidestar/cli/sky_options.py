"""What `map` and `compare` share: the options of a sweep over the sky, and the bar that shows it going on."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import click

from guidestar.cli import options as shared

Decorated = Callable[..., Any]


def sky_options(nside: int, rigs: str, targets: str) -> Callable[[Decorated], Decorated]:
    """Add a sweep's options: `nside` by default; "the rig's" or "the rigs'" values; what a list of targets is for."""
    options = (
        click.option(
            "--nside", type=int, default=nside, show_default=True, metavar="N", help="Resolution: 1, 2, 4, … 512."
        ),
        click.option("--targets", metavar="FILE", help=f"A CSV list of names or coordinates: {targets}."),
        click.option("--bounds", metavar="MIN,MAX", help="Only declinations between these, degrees, such as -30,90."),
        click.option(
            "--sparse",
            type=float,
            default=0.25,
            show_default=True,
            metavar="SHARE",
            help="A field is sparse below this share of usable camera angles.",
        ),
        shared.faintest_mag,
        click.option("--exposure", type=float, metavar="SECONDS", help=f"Guide exposure, instead of {rigs}."),
        click.option(
            "--min-stars", type=int, metavar="N", help=f"How many stars are wanted at once, instead of {rigs}."
        ),
        click.option("--epoch", metavar="DATE", help="Date of the star positions: 2026-11-25 or 2026.9  [today]"),
        shared.star_data,
        shared.store,
    )

    def add(command: Decorated) -> Decorated:
        for option in reversed(options):
            command = option(command)
        return command

    return add


def declinations(text: str) -> tuple[float, float]:
    """Read the declinations of --bounds."""
    return shared.two_numbers("--bounds", text, "two declinations in degrees", "-30,90")


@contextmanager
def progress_shown(quiet: bool, words: str = "the sky") -> Iterator[Callable[[float], None] | None]:
    """Show a bar with the time left, on a terminal only; until it moves, what is waited for."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (BarColumn(), TextColumn("{task.percentage:3.0f} %  {task.description}"), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(_at_first(), total=1.0)
        yield lambda share: bar.update(task, completed=share, description=f"{words}, left:")


def _at_first() -> str:
    """Say what happens before the first target is done."""
    try:
        from guidestar.maps.prepared import is_prepared
    except ImportError:  # without numba, which the answer says itself
        return "preparing"
    if is_prepared():
        return "reading the stars"
    return "compiling for this computer, which is done once and takes up to a minute"
