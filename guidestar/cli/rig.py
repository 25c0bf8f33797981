"""`guidestar rig`: start a rig file, and see all that follows from one."""

from __future__ import annotations

import json
import os
from pathlib import Path

import click

from guidestar.cli import terminal
from guidestar.cli.lazy import Group
from guidestar.errors import InputError

_DEFAULT_PRESET = "compound-2000-f10-prism-8x8"


@click.group("rig", cls=Group, short_help="Start a rig file; see what follows from one.")
def command() -> None:
    """Start a rig file, or see all that follows from one."""


@command.command("new")
@click.argument("path", required=False)
@click.option(
    "--from", "preset", default=_DEFAULT_PRESET, metavar="PRESET", show_default=True, help="Numbers to start with."
)
@click.option("--list", "list_only", is_flag=True, help="Name the presets, and write nothing.")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.rig-new/1).")
def new(path: str | None, preset: str, list_only: bool, as_json: bool) -> None:
    """Write a commented rig file to PATH, to be filled in with your own numbers.

    An existing file is never overwritten.
    """
    from guidestar.rig.presets import PRESETS, preset_toml

    if list_only:
        names = {name: values["name"] for name, values in PRESETS.items()}
        _say(names, "\n".join(f"{name:<30}{title}" for name, title in names.items()), as_json)
        return
    if path is None:
        raise InputError("rig new: say where to write the file, such as: guidestar rig new my-rig.toml")
    _write_new(Path(path), preset_toml(preset))
    values = {"schema": "guidestar.rig-new/1", "path": path, "preset": preset}
    _say(values, f"Wrote {path} from the preset {preset}.\n{_NEXT}\n  guidestar rig show --rig {path}", as_json)


_NEXT = """\
Put in your own numbers, above all the prism's offset_mm and ahead_mm: the file says how to measure them
(never with the telescope pointed near the Sun). Then look at what follows from them:"""


def _say(values: dict[str, str], text: str, as_json: bool) -> None:
    click.echo(json.dumps(values, ensure_ascii=False) if as_json else text)


def _write_new(path: Path, text: str) -> None:
    """Write a file that must not exist yet: complete or not at all."""
    try:
        partial = path.with_name(f".{path.name}.{os.getpid()}.part")
        path.open("x").close()  # claims the name; fails if there is anything of that name already
    except FileExistsError as error:
        raise InputError(f"{path}: exists already and is not overwritten; choose another name or remove it.") from error
    except (OSError, ValueError) as error:
        raise _unwritable(path, error) from error
    try:
        partial.write_text(text, encoding="utf-8", newline="\n")
        partial.replace(path)
    except OSError as error:
        partial.unlink(missing_ok=True)
        path.unlink(missing_ok=True)  # the claim: nothing half done stays behind
        raise _unwritable(path, error) from error


def _unwritable(path: Path, error: Exception) -> InputError:
    reason = getattr(error, "strerror", None) or str(error)
    return InputError(f"{path}: cannot be written ({reason}); choose a folder that exists and is yours.")


@command.command("show")
@click.option("--rig", "rig_path", metavar="FILE", help="The rig file (TOML).")
@click.option("--from", "preset_name", metavar="PRESET", help="A preset instead of a file.")
@click.option("--json", "as_json", is_flag=True, help="Machine output (guidestar.rig/1).")
def show(rig_path: str | None, preset_name: str | None, as_json: bool) -> None:
    """Show what follows from a rig: scales, guide field, beam at the prism, clearances."""
    from guidestar.field.rigfacts import rig_facts
    from guidestar.report.rig_text import render_rig, rig_to_json
    from guidestar.rig import preset, read_rig

    if (rig_path is None) == (preset_name is None):
        raise InputError("rig show: give either --rig FILE or --from PRESET.")
    rig = read_rig(rig_path) if rig_path is not None else preset(str(preset_name))
    facts = rig_facts(rig)
    if as_json:
        terminal.say_json(rig_to_json(facts))
    else:
        click.echo(render_rig(facts, width=terminal.width()), nl=False)
