"""`guidestar stars remove`: take stars out of the local store."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING

import click

from guidestar.cli import options as shared
from guidestar.cli import terminal
from guidestar.errors import InputError

if TYPE_CHECKING:
    from guidestar.stars.store import Store


@click.command("remove", short_help="Take stars out of the local store.")
@click.argument("target", nargs=-1)
@click.option("--radius-deg", type=float, default=1.0, show_default=True, metavar="DEG", help="How far around TARGET.")
@click.option("--counts", is_flag=True, help="Not stars, but all star counts that were fetched.")
@click.option("--all", "everything", is_flag=True, help="Empty the whole store, star counts too.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@shared.store
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.stars-remove/1).")
def command(
    target: tuple[str, ...],
    radius_deg: float,
    counts: bool,
    everything: bool,
    yes: bool,
    store: str | None,
    as_json: bool,
) -> None:
    """Take the stars around TARGET, the star counts, or everything out of the local store."""
    from guidestar.sky import regions
    from guidestar.sky.place import place
    from guidestar.stars import store_write
    from guidestar.stars.overview import overview
    from guidestar.stars.store import store_at

    if bool(target) + counts + everything != 1:
        raise InputError("Say what to remove: the stars around one TARGET, --counts, or --all.")
    if not 0 < radius_deg <= 180:
        raise InputError(f"--radius-deg {radius_deg:g}: must be above 0 and at most 180 degrees.")
    local = store_at(store)
    if counts:
        _remove_counts(local, as_json)
        return
    if everything:
        region = regions.whole_sky()
    else:
        there = place(" ".join(target))
        region = regions.around(there.ra_deg, there.dec_deg, radius_deg)
    found = overview(local)
    before = found.stars
    if everything and (before or found.counts) and not yes and not _confirmed(before):
        raise InputError("Nothing was removed: add --yes to remove everything.")
    if local.exists:
        store_write.clear(local, region)
        if everything and found.counts:
            store_write.clear_counts(local)
    gone = before - overview(local).stars
    values = {"schema": "guidestar.stars-remove/1", "store": str(local.path), "removed": gone, "left": before - gone}
    click.echo(json.dumps(values) if as_json else f"Removed {gone:,} stars; {before - gone:,} are left.")


def _remove_counts(local: Store, as_json: bool) -> None:
    from guidestar.stars import store_write
    from guidestar.stars.overview import overview

    area_deg2 = sum(part.area_deg2 for part in overview(local).counts)
    if area_deg2:
        store_write.clear_counts(local)
    if as_json:
        values = {"schema": "guidestar.stars-remove/1", "store": str(local.path), "counts_deg2": area_deg2}
        terminal.say_json(values)
    elif area_deg2:
        click.echo(f"Removed the star counts of {area_deg2:,.1f} square degrees: the built-in model is used again.")
    else:
        click.echo("The store holds no star counts.")


def _confirmed(stars: int) -> bool:
    return sys.stdin.isatty() and click.confirm(f"Remove all {stars:,} stars of the store?", err=True)
