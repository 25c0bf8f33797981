"""`guidestar stars counts`: how many stars are to be expected at a place."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING

import click

from guidestar.cli import terminal
from guidestar.errors import InputError

if TYPE_CHECKING:
    from guidestar.report.counts_text import Count
    from guidestar.sky.place import Place


@click.command("counts", short_help="How many stars to expect at a place, by magnitude.")
@click.argument("target", nargs=-1)
@click.option("--equinox", type=click.Choice(["J2000", "date"]), default="J2000", help="What typed coordinates mean.")
@click.option("--online-names", is_flag=True, help="Ask a name service on the network for unknown names.")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.counts/1).")
def command(target: tuple[str, ...], equinox: str, online_names: bool, as_json: bool) -> None:
    """Tell how many stars a square degree holds around TARGET, from G 10 to 18, with the error of that estimate.

    TARGET is a catalogue name ("NGC 7331", M31) or "RA DEC": two plain decimals are degrees, sexagesimal RA is hours.
    """
    from guidestar.field.check import target_of
    from guidestar.report.counts_text import counts_to_json, render_counts
    from guidestar.sky.dates import year_today
    from guidestar.sky.place import place

    if not target:
        raise InputError('stars counts: give a TARGET, such as "NGC 7331" or "339.27 34.42".')
    where = place(" ".join(target), equinox=equinox, epoch_year=year_today(), online=online_names)
    found = _counts(where)
    if as_json:
        click.echo(json.dumps(counts_to_json(target_of(where), found), ensure_ascii=False, allow_nan=False))
        return
    width = terminal.width()
    click.echo(render_counts(target_of(where), found, width=width, colour=sys.stdout.isatty()), nl=False)


def _counts(where: Place) -> list[Count]:
    """Return the cumulative counts at each whole magnitude."""
    import numpy as np

    from guidestar.report.counts_text import Count
    from guidestar.stars import counts

    g_mag = np.arange(counts.BRIGHTEST_G_MAG, counts.FAINTEST_G_MAG + 0.5)
    here = counts.star_counts().at(where.ra_deg, where.dec_deg)
    density, error = here.per_deg2(g_mag)[0], here.relative_error(g_mag)[0]
    return [Count(float(g), float(n), float(n * e)) for g, n, e in zip(g_mag, density, error, strict=True)]
