"""How long a person waits, from typing to the answer: whole processes, the second run of each, side by side.

Run: python tests/benchmarks/bench_process.py [rounds]. `check --json` is held against the bare import of two packages
that such programs usually load, so that the figure means the same on a slow machine.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PRESET = "compound-2000-f10-prism-14x8"
COMMANDS = {
    "check --json": ["-m", "guidestar", "check", "NGC 7331", "--rig", "rig.toml", "--json"],
    "imports": ["-c", "import astropy.coordinates, pyarrow.parquet"],
    "--help": ["-m", "guidestar", "--help"],
    "check with a figure": ["-m", "guidestar", "check", "NGC 7331", "--rig", "rig.toml", "--figure", "page.png"],
}
MOST_RATIO = 1.6
MOST_HELP_S = 0.25


def seconds(arguments: list[str], folder: Path) -> float:
    """Return how long one run of Python takes."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], cwd=folder, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def main(rounds: int) -> None:
    """Print a table of times, and the two figures that have a limit."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        seconds(["-m", "guidestar", "rig", "new", "rig.toml", "--from", PRESET], folder)
        for arguments in COMMANDS.values():
            seconds(arguments, folder)  # the first run fills caches
        times = [{what: seconds(arguments, folder) for what, arguments in COMMANDS.items()} for _ in range(rounds)]
    middle = {what: statistics.median(round_[what] for round_ in times) for what in COMMANDS}
    for what, value in middle.items():
        print(f"{what:20s} median {value:.3f} s, best {min(round_[what] for round_ in times):.3f} s")
    print(f"check --json over imports: {middle['check --json'] / middle['imports']:.2f} (at most {MOST_RATIO})")
    print(f"--help: {middle['--help']:.3f} s (at most {MOST_HELP_S})")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
