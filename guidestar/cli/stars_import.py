"""`guidestar stars import`: stars from a file into the local store, for a computer without a network."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import click

from guidestar.cli import options as shared
from guidestar.errors import InputError

if TYPE_CHECKING:
    from guidestar.sky.regions import Region


@click.command("import", short_help="Take stars from a Parquet, CSV, FITS or VOTable file into the local store.")
@click.argument("file")
@click.option("--around", metavar="TARGET", help="The file holds every star within --radius-deg of this target.")
@click.option("--radius-deg", type=float, metavar="DEG", help="With --around: how far around it.")
@click.option("--moc", metavar="MOC", help='The file holds every star of these HEALPix pixels: "5/12233 12236".')
@click.option(
    "--faintest-mag", type=float, metavar="G", help="It holds every one down to this magnitude  [its faintest star]"
)
@click.option(
    "--epoch-year", type=float, default=2016.0, show_default=True, metavar="YEAR", help="Epoch of the positions."
)
@click.option(
    "--release", default="Gaia DR3", show_default=True, metavar="NAME", help="What stands before each star's number."
)
@shared.store
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.stars-import/1).")
def command(
    file: str,
    around: str | None,
    radius_deg: float | None,
    moc: str | None,
    faintest_mag: float | None,
    epoch_year: float,
    release: str,
    store: str | None,
    as_json: bool,
) -> None:
    """Take the stars of FILE into the local store.

    FILE has named columns, Gaia's (source_id, ra, dec, phot_g_mean_mag, pmra, …) or those of the CDS. It cannot say by
    itself of which sky it holds every star: give --around and --radius-deg, or --moc.
    """
    from guidestar.stars.importing import import_file
    from guidestar.stars.store import store_at

    if not 1900.0 <= epoch_year <= 2100.0:
        raise InputError(f"--epoch-year {epoch_year:g}: a Julian year from 1900 to 2100, 2016.0 for Gaia DR3.")
    if faintest_mag is not None and not 0.0 < faintest_mag <= 25.0:
        raise InputError(f"--faintest-mag {faintest_mag:g}: must be above 0 and at most 25.")
    local = store_at(store)
    region = _region(around, radius_deg, moc)
    stars, depth = import_file(local, file, region, faintest_mag, epoch_year=epoch_year, release=release)
    values = {"schema": "guidestar.stars-import/1", "store": str(local.path), "stars": stars, "faintest_mag": depth}
    click.echo(json.dumps(values) if as_json else f"Took {stars:,} stars to G {depth:.2f} from {file}.")


def _region(around: str | None, radius_deg: float | None, moc: str | None) -> Region:
    from guidestar.sky import regions
    from guidestar.sky.place import place

    if bool(moc) == bool(around) or bool(around) != (radius_deg is not None):
        raise InputError(
            "Say of which sky the file holds every star: --around TARGET with --radius-deg, or --moc "
            "with HEALPix pixels."
        )
    if moc:
        region = regions.from_text(moc)
    else:
        if radius_deg is None or not 0.0 < radius_deg <= 180.0:
            raise InputError(f"--radius-deg {radius_deg:g}: must be above 0 and at most 180 degrees.")
        there = place(str(around))
        region = regions.inside_circle(there.ra_deg, there.dec_deg, radius_deg)
    if not len(region):
        raise InputError("No piece of sky lies wholly inside that: give a larger one.")
    return region
