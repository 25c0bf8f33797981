"""`guidestar stars list`: which star data there is."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import click

from guidestar.cli import options as shared

if TYPE_CHECKING:
    from collections.abc import Sequence

    from guidestar.stars.overview import Overview, Part


@click.command("list", short_help="Show which stars there are: the built-in catalogue and the local store.")
@shared.store
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.stars-list/1).")
def command(store: str | None, as_json: bool) -> None:
    """Show which stars there are, which sky they cover, how deep, from where and when."""
    from guidestar.stars.overview import overview
    from guidestar.stars.store import store_at

    found = overview(store_at(store))
    click.echo(json.dumps(found.to_dict()) if as_json else _text(found))


def _text(found: Overview) -> str:
    from rich import filesize

    lines = [
        f"Built in: {found.builtin_name}, whole sky, nearly complete to {found.builtin_band} {found.builtin_to_mag:g}."
    ]
    if not found.parts:
        lines.append(f"Local store {found.path}: no stars. 'guidestar stars fetch' brings fainter ones.")
    else:
        lines.append(f"Local store {found.path}: {found.stars:,} stars, {filesize.decimal(found.size_bytes)}.")
        lines += ["", *_table(found.parts)]
    if found.counts:
        lines += ["", "Star counts in the local store, for estimates of what no catalogue here lists:", ""]
        lines += _table(found.counts)
    return "\n".join([*lines, *([""] if found.notes else []), *found.notes])


def _table(parts: Sequence[Part]) -> list[str]:
    lines = [f"  {'to G':>6}  {'square degrees':>14}  {'of the sky':>10}  {'fetched on':<10}  from"]
    return lines + [
        f"  {part.faintest_mag:6.2f}  {part.area_deg2:14,.1f}  {_percent(part.sky_fraction):>10}  {part.date:<10}  "
        f"{part.release}, {part.origin}"
        for part in parts
    ]


def _percent(fraction: float) -> str:
    return f"{100 * fraction:.1f} %" if fraction >= 0.0005 else "< 0.1 %"
