"""`guidestar stars`: which star data do I have, and more of it. A subcommand is a module of its own."""

from __future__ import annotations

import click

from guidestar.cli.lazy import LazyGroup

COMMANDS = {
    "counts": "guidestar.cli.stars_counts",
    "fetch": "guidestar.cli.stars_fetch",
    "list": "guidestar.cli.stars_list",
    "verify": "guidestar.cli.stars_verify",
    "remove": "guidestar.cli.stars_remove",
    "import": "guidestar.cli.stars_import",
}


@click.group("stars", cls=LazyGroup, modules=COMMANDS, short_help="See, fetch and verify star data; count stars.")
def command() -> None:
    """See which star data there is, fetch fainter stars, verify them, tell how many stars a place has.

    Only `fetch` uses the network, and `counts` if it is given --online-names.
    """
