"""Groups of commands: a mistyped word is told the nearest; those of `LazyGroup` are imported when they are needed."""

from __future__ import annotations

import difflib
import importlib
from collections.abc import Mapping
from typing import Any

import click


class Group(click.Group):
    """Commands by name; a mistyped one is told the nearest."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command of a line; name the nearest one where there is none of that name."""
        name = args[0]
        if not (name in self.list_commands(ctx) or name.startswith("-") or ctx.resilient_parsing):
            near = difflib.get_close_matches(name, self.list_commands(ctx), n=1)
            remedy = f"did you mean '{near[0]}'?" if near else f"'{ctx.command_path} --help' lists them."
            ctx.fail(f'There is no command "{name}": {remedy}')
        return super().resolve_command(ctx, args)


class LazyGroup(Group):
    """Commands by name; each is a module that exports `command`."""

    def __init__(self, *arguments: Any, modules: Mapping[str, str], **options: Any) -> None:
        super().__init__(*arguments, **options)
        self._modules = modules

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  # click's own signature
        """Return the commands' names, in the order given."""
        return list(self._modules)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002  # click's own
        """Import and return one command; None if there is none of that name."""
        if cmd_name not in self._modules:
            return None
        command: click.Command = importlib.import_module(self._modules[cmd_name]).command
        return command
