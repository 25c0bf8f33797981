"""`guidestar stars fetch`: fainter stars from a public service into the local store."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

import click

from guidestar.errors import DataError, InputError

if TYPE_CHECKING:
    from guidestar.sky.regions import Region
    from guidestar.stars.fetch import Fetched, Progress

_DEFAULT_G: Final = 16.0
_DEFAULT_RADIUS_DEG: Final = 1.0


@click.command("fetch", short_help="Fetch fainter stars of Gaia DR3 into the local store (uses the network).")
@click.argument("target", nargs=-1)
@click.option("--targets", metavar="FILE", help="A CSV list of names or coordinates: all of them.")
@click.option("--sky", is_flag=True, help="The whole sky.")
@click.option("--declination", nargs=2, type=float, metavar="FROM TO", help="A band of declination, degrees.")
@click.option("--rig", "rig_path", metavar="FILE", help="Take radius and depth from what this rig needs.")
@click.option("--faintest-mag", type=float, metavar="G", help="How faint  [the rig's reach, else 16]")
@click.option("--radius-deg", type=float, metavar="DEG", help="How far around a target  [what the rig needs, else 1]")
@click.option("--service", metavar="NAME|URL", help="esa, ari, gavo, vizier, or an address  [each of them in turn]")
@click.option("--store", metavar="DIR", help="The store's folder  [GUIDESTAR_STORE, else your data folder]")
@click.option("--limit-gb", type=float, default=2.0, show_default=True, help="Fetch no more than this without asking.")
@click.option("--yes", is_flag=True, help="Do not ask, however much it is.")
@click.option(
    "--timeout", type=float, default=60.0, show_default=True, metavar="S", help="Longest silence of a service."
)
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.stars-fetch/1).")
def command(target: tuple[str, ...], store: str | None, as_json: bool, **options: Any) -> None:
    """Fetch stars of Gaia DR3 around TARGET and keep them: from then on `check` uses them, without the network.

    What is there already is not fetched again; a fetch that was stopped goes on where it was.
    """
    from guidestar.stars.fetch import estimated_stars, fetch
    from guidestar.stars.services import services_for
    from guidestar.stars.store import store_at
    from guidestar.stars.tap_network import Manners

    region, faintest_mag = _wanted(" ".join(target), options)
    place = store_at(store)
    services = services_for(options["service"])
    silence_s = _positive(options["timeout"], "--timeout", "seconds")
    limit_bytes = _positive(options["limit_gb"], "--limit-gb", "gigabytes") * 1e9
    stars = estimated_stars(place.missing(region, faintest_mag), faintest_mag)
    allowed = _allow(stars, faintest_mag, limit_bytes, options["yes"])
    with _progress_shown(as_json) as on_progress:
        done = fetch(
            place,
            services,
            region,
            faintest_mag,
            limit_bytes=allowed,
            manners=Manners(silence_s=silence_s),
            on_progress=on_progress,
        )
    click.echo(json.dumps(_as_dict(done, faintest_mag, str(place.path))) if as_json else _sentence(done, faintest_mag))


def _wanted(target: str, options: dict[str, Any]) -> tuple[Region, float]:
    """Return the region and the depth that the options ask for."""
    from guidestar.sky import regions

    ways = (bool(target), bool(options["targets"]), options["sky"], options["declination"] is not None)
    if sum(ways) != 1:
        raise InputError("Say which sky: one TARGET, --targets FILE, --declination FROM TO, or --sky.")
    radius_deg, faintest_mag = _needs(options)
    if options["sky"]:
        return regions.whole_sky(), faintest_mag
    if options["declination"] is not None:
        low, high = options["declination"]
        if not -90.0 <= low < high <= 90.0:
            raise InputError(f"--declination {low:g} {high:g}: give two values from −90 to 90, the lower one first.")
        return regions.declination_band(low, high), faintest_mag
    places = [target] if target else _listed(options["targets"])
    return regions.union(*(_around(text, radius_deg) for text in places)), faintest_mag


def _needs(options: dict[str, Any]) -> tuple[float, float]:
    radius_deg, faintest_mag = _DEFAULT_RADIUS_DEG, _DEFAULT_G
    if options["rig_path"]:
        from guidestar.field.needs import star_needs
        from guidestar.rig import read_rig

        needs = star_needs(read_rig(options["rig_path"]))
        # To the next tenth, so that a slightly longer exposure later on does not ask for all of it again.
        radius_deg, faintest_mag = needs.wide_radius_deg, -(-needs.faintest_mag // 0.1) * 0.1
    if options["radius_deg"] is not None:
        radius_deg = _positive(options["radius_deg"], "--radius-deg", "degrees")
    if options["faintest_mag"] is not None:
        faintest_mag = options["faintest_mag"]
    if not 0.0 < faintest_mag <= 21.0:
        raise InputError(f"--faintest-mag {faintest_mag:g}: Gaia's magnitudes G go from about 2 to 21.")
    return radius_deg, round(faintest_mag, 2)


def _positive(value: float, option: str, unit: str) -> float:
    if not 0.0 < value < float("inf"):
        raise InputError(f"{option} {value:g}: must be above 0 {unit}.")
    return float(value)


def _listed(path: str) -> list[str]:
    from guidestar.sky.targetlist import read_targets

    return [row.require_text() for row in read_targets(path)]


def _around(text: str, radius_deg: float) -> Region:
    from guidestar.sky import regions
    from guidestar.sky.place import place

    there = place(text)
    return regions.around(there.ra_deg, there.dec_deg, radius_deg)


def _allow(stars: float, faintest_mag: float, limit_bytes: float, yes: bool) -> float:
    """Return how many bytes may be fetched; ask a person, or stop, where it looks like more than the limit."""
    from guidestar.stars.fetch import BYTES_PER_STAR

    size = stars * BYTES_PER_STAR
    if yes:
        return float("inf")
    if size <= limit_bytes:
        return limit_bytes
    what = f"about {stars / 1e6:,.0f} million stars to G {faintest_mag:g}, {size / 1e9:.1f} GB"
    if sys.stdin.isatty() and click.confirm(f"This is {what}. Fetch it all?", err=True):
        return float("inf")
    raise DataError(
        f"This would be {what}, above --limit-gb {limit_bytes / 1e9:g}: ask for less "
        "sky or brighter stars, or raise the limit."
    )


@contextmanager
def _progress_shown(quiet: bool) -> Iterator[Callable[[Progress], None]]:
    """Show a bar with time left and size, on a terminal only."""
    if quiet or not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    columns = (BarColumn(), TextColumn("{task.percentage:3.0f} %  {task.description}"), TimeRemainingColumn())
    with Bar(*columns, console=Console(stderr=True)) as bar:
        task = bar.add_task("asking the service", total=None)

        def show(progress: Progress) -> None:
            done = f"{progress.stars:,} stars, {progress.size_bytes / 1e6:,.1f} MB"
            bar.update(task, total=progress.total_deg2, completed=progress.done_deg2, description=done)

        yield show


def _sentence(done: Fetched, faintest_mag: float) -> str:
    if done.service is None:
        return (
            f"Nothing to fetch: the store holds these {done.asked_deg2:,.1f} square degrees to G {faintest_mag:g} "
            "already."
        )
    return (
        f"Fetched {done.stars:,} stars to G {faintest_mag:g} on {done.fetched_deg2:,.1f} square degrees from "
        f"{done.service} ({done.size_bytes / 1e6:,.1f} MB in {done.seconds:,.0f} s)."
    )


def _as_dict(done: Fetched, faintest_mag: float, store: str) -> dict[str, object]:
    return {
        "schema": "guidestar.stars-fetch/1",
        "store": store,
        "service": done.service,
        "faintest_mag": faintest_mag,
        "asked_deg2": done.asked_deg2,
        "fetched_deg2": done.fetched_deg2,
        "stars": done.stars,
        "size_bytes": done.size_bytes,
        "seconds": done.seconds,
    }
