"""The wheel carries everything: installed elsewhere, with the repository and the network out of reach, it answers."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from guidestar.stars.tycho2 import tycho2

pytestmark = [pytest.mark.slow, pytest.mark.timeout(300)]

ROOT = Path(__file__).resolve().parents[1]
QUESTION = ("check", "NGC 7331", "--rig", "rig.toml", "--epoch", "2027", "--json")
MOST_WHEEL_BYTES = 85_000_000

# Imported by Python at start: whoever asks for a connection, or for a name's address, gets an error.
NO_NETWORK = """
import socket
def _refuse(*_, **__):
    raise OSError("no network in this test")
socket.socket.connect = socket.socket.connect_ex = socket.getaddrinfo = _refuse
"""


@dataclass(frozen=True)
class Elsewhere:
    """An environment that holds the wheel and its dependencies, and an empty folder to work in."""

    python: Path
    scripts: Path
    folder: Path

    def run(self, *command: str | Path) -> str:
        """Run a command there and return what it prints."""
        bare = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
        return run(command, cwd=self.folder, env={**bare, "PYTHONUTF8": "1", "PYTHONIOENCODING": "utf-8"})


def run(command: tuple[str | Path, ...], **options: object) -> str:
    done = subprocess.run([*map(str, command)], capture_output=True, encoding="utf-8", check=False, **options)
    assert done.returncode == 0, f"{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    # Without isolation the build needs no package index: the build backend is one of the test dependencies.
    folder = tmp_path_factory.mktemp("wheel")
    run((sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT))
    return next(folder.glob("guidestar-*.whl"))


@pytest.fixture(scope="module")
def elsewhere(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Elsewhere:
    home = tmp_path_factory.mktemp("elsewhere")
    venv.create(home / "env", with_pip=False, symlinks=os.name != "nt")
    places = sysconfig.get_paths("venv", vars={"base": str(home / "env"), "platbase": str(home / "env")})
    scripts, site = Path(places["scripts"]), Path(places["purelib"])
    python = scripts / Path(sys.executable).name
    python = python if python.exists() else scripts / ("python.exe" if os.name == "nt" else "python")
    pip = (sys.executable, "-m", "pip", "--python", python, "--disable-pip-version-check")
    run((*pip, "install", "--quiet", "--no-index", "--no-deps", wheel), cwd=home)
    # The dependencies are borrowed from here. Only the folder itself is added: links in it, such as the one by which
    # this repository is installed, are not followed.
    (site / "no_network.py").write_text(NO_NETWORK, encoding="utf-8")
    (site / "borrowed.pth").write_text(f"{sysconfig.get_path('purelib')}\nimport no_network\n", encoding="utf-8")
    folder = home / "work"
    folder.mkdir()
    return Elsewhere(python, scripts, folder)


def test_the_repository_and_the_network_are_out_of_reach(elsewhere: Elsewhere) -> None:
    code = "import sys, guidestar; print(guidestar.__file__, *sys.path, sep='\\n')"
    where, *path = elsewhere.run(elsewhere.python, "-c", code).splitlines()
    assert Path(where).is_relative_to(elsewhere.folder.parent)
    assert str(ROOT) not in path
    refused = "import socket\ntry: socket.create_connection(('127.0.0.1', 9))\nexcept OSError as e: print(e)"
    assert elsewhere.run(elsewhere.python, "-c", refused) == "no network in this test\n"


def test_it_answers_as_the_repository_does(elsewhere: Elsewhere) -> None:
    guidestar = elsewhere.scripts / "guidestar"
    elsewhere.run(guidestar, "rig", "new", "rig.toml")
    theirs = json.loads(elsewhere.run(guidestar, *QUESTION))
    ours = json.loads(run((sys.executable, "-m", "guidestar", *QUESTION), cwd=elsewhere.folder))
    assert theirs == ours
    assert theirs["guide_stars"]


def test_its_catalogue_is_whole(elsewhere: Elsewhere) -> None:
    code = (
        "from guidestar.stars.tycho2 import tycho2; from guidestar.stars.validation import verify; "
        "source = tycho2(); verify(source.folder); print(source.folder.path)"
    )
    where = elsewhere.run(elsewhere.python, "-c", code).strip()
    assert Path(where).is_relative_to(elsewhere.folder.parent)
    assert Path(where) != Path(tycho2().folder.path)


def test_it_holds_the_package_and_the_catalogue_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert {name.partition("/")[0].partition("-")[0] for name in names} == {"guidestar"}
    assert [name for name in names if name.startswith(("guidestar/tests", "tests")) or "__pycache__" in name] == []
    modules = {str(path.relative_to(ROOT).as_posix()) for path in (ROOT / "guidestar").rglob("*.py")}
    assert modules <= set(names)
    data = [path for path in (ROOT / "data").glob("*/**/*") if path.is_file() and "originals" not in path.parts]
    assert {f"guidestar/{path.relative_to(ROOT).as_posix()}" for path in data} <= set(names)
    assert sum(name.endswith(".parquet") for name in names) == 192
    assert wheel.stat().st_size < MOST_WHEEL_BYTES
