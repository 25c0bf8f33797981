"""The README's examples, run as a reader would type them; what they give is put where the page shows it.

    python -m tests.support.readme_examples            tell whether the page still holds
    python -m tests.support.readme_examples --write    bring page and pictures up to date

Fenced blocks, from the top of the page, all in one empty folder:

- ```console: each line that begins with "$ guidestar" is run; the lines below it are what it prints. A line […]
  stands for paragraphs left out: the others are found again by their first word.
- ```toml FILE: its keys are set in FILE, as a person would with an editor.
- ```csv FILE: written to FILE.
- ```python: ">>>" lines are run; the lines below each are what it prints.

A picture in notebooks/pictures/ that the page shows is one that an example drew under the same file name.
"""

from __future__ import annotations

import argparse
import contextlib
import doctest
import io
import os
import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
PICTURES = ROOT / "notebooks" / "pictures"

WIDTH = 100
LEFT_OUT = "[…]"
FENCE = re.compile(r"^```(?P<info>[^\n`]+)\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)

_PICTURE_WIDTH_PX = 1600
_PICTURE_COLOURS = 64


def rerun(page: str, folder: Path) -> str:
    """Run a page's examples in an empty folder; return the page as it should be."""
    names: dict[str, object] = {}

    def block(match: re.Match[str]) -> str:
        info, body = match["info"], match["body"]
        language, _, file = info.partition(" ")
        if language == "console":
            body = run_console(body, folder)
        elif language == "python":
            body = run_python(body, folder, names)
        elif language == "csv" and file:
            (folder / file).write_text(body, encoding="utf-8")
        elif language == "toml" and file:
            set_keys(folder / file, body)
        return f"```{info}\n{body}```"

    return FENCE.sub(block, page)


def run_console(body: str, folder: Path) -> str:
    """Run each command of a block; return the block with what they print now."""
    lead, *commands = re.split(r"^\$ ", body, flags=re.MULTILINE)
    assert not lead.strip(), f"a console block begins with '$ ', not with {lead!r}"
    return "".join(_shown(*command.partition("\n")[::2], folder) for command in commands)


def _shown(command: str, before: str, folder: Path) -> str:
    now = run_command(command, folder)
    gap = "\n" if before.endswith("\n\n") else ""
    return f"$ {command}\n{like(before, now)}{gap}"


def run_command(command: str, folder: Path) -> str:
    """Run one `guidestar …` line; return what a terminal would show."""
    program, *arguments = shlex.split(command)
    assert program == "guidestar", f"the README runs {program!r}: only guidestar is run here"
    done = subprocess.run(
        [sys.executable, "-m", "guidestar", *arguments],
        cwd=folder,
        env={**os.environ, "COLUMNS": str(WIDTH), "PYTHONIOENCODING": "utf-8", "PYTHONUTF8": "1", **no_store(folder)},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode in (0, 2), f"{command}: exit status {done.returncode}\n{done.stdout}"
    return done.stdout.rstrip("\n") + "\n" if done.stdout else ""


def no_store(folder: Path) -> dict[str, str]:
    """Return the environment in which only the built-in stars are there, whatever a developer has fetched."""
    return {"GUIDESTAR_STORE": str(folder / "no-store")}


def like(before: str, now: str) -> str:
    """Return what is printed now, with the same paragraphs left out as before."""
    kept = [paragraph.split(maxsplit=1)[0] for paragraph in before.strip("\n").split("\n\n") if paragraph.strip()]
    if LEFT_OUT not in kept:
        return now
    kept = [word for word in kept if word != LEFT_OUT]
    shown: list[str] = []
    for paragraph in now.strip("\n").split("\n\n"):
        if kept and paragraph.split(maxsplit=1)[0] == kept[0]:
            shown.append(paragraph)
            kept.pop(0)
        elif not shown or shown[-1] != LEFT_OUT:
            shown.append(LEFT_OUT)
    assert not kept, f"no paragraph begins with {kept[0]!r} any more in:\n{now}"
    return "\n\n".join(shown) + "\n"


def run_python(body: str, folder: Path, names: dict[str, object]) -> str:
    """Run a block's ">>>" lines; return it with what they print now."""
    parts = doctest.DocTestParser().parse(body)
    with contextlib.chdir(folder), mock.patch.dict(os.environ, no_store(folder)):
        return "".join(part if isinstance(part, str) else _typed(part, names) for part in parts)


def _typed(example: doctest.Example, names: dict[str, object]) -> str:
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(example.source, "<README>", "single"), names)
    first, *more = example.source.splitlines()
    return "".join(f"{line}\n" for line in (f">>> {first}", *(f"... {line}" for line in more))) + printed.getvalue()


def set_keys(path: Path, body: str) -> None:
    """Set keys of a TOML file, line by line, as a person would with an editor; what is not there is an error."""
    lines = path.read_text(encoding="utf-8").splitlines()
    section = ""
    for wanted in filter(None, map(str.strip, body.splitlines())):
        if wanted.startswith("["):
            section = wanted
            continue
        key, _, value = (part.strip() for part in wanted.partition("="))
        here = lines.index(section)
        at = next(i for i in range(here, len(lines)) if re.match(rf"{key} *=", lines[i]))
        assert not any(line.startswith("[") for line in lines[here + 1 : at]), f"{key} is not in {section}"
        lines[at] = re.sub(r"= *\S+", f"= {value.partition(' #')[0].strip()}", lines[at], count=1)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def pictures(page: str) -> list[str]:
    """Return the names of the drawn pictures that the page shows."""
    return re.findall(r"\(notebooks/pictures/([^)]+\.png)\)", page)


def made_small(path: Path) -> bytes:
    """Return a drawn picture at the size and in the few shades that a page needs."""
    from PIL import Image

    with Image.open(path) as image:
        height = round(image.height * _PICTURE_WIDTH_PX / image.width)
        small = image.convert("RGB").resize((_PICTURE_WIDTH_PX, height), Image.Resampling.LANCZOS)
    data = io.BytesIO()
    # An octree keeps a colour that few pixels have; median cut would turn the one accent grey.
    few = small.quantize(_PICTURE_COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.save(data, "PNG", optimize=True)
    return data.getvalue()


def main() -> int:
    """Compare the page with what its examples give, or bring it up to date."""
    parser = argparse.ArgumentParser(description="Run the README's examples.")
    parser.add_argument("--write", action="store_true", help="bring the page and its pictures up to date")
    write = parser.parse_args().write
    page = README.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        now = rerun(page, Path(folder))
        if write:
            README.write_text(now, encoding="utf-8", newline="\n")
            for name in pictures(now):
                (PICTURES / name).write_bytes(made_small(Path(folder) / name))
    print(
        "The README holds." if now == page else "The README was out of date." if write else "The README is out of date."
    )
    return 0 if write or now == page else 1


if __name__ == "__main__":
    raise SystemExit(main())
