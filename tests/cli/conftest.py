"""What the tests of commands share: a command run as a person runs it, a rig file to run it with.

A test module names its command in COMMAND, words put before every line; another rig than the usual in PRESET.
"""

import pytest
from support.sky_maps import invented_stars

from guidestar.cli.main import main
from guidestar.rig import preset_toml
from guidestar.stars.choose import Choice


@pytest.fixture
def run_line(capsys):
    """Run a command line; return exit status, standard output, standard error."""

    def run_it(*arguments):
        status = main([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return run_it


@pytest.fixture
def run(request, run_line):
    """Run the module's command."""
    command = getattr(request.module, "COMMAND", ())
    return lambda *arguments: run_line(*command, *arguments)


@pytest.fixture
def rig_file(request, tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text(preset_toml(getattr(request.module, "PRESET", "compound-2000-f10-prism-14x8")), encoding="utf-8")
    return path


@pytest.fixture
def few_stars(monkeypatch):
    """Let invented stars stand in for the catalogue, whose 2.5 million take a second to read."""
    monkeypatch.setattr("guidestar.api.maps.choose_for_sky", lambda *_: Choice(invented_stars(complete_to_mag=20.0)))
