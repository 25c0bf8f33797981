"""`guidestar stars fetch`: fainter stars, or exact counts of them, from a public service into the local store."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from guidestar.cli import options as shared
from guidestar.cli import terminal
from guidestar.cli.stars_sky import Wanted, positive, wanted
from guidestar.errors import DataError

if TYPE_CHECKING:
    from guidestar.stars.amount import Amount
    from guidestar.stars.piecework import Fetched, Progress
    from guidestar.stars.services import Service
    from guidestar.stars.store import Store
    from guidestar.stars.tap_network import Manners

    Showing = Callable[[Progress], None]


@click.command("fetch", short_help="Fetch fainter stars of Gaia DR3 into the local store (uses the network).")
@click.argument("target", nargs=-1)
@click.option("--targets", metavar="FILE", help="A CSV list of names or coordinates: all of them.")
@click.option("--sky", is_flag=True, help="The whole sky.")
@click.option("--declination", nargs=2, type=float, metavar="FROM TO", help="A band of declination, degrees.")
@click.option("--rig", "rig_path", metavar="FILE", help="Take radius and depth from what this rig needs.")
@click.option("--faintest-mag", type=float, metavar="G", help="Faintest magnitude  [the rig's reach, else 16]")
@click.option("--radius-deg", type=float, metavar="DEG", help="How far around a target  [what the rig needs, else 1]")
@click.option("--counts", is_flag=True, help="No stars, but how many there are: exact numbers for expected stars.")
@click.option("--service", metavar="NAME|URL", help="esa, ari, gavo, vizier, or an address  [each of them in turn]")
@shared.store
@click.option(
    "--limit-gb",
    type=float,
    default=2.0,
    show_default=True,
    metavar="GB",
    help="Fetch no more than so many gigabytes without asking.",
)
@click.option("--yes", is_flag=True, help="Do not ask, however much it is.")
@click.option(
    "--timeout", type=float, default=60.0, show_default=True, metavar="SECONDS", help="Longest silence of a service."
)
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.stars-fetch/1).")
def command(target: tuple[str, ...], store: str | None, as_json: bool, **options: Any) -> None:
    """Fetch stars of Gaia DR3 around TARGET and keep them: from then on `check` uses them, without the network.

    What is there already is not fetched again; a fetch that was stopped goes on where it was. With --counts only the
    numbers of stars are fetched, by magnitude in pixels of 3.4 square degrees (0.3 MB for the whole sky): `check`
    then estimates from them how many stars it cannot see.
    """
    from guidestar.stars.services import services_for
    from guidestar.stars.store import store_at
    from guidestar.stars.tap_network import Manners, need_pyvo

    asked = wanted(" ".join(target), options)
    services = services_for(options["service"])
    need_pyvo()  # before a word is printed
    manners = Manners(silence_s=positive(options["timeout"], "--timeout", "seconds"))
    limit_bytes = positive(options["limit_gb"], "--limit-gb", "gigabytes") * 1e9
    job = _Job(asked, services, store_at(store), manners, as_json)
    if options["counts"]:
        _bring_counts(job)
    else:
        _bring_stars(job, limit_bytes, options["yes"])


class _Job:
    """What both kinds of fetching need."""

    def __init__(
        self, asked: Wanted, services: tuple[Service, ...], store: Store, manners: Manners, as_json: bool
    ) -> None:
        self.asked, self.services, self.store, self.manners, self.as_json = asked, services, store, manners, as_json

    def say(self, sentence: str) -> None:
        """Print a sentence, unless the output is for a machine."""
        if not self.as_json:
            click.echo(click.wrap_text(sentence, width=terminal.width()))


def _bring_stars(job: _Job, limit_bytes: float, yes: bool) -> None:
    from guidestar.stars.amount import expected_stars
    from guidestar.stars.fetch import fetch

    asked = job.asked
    amount = expected_stars(job.store.missing(asked.region, asked.faintest_mag), asked.faintest_mag)
    allowed = _allow(amount, asked.faintest_mag, limit_bytes, yes)
    for sentence in (*asked.why, *([f"To come: {_amount(amount, asked.faintest_mag)}."] if amount.stars else [])):
        job.say(sentence)
    with _progress_shown(job.as_json) as show:
        done = fetch(
            job.store,
            job.services,
            asked.region,
            asked.faintest_mag,
            limit_bytes=allowed,
            manners=job.manners,
            on_progress=show,
        )
    job.say(_sentence(done, asked.faintest_mag))
    if job.as_json:
        expected = {"expected_stars": round(amount.stars), "expected_stars_error": round(amount.error)}
        terminal.say_json(_as_dict(job, done, asked.faintest_mag) | expected)


def _bring_counts(job: _Job) -> None:
    from guidestar.stars.counted import edge_above
    from guidestar.stars.fetch_counts import fetch_counts

    depth = edge_above(job.asked.faintest_mag)
    for sentence in job.asked.why:
        job.say(sentence)
    with _progress_shown(job.as_json) as show:
        done = fetch_counts(job.store, job.services, job.asked.region, depth, manners=job.manners, on_progress=show)
    job.say(_counts_sentence(done, depth))
    if job.as_json:
        terminal.say_json(_as_dict(job, done, depth) | {"counts": True})


def _allow(amount: Amount, faintest_mag: float, limit_bytes: float, yes: bool) -> float:
    """Return how many bytes may be fetched; ask a person, or stop, where it looks like more than the limit."""
    if yes:
        return float("inf")
    if amount.size_bytes <= limit_bytes:
        return limit_bytes
    what = _amount(amount, faintest_mag)
    if sys.stdin.isatty() and click.confirm(f"This is {what}. Fetch it all?", err=True):
        return float("inf")
    raise DataError(
        f"This would be {what}, above --limit-gb {limit_bytes / 1e9:g}: ask for less "
        "sky or brighter stars, or raise the limit."
    )


def _amount(amount: Amount, faintest_mag: float) -> str:
    """Write an estimated number of stars with its error and size."""
    stars = f"{amount.stars / 1e6:,.1f} million" if amount.stars >= 1e6 else f"{amount.stars:,.0f}"
    error = 100.0 * amount.error / amount.stars
    return f"about {stars} stars to G {faintest_mag:g} (± {error:.0f} %, by star counts), {_size(amount.size_bytes)}"


def _size(size_bytes: float) -> str:
    from rich import filesize

    return filesize.decimal(round(size_bytes))


@contextmanager
def _progress_shown(quiet: bool) -> Iterator[Showing]:
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
            done = f"{progress.stars:,} stars, {_size(progress.size_bytes)}"
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
        f"{done.service} ({_size(done.size_bytes)} in {done.seconds:,.0f} s)."
    )


def _counts_sentence(done: Fetched, faintest_mag: float) -> str:
    if done.service is None:
        return (
            f"Nothing to fetch: the store holds the star counts of these {done.asked_deg2:,.1f} square degrees to "
            f"G {faintest_mag:g} already."
        )
    return (
        f"Counted {done.stars:,} stars to G {faintest_mag:g} on {done.fetched_deg2:,.1f} square degrees at "
        f"{done.service} ({done.seconds:,.0f} s); expected stars are reckoned from these counts now."
    )


def _as_dict(job: _Job, done: Fetched, faintest_mag: float) -> dict[str, object]:
    return {
        "schema": "guidestar.stars-fetch/1",
        "store": str(job.store.path),
        "service": done.service,
        "faintest_mag": faintest_mag,
        "radius_deg": job.asked.radius_deg,
        "why": list(job.asked.why),
        "asked_deg2": done.asked_deg2,
        "fetched_deg2": done.fetched_deg2,
        "stars": done.stars,
        "size_bytes": done.size_bytes,
        "seconds": done.seconds,
    }
