"""The commands, and every failure of theirs as one sentence and an exit status."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from traceback import walk_tb
from typing import Any

import click

from guidestar import __version__
from guidestar.cli import stopping
from guidestar.cli.lazy import LazyGroup
from guidestar.errors import ExitStatus, GuidestarError

COMMANDS = {
    "check": "guidestar.cli.check",
    "compare": "guidestar.cli.compare",
    "map": "guidestar.cli.map",
    "night": "guidestar.cli.night",
    "reach": "guidestar.cli.reach",
    "rig": "guidestar.cli.rig",
    "stars": "guidestar.cli.stars",
    "train": "guidestar.cli.train",
}

_TRACEBACK = "--traceback"


class _ReaderGoneError(Exception):
    """The reader of our output went away. No OSError: click would make an exit with status 1 of that."""


@contextmanager
def _told_apart() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError as error:
        raise _ReaderGoneError from error


class _Commands(LazyGroup):
    """The program's commands, with a reader that went away told apart from other failures."""

    def make_context(self, *args: Any, **kwargs: Any) -> click.Context:
        """Read the command line; this prints --help."""
        with _told_apart():
            return super().make_context(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command."""
        with _told_apart():
            return super().invoke(ctx)


@click.group(
    cls=_Commands, modules=COMMANDS, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(__version__, "--version", prog_name="guidestar", message="%(prog)s %(version)s")
@click.option(_TRACEBACK, is_flag=True, expose_value=False, help="Show where in the program an error arose.")
def group() -> None:
    """Tell, before the night, whether an off-axis pick-off prism will find a guide star.

    Exit status: 0 answered, 2 bad input, 3 data, network or output failure.
    Safety: never point optics near the Sun. Outdoors mind cold, dark, cables and mains power; local rules come first.
    """


def answer(arguments: Sequence[str]) -> int:
    """Run one command line and return its exit status; errors go to stderr as one sentence each."""
    # The flag works anywhere on the line, so that "up arrow, add --traceback" is enough.
    words = [word for word in arguments if word != _TRACEBACK]
    if len(words) < len(arguments):
        return _answered(words)
    try:
        return _answered(words)
    except GuidestarError as error:
        return fail(str(error), error.status)
    except click.NoSuchOption as error:
        return fail(_as_coordinates(error.option_name) or error.format_message(), ExitStatus.BAD_INPUT)
    except click.ClickException as error:
        return fail(error.format_message(), ExitStatus.BAD_INPUT)
    except (click.Abort, KeyboardInterrupt):
        return fail(stopping.STOPPED, stopping.STATUS)
    except _ReaderGoneError:
        # `| head` has seen enough: nothing is left to tell.
        _let_output_go()
        return ExitStatus.ANSWERED
    except Exception as error:
        if isinstance(error, OSError) and _while_printing(error):
            _let_output_go()
            return unwritable(error.strerror or str(error))
        return fail(
            f"This is a fault of guidestar itself ({type(error).__name__}: {error}); {_TRACEBACK} shows more.", 1
        )


def _answered(words: list[str]) -> int:
    """Run a command, or print the help of one that wants more words; return the status that it chose, if it did."""
    try:
        returned = group.main(words, "guidestar", standalone_mode=False)
    except click.exceptions.NoArgsIsHelpError as error:
        with _told_apart():
            click.echo(error.ctx.get_help())
        return ExitStatus.BAD_INPUT
    return returned if isinstance(returned, int) else ExitStatus.ANSWERED


def _as_coordinates(option: str) -> str:
    """Return what to do about a negative number that was taken for an option; empty if it is none."""
    if not re.match(r"-[.\d]", option):
        return ""
    return (
        f'"{option}" is no option: put coordinates in quotes, as in "22 37 04 -34 24 56", and join a negative value '
        "to its option, as in --bounds=-30,90."
    )


def _while_printing(error: BaseException) -> bool:
    """Tell whether an error arose in printing, which click's echo does for all commands."""
    return any(frame.f_code is click.echo.__code__ for frame, _ in walk_tb(error.__traceback__))


def _let_output_go() -> None:
    """Send what is still waiting to be written nowhere: Python would try once more at exit, and complain."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def unwritable(reason: str) -> int:
    """Say that the answer cannot be printed, and return the exit status for that."""
    sentence = f"The output cannot be written ({reason}): make room, or send it somewhere else."
    return fail(sentence, ExitStatus.DATA_FAILURE)


def fail(sentences: str, status: int) -> int:
    """Print what went wrong on stderr, a sentence a line, and return the exit status given."""
    lines = [line if line.endswith((".", "?", "!")) else f"{line}." for line in sentences.splitlines()]
    with suppress(OSError):  # then the status alone has to tell it
        click.echo("\n".join(["guidestar: " + (lines[0] if lines else ""), *lines[1:]]), err=True)
    return status
