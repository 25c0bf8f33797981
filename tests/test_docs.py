"""The README holds: its examples print what it shows, its pictures are drawn, its links and options exist."""

from __future__ import annotations

import io
import re
import shlex
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image
from support import readme_examples as examples

from guidestar import __version__
from guidestar.cli.commands import COMMANDS, group

ROOT = examples.ROOT
PAGE = examples.README.read_text(encoding="utf-8")
PAGES = [*sorted(ROOT.glob("*.md")), ROOT / "data" / "README.md"]
PLAIN = examples.FENCE.sub("", PAGE)
GROUPS = {"rig": ("new", "show"), "stars": ("counts", "fetch", "import", "list", "remove", "verify")}

MOST_PICTURE_BYTES = 150_000
MOST_PICTURE_DIFFERENCE = 5.0
"""Root mean square difference of `shapes`, of 255. Another release of matplotlib sets letters elsewhere and gives 2;
the same page for a camera angle 8° away gives 16, for a prism 0.2 mm farther out 21."""


@dataclass(frozen=True)
class Rerun:
    """The page as its examples make it, and the folder that they left behind."""

    page: str
    folder: Path


pytestmark = pytest.mark.timeout(
    900
)  # the page's examples run as a whole, and on a fresh machine the maps compile first


@pytest.fixture(scope="module")
def rerun(tmp_path_factory: pytest.TempPathFactory) -> Rerun:
    folder = tmp_path_factory.mktemp("readme")
    return Rerun(examples.rerun(PAGE, folder), folder)


@pytest.mark.slow
def test_the_examples_print_what_the_page_shows(rerun: Rerun) -> None:
    # To mend: python -m tests.support.readme_examples --write, then read what changed.
    assert rerun.page.splitlines() == PAGE.splitlines()


@pytest.mark.slow
@pytest.mark.parametrize("name", examples.pictures(PAGE))
def test_a_picture_is_the_one_that_its_example_draws(rerun: Rerun, name: str) -> None:
    shown = examples.PICTURES / name
    assert shown.stat().st_size <= MOST_PICTURE_BYTES
    difference = shapes(shown.read_bytes()) - shapes(examples.made_small(rerun.folder / name))
    assert np.sqrt(np.mean(difference**2)) < MOST_PICTURE_DIFFERENCE


def shapes(picture: bytes) -> np.ndarray:
    """Return the sky and the dial of a page in 8 × 8 pixel cells of grey, too coarse for letters to matter much."""
    with Image.open(io.BytesIO(picture)) as image:
        width, height = image.size
        part = image.convert("L").crop((0, height // 11, width * 4 // 5, height * 5 // 8))
        return np.asarray(part.resize((part.width // 8, part.height // 8), Image.Resampling.BOX), float)


def test_every_picture_is_shown() -> None:
    assert sorted(path.name for path in examples.PICTURES.iterdir()) == sorted(set(examples.pictures(PAGE)))


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_somewhere(path: Path) -> None:
    text = examples.FENCE.sub("", path.read_text(encoding="utf-8"))
    links = [link for link in re.findall(r"\]\(([^)\s]+)\)", text) if not link.startswith("https://")]
    for link in links:
        file, _, heading = link.partition("#")
        there = path.parent / file if file else path
        assert there.exists(), link
        assert not heading or heading in headings(there), link


def headings(path: Path) -> set[str]:
    """Return the anchors of a page's headings, as the usual renderers make them."""
    titles = re.findall(r"^#+ (.+)$", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}


def help_of(*command: str) -> str:
    done = CliRunner().invoke(group, [*command, "--help"])
    assert done.exit_code == 0, done.output
    return done.output


def command_lines() -> list[list[str]]:
    """Return the arguments of every `guidestar …` line of the page, in blocks and in the running text."""
    blocks = re.findall(r"^(?:\$ |\S*[/\\])guidestar (.+)$", PAGE, flags=re.MULTILINE)
    return [shlex.split(line) for line in blocks + re.findall(r"`guidestar ([^`]+)`", PLAIN)]


@pytest.mark.parametrize("arguments", command_lines(), ids=" ".join)
def test_the_options_that_a_line_uses_are_in_that_commands_help(arguments: list[str]) -> None:
    options = [word for word in arguments if word.startswith("--") and word != "--help"]
    words = arguments[: 2 if arguments[0] in GROUPS else 1]
    text = help_of(*words)
    assert [option for option in options if not re.search(rf"{option}\b", text)] == []


def test_the_options_named_in_the_text_exist() -> None:
    subcommands = [(name, sub) for name, its in GROUPS.items() for sub in its]
    everything = "".join(help_of(*words) for words in [(), *((name,) for name in COMMANDS), *subcommands])
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", PLAIN))
    assert len(named) > 5
    assert {option for option in named if not re.search(rf"{option}\b", everything)} == set()


def test_every_command_is_on_the_page() -> None:
    assert [name for name in COMMANDS if f"`guidestar {name}" not in PLAIN] == []


def test_both_ways_to_start_do_what_make_demo_does() -> None:
    recipe = (ROOT / "Makefile").read_text(encoding="utf-8")
    preset = re.search(r"--from (\S+)", recipe)
    assert preset is not None
    assert PAGE.count(f"rig new demo-rig.toml --from {preset[1]}") == 2
    assert PAGE.count('check "NGC 7331" --rig demo-rig.toml') == 2
    for target in re.findall(r"^make (\S+)", PAGE, flags=re.MULTILINE):
        assert re.search(rf"^{target}:", recipe, flags=re.MULTILINE), target


def test_the_changelog_begins_with_this_version() -> None:
    first = re.search(r"^## (\S+)", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"), flags=re.MULTILINE)
    assert first is not None
    assert first[1] == __version__


def test_the_credits_name_every_library_that_is_installed() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    credits = PAGE.partition("## Data and credits")[2].lower()
    names = [re.split(r"[<>=~;\[ ]", line)[0] for line in project["dependencies"]]
    assert [name for name in names if name not in credits] == []
