"""The entry point: exit statuses, tracebacks on request, quick help, lean imports, a reader that goes away."""

import importlib
import os
import subprocess
import sys

import click
import pytest

from guidestar import __version__
from guidestar.cli import main as entry
from guidestar.cli.main import COMMANDS, main
from guidestar.errors import DataError, InputError

HEAVY = ("astropy", "matplotlib", "pandas", "rich", "scipy", "healpy", "photutils")


def loaded_after(*arguments):
    """Run a command line in a process of its own; return its exit status and the packages that it loaded."""
    code = (
        "import contextlib, io, sys\n"
        "from guidestar.cli.main import main\n"
        "with contextlib.redirect_stdout(io.StringIO()):\n"
        "    status = main(sys.argv[1:])\n"
        "print(status, *sorted({name.split('.')[0] for name in sys.modules}))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)], capture_output=True, text=True, check=True
    )
    status, *packages = done.stdout.split()
    return int(status), set(packages)


def test_help_loads_nothing_heavy():
    for arguments in (("--help",), ("--version",), ("check", "--help"), ("reach", "--help"), ("rig", "--help")):
        status, packages = loaded_after(*arguments)
        assert status == 0
        assert not packages & {*HEAVY, "numpy", "pyarrow", "erfa", "pydantic"}, arguments


@pytest.mark.parametrize("command", [("check", "NGC 7331"), ("reach",)])
def test_json_loads_no_more_than_it_needs(rig_file, command):
    status, packages = loaded_after(*command, "--rig", rig_file, "--json")
    assert status == 0
    assert "numpy" in packages
    assert not packages & set(HEAVY)


@pytest.mark.parametrize("command", [("check", "NGC 7331"), ("reach",)])
def test_words_load_no_pictures(rig_file, command):
    status, packages = loaded_after(*command, "--rig", rig_file)
    assert status == 0
    assert "rich" in packages
    assert not packages & (set(HEAVY) - {"rich"})


def test_output_is_utf8_whatever_the_code_page(rig_file):
    done = subprocess.run(
        [sys.executable, "-m", "guidestar", "rig", "show", "--rig", str(rig_file)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "cp1252"},
        check=True,
    )
    assert "′ × " in done.stdout.decode("utf-8").replace("\u00a0", " ")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_listed_and_explains_itself(capsys, name):
    assert main(["--help"]) == 0
    assert f"\n  {name} " in capsys.readouterr().out
    assert main([name, "--help"]) == 0
    assert "Usage: guidestar" in capsys.readouterr().out
    assert isinstance(importlib.import_module(COMMANDS[name]).command, click.Command)


def test_the_version_is_told(capsys):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"guidestar {__version__}\n"


def test_no_command_is_answered_with_the_help(capsys):
    assert main([]) == 2
    assert "Commands:" in capsys.readouterr().out


@pytest.mark.parametrize("arguments", [["chekc"], ["check", "--no-such-option"], ["--no-such-option"]])
def test_an_unknown_word_is_one_sentence(capsys, arguments):
    assert main(arguments) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert arguments[-1].lstrip("-") in err


def command_that_raises(monkeypatch, error):
    @click.command("check")
    def command():
        raise error

    module = type(sys)("made_up")
    module.command = command
    monkeypatch.setitem(sys.modules, "made_up", module)
    monkeypatch.setitem(entry.COMMANDS, "check", "made_up")


@pytest.mark.parametrize(
    ("error", "status", "words"),
    [
        (InputError("--angle 1000: no."), 2, "guidestar: --angle 1000: no.\n"),
        (DataError("The file is damaged."), 3, "guidestar: The file is damaged.\n"),
        (KeyboardInterrupt(), 130, "guidestar: Stopped.\n"),
    ],
)
def test_each_kind_of_failure_has_its_status(capsys, monkeypatch, error, status, words):
    command_that_raises(monkeypatch, error)
    assert main(["check"]) == status
    assert capsys.readouterr().err.strip("\n") == words.strip("\n")


def test_a_fault_of_the_program_is_a_sentence_that_says_so(capsys, monkeypatch):
    command_that_raises(monkeypatch, ZeroDivisionError("by zero"))
    assert main(["check"]) == 1
    err = capsys.readouterr().err
    assert "a fault of guidestar itself (ZeroDivisionError: by zero); --traceback shows more" in err
    assert "File" not in err


@pytest.mark.parametrize("arguments", [["--traceback", "check"], ["check", "--traceback"]])
def test_a_traceback_only_on_request(monkeypatch, arguments):
    command_that_raises(monkeypatch, InputError("no."))
    with pytest.raises(InputError, match="no"):
        main(arguments)


def test_the_exit_status_reaches_the_shell(rig_file):
    def status(*arguments):
        words = [sys.executable, "-m", "guidestar", *map(str, arguments)]
        return subprocess.run(words, capture_output=True, check=False).returncode

    assert status("reach", "--rig", rig_file) == 0
    assert status("reach", "--rig", "none.toml") == 2


@pytest.mark.parametrize(
    "command", ["rig show --rig", "reach --rig", "reach --json --rig", "check M31 --rig", "reach --help --rig"]
)
def test_a_reader_that_goes_away_is_no_failure(rig_file, command):
    words = [sys.executable, "-m", "guidestar", *command.split(), str(rig_file)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        process.stdout.close()  # long before the program has anything to say
        assert process.stderr.read() == ""
        assert process.wait() == 0
