"""`guidestar stars counts`: how many stars are to be expected at a place."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from guidestar.cli import options as shared
from guidestar.cli import terminal
from guidestar.errors import InputError

if TYPE_CHECKING:
    from guidestar.report.counts_text import Count
    from guidestar.sky.place import Place
    from guidestar.stars.counted_sky import CountedSky
    from guidestar.stars.store import Store


@click.command("counts", short_help="How many stars to expect at a place, by magnitude.")
@click.argument("target", nargs=-1)
@shared.equinox
@shared.online_names
@shared.store
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.counts/1).")
def command(target: tuple[str, ...], equinox: str, online_names: bool, store: str | None, as_json: bool) -> None:
    """Tell how many stars a square degree holds around TARGET, from G 10 to 18, with the error of that estimate.

    TARGET is a catalogue name ("NGC 7331", M31) or "RA DEC": two plain decimals are degrees, sexagesimal RA is hours.
    Where 'stars fetch --counts' has brought exact counts, they are shown and used.
    """
    from guidestar.field.check import target_of
    from guidestar.report.counts_text import counts_to_json, render_counts
    from guidestar.sky.dates import year_today
    from guidestar.sky.place import place
    from guidestar.stars.store import store_at

    if not target:
        raise InputError('stars counts: give a TARGET, such as "NGC 7331" or "339.27 34.42".')
    where = place(" ".join(target), equinox=equinox, epoch_year=year_today(), online=online_names)
    found, source = _counts(where, store_at(store))
    if as_json:
        values = counts_to_json(target_of(where), found, source)
        terminal.say_json(values)
        return
    width = terminal.width()
    page = render_counts(target_of(where), found, source, width=width, colour=sys.stdout.isatty())
    click.echo(page, nl=False)


def _counts(where: Place, store: Store) -> tuple[list[Count], str]:
    """Return the cumulative counts at each whole magnitude, and what they are made from."""
    import numpy as np

    from guidestar.report.counts_text import Count
    from guidestar.stars import counts

    g_mag = np.arange(counts.BRIGHTEST_G_MAG, counts.FAINTEST_G_MAG + 0.5)
    place_deg, fetched = (where.ra_deg, where.dec_deg), _fetched(store)
    sky: counts.SkyCounts = counts.star_counts() if fetched is None else fetched
    here = sky.at(*place_deg)
    density, error = here.per_deg2(g_mag)[0], here.relative_error(g_mag)[0]
    counted = [None] * len(g_mag) if fetched is None else fetched.counted_stars(*place_deg, g_mag)
    rows = zip(g_mag, density, error, counted, strict=True)
    return [Count(float(g), float(n), float(n * e), c) for g, n, e, c in rows], sky.described(*place_deg)


def _fetched(store: Store) -> CountedSky | None:
    """Return the store's counts; only where there are any is the library that reads them loaded."""
    from guidestar.stars.store import COUNTS_FILE

    if not (store.path / COUNTS_FILE).exists():
        return None
    from guidestar.stars.counted_sky import counts_in

    return counts_in(store)
