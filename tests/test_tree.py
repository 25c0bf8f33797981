"""The map of the tree in DEVELOPERS.md is the tree."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
MAPPED = ("guidestar", "tests", "data", "notebooks")
NOT_KEPT = ("originals", "__pycache__")
SHORTEST_WORDS = 8


def the_map() -> dict[str, str]:
    """Return path → what the map says of it; folders end with a slash."""
    block = PAGE.partition("## Map of the tree")[2].partition("```text\n")[2].partition("```")[0]
    entries: dict[str, str] = {}
    above: list[str] = []
    for line in block.splitlines():
        found = re.fullmatch(r"(?P<indent>(?:  )*)(?P<name>\S+)(?: +(?P<words>\S.*))?", line)
        assert found, f"the map has a line that is no entry: {line!r}"
        depth = len(found["indent"]) // 2
        assert depth <= len(above), f"{line!r} stands too far in"
        above = [*above[:depth], found["name"]]
        path = "".join(above)
        assert path not in entries, f"{path} is in the map twice"
        entries[path] = found["words"] or ""
    return entries


def the_tree() -> set[str]:
    """Return what the map must hold: every package and module, and what lies beside them, down to test folders."""
    modules = [path for path in (ROOT / "guidestar").rglob("*.py") if path.name != "__init__.py"]
    files = [
        *modules,
        ROOT / "guidestar" / "__init__.py",
        *(ROOT / "tests").glob("*.py"),
        *(path for path in (ROOT / "tests" / "support").glob("*.py") if path.name != "__init__.py"),
        *(ROOT / "tests" / "benchmarks").glob("*.py"),
        *(ROOT / "data").glob("*.*"),
        *(ROOT / "notebooks").glob("*.ipynb"),
    ]
    test_folders = {path.parent for path in (ROOT / "tests").glob("*/*") if path.is_file()}
    data = {path for path in (ROOT / "data").iterdir() if path.is_dir() and path.name not in NOT_KEPT}
    folders = {path.parent for path in files} | test_folders | data | {ROOT / "notebooks" / "pictures"}
    return {path.relative_to(ROOT).as_posix() for path in files} | {
        f"{path.relative_to(ROOT).as_posix()}/" for path in folders
    }


def test_the_map_holds_every_package_and_module_and_no_other() -> None:
    mapped = {path for path in the_map() if path.startswith(tuple(f"{top}/" for top in MAPPED))}
    missing = [f"add a line for {path} ({first_line(path)})" for path in sorted(the_tree() - mapped)]
    gone = [f"drop the line of {path}" for path in sorted(mapped - the_tree())]
    assert not missing + gone, "\n".join(["the map in DEVELOPERS.md:", *missing, *gone])


def first_line(path: str) -> str:
    """Return what a module says of itself, to start a line of the map from."""
    if not path.endswith(".py"):
        return "no module"
    return (ast.get_docstring(ast.parse((ROOT / path).read_text(encoding="utf-8"))) or "").partition("\n")[0]


@pytest.mark.parametrize("path", [path for path in the_map() if not path.startswith(MAPPED)])
def test_what_else_the_map_names_is_there(path: str) -> None:
    assert (ROOT / path).exists()


def test_every_entry_says_what_it_is() -> None:
    assert [path for path, words in the_map().items() if len(words) < SHORTEST_WORDS] == []


def test_the_code_named_in_the_text_exists() -> None:
    # Without the map and shell blocks: names such as `guidestar/sky/plane.py` or `field/check.py` in the running text.
    text = re.sub(r"^```.*?^```$", "", PAGE, flags=re.MULTILINE | re.DOTALL)
    named = {
        name for name in re.findall(r"`([\w./]+/[\w.]*|[\w./]+\.(?:py|md|toml|ipynb))`", text) if "NAME" not in name
    }
    assert len(named) > 10
    gone = [name for name in named if not any((base / name).exists() for base in (ROOT, ROOT / "guidestar"))]
    assert gone == []
