"""`guidestar stars`: which star data do I have, and more of it. A subcommand is a module of its own."""

from __future__ import annotations

import importlib

import click

COMMANDS = {
    "counts": "guidestar.cli.stars_counts",
    "fetch": "guidestar.cli.stars_fetch",
    "list": "guidestar.cli.stars_list",
    "verify": "guidestar.cli.stars_verify",
    "remove": "guidestar.cli.stars_remove",
    "import": "guidestar.cli.stars_import",
}


class _Subcommands(click.Group):
    """Subcommands that are imported when they are needed; each module exports `command`."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Return the subcommands' names."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import and return one subcommand."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(COMMANDS[cmd_name]).command
        return command


@click.group("stars", cls=_Subcommands, short_help="See, fetch and verify star data; count stars.")
def command() -> None:
    """See which star data there is, fetch fainter stars, verify them, tell how many stars a place has.

    Only `fetch` uses the network.
    """
