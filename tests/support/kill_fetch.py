"""Fetching stars and counts in a process that is killed at a random moment, and what is left then."""

from __future__ import annotations

import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from guidestar.sky import regions
from guidestar.stars import store_check
from guidestar.stars.fetch import fetch
from guidestar.stars.fetch_counts import fetch_counts
from guidestar.stars.services import services_for
from guidestar.stars.store import Store

REGION = "3/300 301 310"
FAINTEST_MAG = 10.0
_CODE = """
import sys
from guidestar.stars import fetch, fetch_counts
from guidestar.sky import regions
from guidestar.stars.services import services_for
from guidestar.stars.store import Store
from pathlib import Path
fetch.ROWS_PER_PIECE = 40  # many small pieces, so that many moments lie within a change to the store
fetch_counts.STARS_PER_PIECE = 60
what = (Store(Path(sys.argv[1])), services_for(sys.argv[2]), regions.from_text(sys.argv[3]), float(sys.argv[4]))
fetch.fetch(*what)
fetch_counts.fetch_counts(*what)
"""


@dataclass(frozen=True)
class Outcome:
    """After one kill: was the store whole, how much had come, and is the resumed content that of a whole fetch?"""

    after_s: float
    killed: bool
    whole: bool
    stars_before: int
    same_content: bool


def start(store: Path, url: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-c", _CODE, str(store), url, REGION, str(FAINTEST_MAG)])


def contents(folder: Path) -> dict[str, bytes]:
    files = (file for file in folder.rglob("*") if file.is_file() and file.name != ".lock")
    return {file.relative_to(folder).as_posix(): file.read_bytes() for file in files}


def kill_many(folder: Path, url: str, times: int, seed: int) -> list[Outcome]:
    """Kill so many fetches, each at a moment drawn evenly from the time that a whole one takes."""
    begin = time.monotonic()
    assert start(folder / "whole", url).wait() == 0
    whole_s = time.monotonic() - begin
    expected = contents(folder / "whole")
    moments = np.random.default_rng(seed).uniform(0.0, whole_s, times)
    return [_kill_one(folder / f"kill{i}", url, float(moment), expected) for i, moment in enumerate(moments)]


def _kill_one(folder: Path, url: str, after_s: float, expected: dict[str, bytes]) -> Outcome:
    process = start(folder, url)
    time.sleep(after_s)
    killed = process.poll() is None
    process.kill()
    process.wait()
    store = Store(folder)
    whole = store_check.faults(store) == ()
    stars = len(store.read(store.pixels(), ["g"])["g"]) if store.pixels() else 0
    fetch(store, services_for(url), regions.from_text(REGION), FAINTEST_MAG)
    fetch_counts(store, services_for(url), regions.from_text(REGION), FAINTEST_MAG)
    return Outcome(after_s, killed, whole and store_check.faults(store) == (), stars, contents(folder) == expected)
