"""How long the sky map takes, beside the bare loop over the same stars and the slow twin, all in one run.

At the end the same on a deep sky, in a process of its own for its memory; see `bench_deep_map.py`.

`python tests/benchmarks/bench_maps.py` (no part of the tests). The floor is one dot product and a count for every star
in the cells that a ring touches, in the sweep's own order. Times are processor seconds of one thread, which other work
on the machine disturbs least, but for whole sweeps and processes, which are what a clock on the wall shows.
"""

from __future__ import annotations

import math
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from threading import Event

import numpy as np
from numba import njit

from guidestar.maps import kernels
from guidestar.maps.engine import Block, _further, _read
from guidestar.maps.facts import sweep_facts
from guidestar.maps.further import usual_grid
from guidestar.maps.kernel_field import Wish
from guidestar.maps.kernel_target import basis
from guidestar.maps.kernel_windows import cell_ranges, zone_widths
from guidestar.maps.numbers import rig_numbers
from guidestar.maps.order import ordered
from guidestar.maps.sweep import sky_map
from guidestar.maps.twin import coverage_by_checks
from guidestar.rig.presets import preset
from guidestar.sky import healpix
from guidestar.stars.source import StarSource
from guidestar.stars.tycho2 import tycho2

RIGS = ("compound-2000-f10", "newtonian-1000-f5", "refractor-480-f6")
YEAR = 2026.9
SLOW_TARGETS = 20
ANGLES = 3600
"""How many single camera angles a check of all angles stands for: 0.1°, coarser than its ends are exact."""


@njit(nogil=True, error_model="numpy")
def floor(stars, ra, dec, inner, outer):
    """Count the stars in the rings of targets, and those that are looked at for it."""
    zones, vectors, starts = stars.zones, stars.vectors, stars.starts
    most = int(2.0 * (outer + 1e-6) / zones.height) + 3
    widths, ranges = np.empty((most, 2)), np.empty((4 * most, 2), np.int64)
    least, greatest = math.cos(outer), (math.cos(inner) if inner > 0.0 else 2.0)
    zone, number_of_zones, before, pairs, looked_at = 0, 0, np.nan, 0, 0
    for target in range(ra.shape[0]):
        if dec[target] != before:
            zone, number_of_zones = zone_widths(zones, dec[target], inner, outer, widths)
            before = dec[target]
        number = cell_ranges(zones, ra[target], zone, number_of_zones, widths, ranges)
        x, y, z = basis(ra[target], dec[target])[0]
        for layer in range(starts.shape[0]):
            for r in range(number):
                first, last = starts[layer, ranges[r, 0]], starts[layer, ranges[r, 1]]
                looked_at += last - first
                for i in range(first, last):
                    cosine = vectors[i, 0] * x + vectors[i, 1] * y + vectors[i, 2] * z
                    pairs += least <= cosine <= greatest
    return pairs, looked_at


def cpu_seconds(what: Callable[[], object], runs: int = 2) -> float:
    """Return the least processor time of some runs."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        what()
        times.append(time.process_time() - start)
    return min(times)


def targets(nside: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the map's targets in the sweep's order, radians."""
    ra, dec = healpix.pixel_centres(np.arange(12 * nside**2), nside.bit_length() - 1)
    order = np.lexsort((ra, dec.round(9)))
    return np.radians(ra[order]), np.radians(dec[order])


def compare(name: str, nside: int, source: StarSource) -> dict[str, float]:
    """Print and return processor times of the floor and of each step of the sweep."""
    ra, dec = targets(nside)
    rows, mean, seconds = np.empty((len(ra), 6)), np.empty(len(ra)), {}
    for sure in (False, True):
        facts = sweep_facts(preset(name))
        rig = rig_numbers(facts, sure_too=sure)
        wishes = {"sure": Wish(False, True, False)}
        if not sure:
            wishes = {"coverage": Wish(True, False, False), "with expected": Wish(True, False, True)}
        further, reach = _further(facts, source, Wish(True, sure, not sure))
        if not sure:
            further = further._replace(grid=usual_grid())
        parts = _read(facts, source, YEAR, reach, Event())
        stars = ordered(parts, rig.ring_sr, rig.outer, rig.numbers.plain_need)
        floor(stars, ra[:2], dec[:2], rig.inner, rig.outer)
        bare = "floor" if not sure else "floor, wider ring"
        seconds[bare] = cpu_seconds(lambda: floor(stars, ra, dec, rig.inner, rig.outer))  # noqa: B023
        pairs, looked_at = floor(stars, ra, dec, rig.inner, rig.outer)
        for step, wish in wishes.items():
            arguments = (rig.numbers, stars, further, ra, dec, wish, rig.inner, rig.outer, rows)
            kernels.sweep_targets(*arguments[:3], ra[:1], dec[:1], wish, rig.inner, rig.outer, rows[:1])
            seconds[step] = cpu_seconds(lambda: kernels.sweep_targets(*arguments))  # noqa: B023
        if not sure:
            lengths = Block(rig, stars, further, wish, ra, dec)._lengths()
            of_mean = (rig.numbers, stars, lengths, ra, dec, *rig.own_ring, mean)
            seconds["mean stars"] = cpu_seconds(lambda: kernels.mean_stars(*of_mean))  # noqa: B023
            seconds["pairs"] = float(pairs)
            print(f"{name}, nside {nside}: {pairs / len(ra):.0f} stars in a ring, {looked_at / len(ra):.0f} looked at")
    for step, value in seconds.items():
        if step != "pairs":
            bare = seconds["floor, wider ring" if step in ("sure", "floor, wider ring") else "floor"]
            each = 1e6 * value / len(ra)
            print(f"    {step:18s} {value:7.2f} s  {each:7.2f} µs a target  {value / bare:6.2f} × the floor")
    return seconds


def slow_twin(name: str, seconds: float, nside: int) -> None:
    """Print how long one check after another takes, a target and angle, and how many times quicker the sweep is."""
    rig, chance = preset(name), np.random.default_rng(1)
    ra, dec = chance.uniform(0, 360, SLOW_TARGETS), np.degrees(np.arcsin(chance.uniform(-1, 1, SLOW_TARGETS)))
    checks = cpu_seconds(lambda: coverage_by_checks(rig, tycho2(), ra, dec, epoch_year=YEAR), runs=1) / SLOW_TARGETS
    by_angle = angle_by_angle(name, float(ra[0]), float(dec[0]))
    sweep = seconds / (12 * nside**2)
    print(f"    one check: {1e3 * checks:.1f} ms a target, {checks / sweep:.0f} × the sweep's {1e6 * sweep:.1f} µs")
    print(
        f"    turned angle by angle (0.1°): {1e6 * by_angle:.0f} µs an angle; the sweep {1e9 * sweep / ANGLES:.2f} ns: "
        f"{by_angle * ANGLES / sweep:.0f} × quicker a target and angle"
    )


def angle_by_angle(name: str, ra_deg: float, dec_deg: float) -> float:
    """Return seconds an angle of the obvious way: `guidestar.angles.twin` with every star of the surroundings."""
    from guidestar.angles import twin
    from guidestar.field.nearby import stars_around

    rig = rig_numbers(sweep_facts(preset(name)))
    nearby = stars_around(tycho2(), ra_deg, dec_deg, preset(name), rig.facts.field.outer_mm, YEAR)
    planes = [tuple(row) for row in rig.numbers.planes.tolist()]
    stars = nearby.radius_mm.tolist(), nearby.phase_deg.tolist()
    return cpu_seconds(lambda: [twin.usable(planes, *stars, angle) for angle in range(100)]) / 100  # type: ignore[arg-type]


PROCESS = """
import time; start = time.time()
from guidestar.maps.sweep import sky_map
from guidestar.rig.presets import preset
from guidestar.stars.tycho2 import tycho2
found = sky_map(preset({name!r}), tycho2(), nside={nside}, epoch_year=2026.9)
print({{k: round(v, 2) for k, v in found.sweep.work.seconds.items()}})
"""


def whole_process(name: str, nside: int) -> None:
    """Print how long a fresh process takes by the clock for every column of the map, on all processors."""
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", PROCESS.format(name=name, nside=nside)], check=True, capture_output=True, text=True
    )
    print(f"    fresh process, all columns, all threads: {time.perf_counter() - start:.2f} s  {done.stdout.strip()}")


def main() -> None:
    """Print everything."""
    sky_map(preset(RIGS[0]), tycho2(), nside=1, epoch_year=YEAR)  # compiled and kept from here on
    for name in RIGS:
        for nside in (64, 128, 256):
            seconds = compare(name, nside, tycho2())
            everything = seconds["with expected"] + seconds["sure"] + seconds["mean stars"]
            if nside == 128:
                slow_twin(name, everything, nside)
                whole_process(name, nside)
    print(f"most memory until here: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB", flush=True)
    subprocess.run([sys.executable, str(Path(__file__).with_name("bench_deep_map.py"))], check=True)


if __name__ == "__main__":
    main()
