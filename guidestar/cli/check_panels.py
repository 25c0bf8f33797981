"""`guidestar check --panels`: the same question for every panel of a mosaic."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from guidestar.cli import terminal
from guidestar.errors import ExitStatus, InputError

if TYPE_CHECKING:
    from guidestar.rig import Rig

_OWN = ("panels", "overlap", "grid_angle")
_NOT_FOR_MOSAICS = {"any_side": "--any-side", "turn_cost": "--turn-cost"}


def mosaic_options(options: dict[str, Any], is_list: bool) -> dict[str, Any] | None:
    """Take the mosaic's own options out of `options`; return all that it needs, or None where no mosaic is asked for.

    Raises
    ------
    InputError
        Options that do not go together.
    """
    own = {name: options.pop(name) for name in _OWN}
    if is_list and (own["panels"] or options["nudge"] is not None or options["nudge_percent"] is not None):
        raise InputError("--nudge and --panels look closely at one target: leave out --targets, or leave those out.")
    if own["panels"] is None:
        for name in ("overlap", "grid_angle"):
            if own[name] is not None:
                option = f"--{name.replace('_', '-')}"
                raise InputError(f"{option} is about a mosaic: give its columns and rows too, such as --panels 3x2.")
        return None
    for name, option in _NOT_FOR_MOSAICS.items():
        if options[name]:
            raise InputError(f"{option} does not go with --panels: one camera and one prism serve the whole mosaic.")
    if options["exposure"] == "auto":
        raise InputError("--exposure auto does not go with --panels: give the seconds.")
    return own | {name: value for name, value in options.items() if name not in _NOT_FOR_MOSAICS}


def show_mosaic(target: str, rig: Rig, figure: str | None, as_json: bool, options: dict[str, Any]) -> int:
    """Work the mosaic out, print it, and draw it if asked."""
    from guidestar.api.mosaic import mosaic

    answer = mosaic(target, rig, **options)
    if as_json:
        terminal.say_json(answer.to_json())
    else:
        click.echo(answer.to_text(width=terminal.width(), colour=sys.stdout.isatty()), nl=False)
    if figure:
        # Last, so that the answer stands even where the picture cannot be written.
        from guidestar.report.mosaic_figure import save_mosaic

        save_mosaic(answer, Path(figure))
        if not as_json:
            click.echo(f"Picture: {figure}")
    return ExitStatus.ANSWERED
