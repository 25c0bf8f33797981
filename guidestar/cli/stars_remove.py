"""`guidestar stars remove`: take stars out of the local store."""

from __future__ import annotations

import json
import sys

import click

from guidestar.errors import InputError


@click.command("remove", short_help="Take stars out of the local store.")
@click.argument("target", nargs=-1)
@click.option("--radius-deg", type=float, default=1.0, show_default=True, help="How far around TARGET.")
@click.option("--all", "everything", is_flag=True, help="Empty the whole store.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.option("--store", metavar="DIR", help="The store's folder  [GUIDESTAR_STORE, else your data folder]")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.stars-remove/1).")
def command(
    target: tuple[str, ...], radius_deg: float, everything: bool, yes: bool, store: str | None, as_json: bool
) -> None:
    """Take the stars around TARGET, or all of them, out of the local store."""
    from guidestar.sky import regions
    from guidestar.sky.place import place
    from guidestar.stars import store_write
    from guidestar.stars.overview import overview
    from guidestar.stars.store import store_at

    if bool(target) == everything:
        raise InputError("Say what to remove: the stars around one TARGET, or --all.")
    if not 0 < radius_deg <= 180:
        raise InputError(f"--radius-deg {radius_deg:g}: must be above 0 and at most 180 degrees.")
    local = store_at(store)
    if everything:
        region = regions.whole_sky()
    else:
        there = place(" ".join(target))
        region = regions.around(there.ra_deg, there.dec_deg, radius_deg)
    before = overview(local).stars
    if everything and before and not yes and not _confirmed(before):
        raise InputError("Nothing was removed: add --yes to remove everything.")
    if local.exists:
        store_write.clear(local, region)
    gone = before - overview(local).stars
    values = {"schema": "guidestar.stars-remove/1", "store": str(local.path), "removed": gone, "left": before - gone}
    click.echo(json.dumps(values) if as_json else f"Removed {gone:,} stars; {before - gone:,} are left.")


def _confirmed(stars: int) -> bool:
    return sys.stdin.isatty() and click.confirm(f"Remove all {stars:,} stars of the store?", err=True)
