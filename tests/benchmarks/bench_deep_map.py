"""The sky map on a deep sky, beside the built-in catalogue: time a pair of target and star, and memory.

`python tests/benchmarks/bench_deep_map.py [million stars]` (no part of the tests). The deep sky is INVENTED: 37 million
stars unless told otherwise, as dense from place to place as the count model has it at G 14.8, at random places there,
with magnitudes on a straight line of ln N. Nothing that it says about the sky is true.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from guidestar.maps.sweep import sky_map
from guidestar.rig.presets import preset
from guidestar.sky import healpix, regions
from guidestar.sky.epoch import unit_vectors
from guidestar.stars.counts import star_counts
from guidestar.stars.source import SkyStars
from guidestar.stars.tycho2 import tycho2

RIG = "compound-2000-f10"
FAINTEST_G = 14.8
SLOPE_PER_MAG = 0.85
"""Growth of ln N a magnitude, about what the count model has for the whole sky there."""
ORDER = 4
PIXELS_A_CHUNK = 24


@dataclass(frozen=True)
class InventedSky:
    """A deep `StarSource` and `SkySource` of invented stars, the same ones each time."""

    stars: int
    name: str = "invented deep sky"
    band: str = "G"
    complete_to_mag: float = 15.0

    def ring(self, *_args: object, **_options: object) -> None:
        raise LookupError("this sky is asked for as a whole only")

    def sky_coverage(self) -> regions.Region:
        """Return the whole sky."""
        return regions.whole_sky()

    def sky_chunks(
        self, *, epoch_year: float, faintest_mag: float | None, dec_deg: tuple[float, float]
    ) -> Iterator[SkyStars]:
        """Return the stars, some pixels at a time."""
        del epoch_year, dec_deg
        pixels = np.arange(healpix.pixel_count(ORDER))
        density = star_counts().at(*healpix.pixel_centres(pixels, ORDER)).per_deg2(FAINTEST_G)
        mean = density / density.sum() * self.stars
        for start in range(0, len(pixels), PIXELS_A_CHUNK):
            chance = np.random.default_rng(start)
            part = slice(start, start + PIXELS_A_CHUNK)
            inside = np.repeat(pixels[part], chance.poisson(mean[part]))
            shift = 2 * (healpix.INDEX_ORDER - ORDER)
            numbers = (inside << shift) + chance.integers(0, 1 << shift, len(inside))
            places = healpix.pixel_centres(numbers, healpix.INDEX_ORDER)
            g_mag = FAINTEST_G + np.log(chance.uniform(0, 1, len(inside))) / SLOPE_PER_MAG
            bright = slice(None) if faintest_mag is None else g_mag <= faintest_mag
            yield SkyStars(unit_vectors(*places)[:, bright], g_mag[bright])


def main() -> None:
    """Print both, side by side."""
    millions = float(sys.argv[1]) if len(sys.argv) > 1 else 37.0
    rig = preset(RIG)
    sky_map(rig, tycho2(), nside=1, epoch_year=2026.9)  # compiled, and kept on disk from here on
    columns = ("usable_fraction", "flip_safe_fraction", "sure_fraction", "mean_stars", "longest_blind_deg")
    print(f"{RIG}, nside 128, no estimate of further stars; seconds by the clock, all threads", flush=True)
    for source in (tycho2(), InventedSky(int(millions * 1e6))):
        start = time.perf_counter(), time.process_time()
        found = sky_map(rig, source, nside=128, epoch_year=2026.9, columns=columns)  # type: ignore[arg-type]
        took, cpu = time.perf_counter() - start[0], time.process_time() - start[1]
        work, coverage = found.sweep.work, found.coverage
        print(f"{source.name}: {work.stars_used:,} stars, {work.pairs:,} pairs of target and star in its ring")
        print(f"    {took:.1f} s by the clock, {cpu:.1f} s of processors; by step:", end=" ")
        print(", ".join(f"{step} {seconds:.2f}" for step, seconds in work.seconds.items()))
        each = ", ".join(f"{step} {1e9 * work.seconds[step] / work.pairs:.1f}" for step in ("coverage", "mean"))
        print(f"    ns a pair by the clock: {each}")
        usable, sure = np.mean(coverage.usable_fraction), np.mean(coverage.sure_fraction)
        print(f"    usable {usable:.4f}, sure {sure:.4f}, {np.mean(coverage.mean_stars):.2f} stars")
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        print(f"    most memory until now: {most:.2f} GB", flush=True)


if __name__ == "__main__":
    main()
