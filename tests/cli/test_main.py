"""The entry point: exit statuses, tracebacks on request, quick help, lean imports, Ctrl-C, output that goes nowhere."""

import importlib
import logging
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import click
import pytest
from support.command_line import one_sentence

from guidestar import __version__
from guidestar.cli import commands as entry
from guidestar.cli import stopping
from guidestar.cli.commands import COMMANDS
from guidestar.cli.main import main
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


def run_in_a_shell(*words, env=None, **streams):
    """Run the program as a process of its own; return exit status and standard error."""
    given = {"stdout": subprocess.DEVNULL, **streams}
    done = subprocess.run(
        [sys.executable, "-m", "guidestar", *words],
        stderr=subprocess.PIPE, env={**os.environ, **(env or {})}, check=False, **given,
    )  # fmt: skip
    return done.returncode, done.stderr.decode("utf-8")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("command", ["rig show --rig", "check M31 --rig", "reach --json --rig", "reach --help --rig"])
def test_output_that_cannot_be_written_is_a_sentence(rig_file, command):
    with Path("/dev/full").open("wb") as full:
        status, err = run_in_a_shell(*command.split(), rig_file, stdout=full)
    assert status == 3
    assert "The output cannot be written (No space left on device)" in one_sentence(err)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("words", [[], ["rig"], ["stars"]])
def test_neither_can_the_help_of_a_command_that_wants_more_words(words):
    with Path("/dev/full").open("wb") as full:
        status, err = run_in_a_shell(*words, stdout=full)
    assert status == 3
    assert "The output cannot be written (No space left on device)" in one_sentence(err)


@pytest.mark.skipif(os.name != "posix", reason="a pipe as a shell makes it")
@pytest.mark.parametrize("words", [[], ["rig"], ["stars"]])
def test_a_reader_that_went_away_is_silence_there_too(words):
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "wb") as gone:
        assert run_in_a_shell(*words, stdout=gone) == (0, "")


def test_a_full_disk_elsewhere_is_not_taken_for_the_output(capsys, monkeypatch):
    command_that_raises(monkeypatch, OSError(28, "No space left on device"))
    assert main(["check"]) == 1
    assert "a fault of guidestar itself" in capsys.readouterr().err


@pytest.mark.skipif(os.name != "posix", reason="a shell's way to close a stream")
@pytest.mark.parametrize(
    ("closed", "status", "words"),
    [(">&-", 3, "standard output is closed"), ("2>&-", 2, ""), ("<&-", 2, "no such file")],
)
def test_closed_streams(closed, status, words):
    line = f'exec "{sys.executable}" -m guidestar reach --rig none.toml {closed}'
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, check=False)
    assert done.returncode == status
    assert words in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="names of arbitrary bytes")
@pytest.mark.parametrize(
    "words",
    [("check", b"\xff\xfe", "--rig", "RIG"), ("reach", "--rig", b"\xff.toml"), ("check", "Żółw", "--rig", "RIG")],
)
def test_names_that_are_no_text_are_shown_with_backslashes(rig_file, words):
    plain_c = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    status, err = run_in_a_shell(*(rig_file if word == "RIG" else word for word in words), env=plain_c)
    assert status == 2
    assert "\\udc" in one_sentence(err)


@pytest.mark.skipif(os.name != "posix", reason="names of arbitrary bytes")
def test_a_picture_may_have_a_name_that_is_no_text(rig_file):
    picture = os.fsencode(rig_file.parent) + b"/a\xff.png"
    assert run_in_a_shell("reach", "--rig", rig_file, "--figure", picture) == (0, "")
    assert Path(os.fsdecode(picture)).stat().st_size > 10_000


def test_a_home_folder_that_cannot_be_written_is_not_complained_about(rig_file, tmp_path):
    nowhere = {"HOME": "/proc/none", "MPLCONFIGDIR": str(rig_file), "XDG_CACHE_HOME": "", "XDG_CONFIG_HOME": ""}
    assert run_in_a_shell("reach", "--rig", rig_file, "--figure", tmp_path / "a.png", env=nowhere) == (0, "")


def test_remarks_of_libraries_are_left_alone_for_callers_from_python(rig_file):
    assert main(["reach", "--rig", str(rig_file)]) == 0
    assert logging.getLogger("matplotlib").level == logging.NOTSET


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("chekc",), "There is no command \"chekc\": did you mean 'check'?"),
        (("rig", "shw"), "There is no command \"shw\": did you mean 'show'?"),
        (("stars", "ftech"), "There is no command \"ftech\": did you mean 'fetch'?"),
        (("zzz",), "There is no command \"zzz\": 'guidestar --help' lists them."),
        (
            ("check", "22", "37", "04", "-34", "24", "56", "--rig", "a.toml"),
            'put coordinates in quotes, as in "22 37 04',
        ),
        (("check", "22", "37", "04", "-.5", "--rig", "a.toml"), "put coordinates in quotes"),
        (("reach", "--rig", "none.toml"), "guidestar rig new PATH."),
        (("reach", "--rig", ""), "the file's name is empty; give its path."),
    ],
)
def test_what_was_typed_wrongly_is_told_with_the_remedy(capsys, words, sentence):
    assert main(words) == 2
    err = one_sentence(capsys.readouterr().err)
    assert sentence in err
    assert err.endswith((".\n", "?\n"))


def test_each_fault_of_a_rig_is_a_sentence(capsys, rig_file):
    rig_file.write_text(
        rig_file.read_text(encoding="utf-8").replace("aperture_mm = 200", "aperture_mm = -1", 1) + "[x]\n"
    )
    assert main(["reach", "--rig", str(rig_file)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 2
    assert all(line.endswith((".", "?")) for line in lines)


# ------------------------------------------------------------------------------------------------------------- Ctrl-C

on_posix = pytest.mark.skipif(os.name != "posix", reason="a signal sent to oneself ends the process elsewhere")


@on_posix
@pytest.mark.parametrize("package", ["click", "guidestar.errors", "numpy", "matplotlib"])
def test_ctrl_c_while_something_is_imported(rig_file, tmp_path, package):
    code = (
        "import os, signal, sys\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # also where the tests run in the background
        "class Finder:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        f"        if name == {package!r}:\n"
        "            os.kill(os.getpid(), signal.SIGINT)\n"
        "sys.meta_path.insert(0, Finder())\n"
        "from guidestar.cli.main import run\n"
        "run()\n"
    )
    words = [sys.executable, "-c", code, "reach", "--rig", rig_file, "--figure", tmp_path / "a.png"]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 130
    assert done.stderr == "\nguidestar: Stopped.\n"
    assert not (tmp_path / "a.png").exists()


@pytest.fixture
def interrupting():
    """Heed Ctrl-C as the program does, and as before afterwards."""
    usual = signal.getsignal(signal.SIGINT)
    stopping.interrupt()
    yield
    signal.signal(signal.SIGINT, usual)


@pytest.fixture
def swallowing(tmp_path, monkeypatch):
    """Make a module that passes over every exception of its import, as libraries do."""
    (tmp_path / "swallowing_module.py").write_text(
        "import os, signal, time\n"
        "whole = False\n"
        "for _ in range(TIMES):\n"
        "    try:\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n"
        "        time.sleep(0.001)\n"
        "        whole = True\n"
        "    except BaseException:\n"
        "        whole = False\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.delitem(sys.modules, "swallowing_module", raising=False)
    return tmp_path / "swallowing_module.py"


@on_posix
def test_ctrl_c_cannot_be_lost_in_an_import(interrupting, swallowing):
    swallowing.write_text(swallowing.read_text().replace("TIMES", "1"))
    with pytest.raises(KeyboardInterrupt):  # noqa: PT012
        import swallowing_module

        assert swallowing_module.whole
        time.sleep(5)


@on_posix
def test_pressed_again_ctrl_c_does_not_wait_for_an_import(interrupting, swallowing):
    swallowing.write_text(swallowing.read_text().replace("TIMES", "2"))
    import swallowing_module

    assert not swallowing_module.whole
    time.sleep(0.1)  # nor does it come twice


@on_posix
def test_a_program_in_the_background_does_not_heed_ctrl_c(rig_file):
    code = (
        "import os, signal\n"
        "signal.signal(signal.SIGINT, signal.SIG_IGN)\n"
        "from guidestar.cli import commands, main\n"
        "usual = commands.answer\n"
        "commands.answer = lambda words: os.kill(os.getpid(), signal.SIGINT) or usual(words)\n"
        "main.run(['--version'])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == f"guidestar {__version__}\n"


@on_posix
def test_ctrl_c_while_python_waits_for_threads_at_its_end(rig_file):
    code = (
        "import signal, threading, time\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "threading.Thread(target=time.sleep, args=(30,)).start()\n"
        "from guidestar.cli.main import run\n"
        "run(['reach', '--rig', 'none.toml'])\n"
    )
    with subprocess.Popen([sys.executable, "-c", code], stderr=subprocess.PIPE, text=True) as process:
        assert "none.toml" in process.stderr.readline()
        time.sleep(0.3)
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=10) == 2
        assert process.stderr.read() == ""
