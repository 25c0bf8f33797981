"""`guidestar stars verify`: whether every file of star data is still what was written."""

from __future__ import annotations

import click

from guidestar.cli import options as shared
from guidestar.cli import terminal
from guidestar.errors import ExitStatus


@click.command("verify", short_help="Check every file of the star data; --repair mends the local store.")
@click.option("--repair", "mend", is_flag=True, help="Mend the local store: what cannot be mended is dropped.")
@shared.store
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.stars-verify/1).")
def command(mend: bool, store: str | None, as_json: bool) -> int:
    """Check every byte of the built-in catalogue and of the local store against its checksum.

    --repair does not use the network: stars whose file is damaged are dropped, to be fetched again.
    """
    from guidestar.stars import store_check, validation
    from guidestar.stars.store import store_at
    from guidestar.stars.tycho2 import tycho2

    local = store_at(store)
    builtin = [str(fault) for fault in validation.faults(tycho2().folder)]
    if mend:
        done = store_check.repair(local)
        found, dropped, counts = [str(fault) for fault in done.faults], done.dropped_deg2, done.counts_dropped
    else:
        found, dropped, counts = [str(fault) for fault in store_check.faults(local)], 0.0, False
    good = not builtin and (mend or not found)
    if as_json:
        values = {
            "schema": "guidestar.stars-verify/1",
            "store": str(local.path),
            "good": good,
            "builtin_faults": builtin,
            "store_faults": found,
            "repaired": mend,
            "dropped_deg2": dropped,
            "counts_dropped": counts,
        }
        terminal.say_json(values)
    else:
        _say(builtin, found, mend, dropped)
        if counts:
            click.echo("The star counts had to be dropped: fetch them again with 'guidestar stars fetch --counts'.")
    return ExitStatus.ANSWERED if good else ExitStatus.DATA_FAILURE


def _say(builtin: list[str], found: list[str], mended: bool, dropped_deg2: float) -> None:
    for sentence in [*builtin, *(found if not mended else [])]:
        click.echo(f"guidestar: {sentence}", err=True)
    if not builtin:
        click.echo("Built-in catalogue: every file is as it was built.")
    if not found:
        click.echo("Local store: every file is as it was written.")
    elif mended:
        click.echo(f"Local store: mended ({len(found)} file{'s' if len(found) > 1 else ''}).")
        if dropped_deg2 > 0:
            click.echo(
                f"The stars of {dropped_deg2:.1f} square degrees had to be dropped: fetch them again with the same "
                "'guidestar stars fetch' as before."
            )
