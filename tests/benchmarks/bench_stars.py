"""How long searches of the built-in catalogue take: `python tests/benchmarks/bench_stars.py` (no part of the tests)."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial

from guidestar.stars.source import cone
from guidestar.stars.tycho2 import tycho2
from guidestar.stars.validation import verify

SEARCHES = {
    "0.5° in a sparse field": (339.27, 34.42, 0.5),
    "1° in a sparse field": (339.27, 34.42, 1.0),
    "1° at the pole, four files": (0.0, 89.9, 1.0),
    "1° in the Milky Way": (270.0, -25.0, 1.0),
    "20°": (45.0, 0.0, 20.0),
}


def milliseconds(what: Callable[[], object], runs: int) -> float:
    """Return the best time of some runs."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        what()
        times.append(time.perf_counter() - start)
    return 1e3 * min(times)


def main() -> None:
    """Print a table of times."""
    source = tycho2()
    for name, (ra_deg, dec_deg, radius_deg) in SEARCHES.items():
        search = partial(cone, source, ra_deg, dec_deg, radius_deg, faintest_mag=12.0, epoch_year=2026.0)
        first, again = milliseconds(search, 1), milliseconds(search, 20)
        print(f"{name:30s} first {first:7.1f} ms, again {again:7.1f} ms")
    print(f"{'verify all files':30s} {milliseconds(lambda: verify(source.folder), 3):13.1f} ms")


if __name__ == "__main__":
    main()
