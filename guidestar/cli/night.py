"""`guidestar night`: when tonight, how faint then, on which star, before and after the flip."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from guidestar.cli import options as shared
from guidestar.cli import terminal
from guidestar.errors import ExitStatus, InputError

if TYPE_CHECKING:
    from guidestar.api.night import NightAnswer
    from guidestar.rig import Rig


@click.command("night", short_help="When tonight, how faint then, on which star, before and after the flip?")
@click.argument("target", nargs=-1)
@shared.rig_file
@shared.target_list
@click.option("--date", metavar="YYYY-MM-DD", help="The evening's date  [tonight]")
@click.option(
    "--site", metavar="'LAT LON [M]'", help="Degrees, north and east positive, and metres, instead of the rig's [site]."
)
@click.option(
    "--horizon",
    metavar="ALT|AZ:ALT,…",
    help="Lowest usable altitude, or a line such as 0:20,90:35,180:15  [the site's]",
)
@click.option("--time-zone", metavar="NAME", help="Name of the tz database, such as Europe/Paris  [the site's]")
@click.option("--least-altitude", type=float, metavar="DEG", help="Besides the horizon: nothing lower than this.")
@click.option(
    "--angle", type=float, metavar="DEG", help="Plan for this camera angle (at the beginning) instead of the best."
)
@shared.exposure
@click.option("--sky", type=float, metavar="V", help="Sky at the zenith without a Moon, V mag/arcsec²  [the rig's]")
@shared.min_stars
@shared.faintest_mag
@shared.equinox
@shared.online_names
@shared.star_data
@shared.store
@click.option("--figure", metavar="FILE", help="Draw the night, a strip a target: .png, .svg or .pdf.")
@click.option("--card", metavar="FILE", help="One page a target to take outside: .pdf or .png.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", help="The card's paper  [a4]")
@click.option("--csv", "csv_path", metavar="FILE", help="Write the targets as a table: .csv.")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.night/1).")
def command(target: tuple[str, ...], rig_path: str, targets: str | None, **options: Any) -> int:
    """Plan an evening: when a target is up and dark, at which camera angle, and which star serves when.

    TARGET is a catalogue name ("NGC 7331", M31) or "RA DEC". Airmass, moonlight and the meridian flip are reckoned
    quarter hour by quarter hour; of a list the best of the night comes first. Never point optics at or near the Sun.
    """
    from guidestar.rig import read_rig

    if bool(target) == bool(targets):
        raise InputError('Give either one TARGET, such as "NGC 7331" or "339.27 34.42", or --targets FILE.')
    outputs = {name: options.pop(name) for name in ("figure", "card", "paper", "csv_path", "as_json")}
    _require_file_names(outputs)
    answer = _answer(" ".join(target), targets, read_rig(rig_path), options)
    if outputs["as_json"]:
        terminal.say_json(answer.to_json())
    else:
        click.echo(answer.to_text(width=terminal.width(), colour=sys.stdout.isatty()), nl=False)
    # Last, so that the answer stands even where a file cannot be written.
    for name, path in _written(answer, outputs):
        if not outputs["as_json"]:
            click.echo(f"{name}: {path}")
    return ExitStatus.ANSWERED


def _require_file_names(outputs: dict[str, Any]) -> None:
    """Refuse a file name that cannot be meant before any work is done."""
    from guidestar.report.card import suffix_of
    from guidestar.report.paper import format_of
    from guidestar.report.writing import require_folder

    path = outputs["csv_path"]
    if path is not None and Path(path).suffix.lower() != ".csv":
        raise InputError(f'--csv "{path}": the file name must end in .csv; try "{Path(path).stem}.csv".')
    for name, what, suffix in (
        ("csv_path", "table", None),
        ("figure", "figure", format_of),
        ("card", "card", suffix_of),
    ):
        if outputs[name] is not None:
            if suffix is not None:
                suffix(Path(outputs[name]))
            require_folder(Path(outputs[name]), what)


def _answer(target: str, targets: str | None, rig: Rig, options: dict[str, Any]) -> NightAnswer:
    from guidestar.api.night import plan_night

    if targets is None:
        return plan_night(target, rig, **options)
    from guidestar.sky.targetlist import read_targets

    answer = plan_night(read_targets(targets), rig, **options)
    return answer.with_empty_rows(_empty_rows(Path(targets).read_text(encoding="utf-8-sig")))


def _empty_rows(text: str) -> list[int]:
    """Return the numbers of the rows of a list that hold nothing and stand before others (from 1)."""
    lines = [line.strip() for line in text.split("\n")]
    filled = [number for number, line in enumerate(lines, 1) if line.strip(',;\t "')]
    return [number for number in range(1, max(filled, default=0)) if number not in filled]


def _written(answer: NightAnswer, outputs: dict[str, Any]) -> list[tuple[str, Path]]:
    """Write what was asked for; return what was written."""
    found: list[tuple[str, Path]] = []
    if outputs["csv_path"]:
        found.append(("Table", answer.save_csv(outputs["csv_path"])))
    if outputs["figure"]:
        found.append(("Picture", answer.save_figure(outputs["figure"])))
    if outputs["card"]:
        found += [("Card", path) for path in answer.save_cards(outputs["card"], paper=outputs["paper"])]
    return found
