"""Entry point: finds the command, and turns every failure into one sentence and an exit status."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, NoReturn

import click

from guidestar import __version__
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

    Exit status: 0 answered, 2 bad input, 3 data or network failure.
    Safety: never point optics near the Sun. Outdoors mind cold, dark, cables and mains power; local rules come first.
    """


def run(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line and exit."""
    _speak_utf8()
    sys.exit(main(sys.argv[1:] if arguments is None else arguments))


def _speak_utf8() -> None:
    """Let output redirected to a file on a system with a narrower code page hold degree signs and minus signs too."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8")


def main(arguments: Sequence[str]) -> int:
    """Run one command line and return its exit status; errors go to stderr as one sentence each."""
    # The flag works anywhere on the line, so that "up arrow, add --traceback" is enough.
    words = [word for word in arguments if word != _TRACEBACK]
    if len(words) < len(arguments):
        return _status(group.main(words, "guidestar", standalone_mode=False))
    try:
        return _status(group.main(words, "guidestar", standalone_mode=False))
    except GuidestarError as error:
        return _fail(str(error), error.status)
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.ctx.get_help())
        return ExitStatus.BAD_INPUT
    except click.ClickException as error:
        return _fail(error.format_message(), ExitStatus.BAD_INPUT)
    except (click.Abort, KeyboardInterrupt):
        return _fail("Stopped.", 130)
    except _ReaderGoneError:
        # `| head` has seen enough: nothing is left to tell, and Python must not try at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ExitStatus.ANSWERED
    except Exception as error:
        return _fail(
            f"This is a fault of guidestar itself ({type(error).__name__}: {error}); {_TRACEBACK} shows more.", 1
        )


def _status(returned: object) -> int:
    """Return the exit status of a command that ran: what it returned, if it chose one."""
    return returned if isinstance(returned, int) else ExitStatus.ANSWERED


def _fail(sentence: str, status: int) -> int:
    click.echo(f"guidestar: {sentence}", err=True)
    return status
