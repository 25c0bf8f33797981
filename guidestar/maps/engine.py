"""The sweep's engine: stars read and put in order, targets worked out in blocks on several threads."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Event

import numpy as np

from guidestar.maps import further as beyond
from guidestar.maps import kernels, prepared
from guidestar.maps.facts import SweepFacts, sweep_facts
from guidestar.maps.kernel_counts import Further
from guidestar.maps.kernel_field import FLIP_SAFE, MEAN, Wish
from guidestar.maps.kernel_mean import Lengths
from guidestar.maps.kernel_order import OrderedStars
from guidestar.maps.known import known_around
from guidestar.maps.numbers import RigNumbers, rig_numbers
from guidestar.maps.order import Part, joined, ordered
from guidestar.maps.result import COLUMNS, Coverage, FloatArray, Stars, Sweep, Work
from guidestar.rig import Rig
from guidestar.stars.counts import counts_for
from guidestar.stars.source import StarSource
from guidestar.stars.wholesky import sky_chunks

Progress = Callable[[float], None]
Task = Callable[[slice], int]

_TARGETS_A_BLOCK = 2048
_STARS_A_PART = 1_500_000
"""Arrays so large come straight from the system and go back there at once; smaller ones stay with the process."""
_LIT_ROWS, _LIT_COLUMNS = 513, 257
_MANY_LIT = 1_000_000
"""Pairs of target and star in need of much light from which on arcs' lengths are taken from a table."""


@dataclass
class _Clock:
    """Seconds by step."""

    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def step(self, name: str) -> Iterator[None]:
        begun = time.perf_counter()
        yield
        self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - begun


def run(
    rig: Rig,
    source: StarSource,
    ra_deg: FloatArray,
    dec_deg: FloatArray,
    epoch_year: float,
    columns: tuple[str, ...],
    threads: int | None,
    progress: Progress | None,
) -> Sweep:
    """Work out columns at places; see `guidestar.maps.sweep.at_places`."""
    clock, stop = _Clock(), Event()
    facts = sweep_facts(rig)
    wish = _wish(columns, facts, source)
    further, reach = _further(facts, source, wish)
    with _beside(2, stop) as pool:  # meanwhile numba loads its kernels, which takes as long as reading
        parts = pool.submit(_read, facts, source, epoch_year, reach, stop)
        grid = pool.submit(beyond.usual_grid) if wish.expected else None
        with clock.step("preparing"):
            numbers = rig_numbers(facts, sure_too="sure_fraction" in columns)
            known = np.flatnonzero(known_around(source, ra_deg, dec_deg, np.degrees(numbers.outer)))
        with clock.step("reading"):
            stars = ordered(parts.result(), numbers.ring_sr, numbers.outer, numbers.numbers.plain_need)
        with clock.step("preparing"):
            further = further if grid is None else further._replace(grid=grid.result())
    order = known[np.lexsort((ra_deg[known], dec_deg[known].round(9)))]
    block = Block(numbers, stars, further, wish, np.radians(ra_deg[order]), np.radians(dec_deg[order]))
    rows, pairs = block.work(columns, threads, progress, clock)
    if set(columns) == set(COLUMNS):
        prepared.remember()
    values = np.full((len(ra_deg), len(COLUMNS)), np.nan)
    values[order] = rows
    for i, name in enumerate(COLUMNS):
        if name not in columns or (i == FLIP_SAFE and not rig.mount.flips):
            values[:, i] = np.nan
    used = Stars(source.name, source.band, source.complete_to_mag, facts.accepts.faintest_mag)
    work = Work(len(stars.need), pairs, clock.seconds)
    return Sweep(ra_deg, dec_deg, Coverage(*values.T.copy()), rig, epoch_year, used, work)


def _wish(columns: tuple[str, ...], facts: SweepFacts, source: StarSource) -> Wish:
    reaches_beyond = facts.accepts.faintest_mag > source.complete_to_mag
    return Wish(
        any(name not in ("mean_stars", "sure_fraction") for name in columns),
        "sure_fraction" in columns,
        "expected_fraction" in columns and reaches_beyond,
    )


def _further(facts: SweepFacts, source: StarSource, wish: Wish) -> tuple[Further, FloatArray]:
    """Return what the estimate needs, and the reaches by which listed stars are counted (none without an estimate)."""
    if not wish.expected:
        return beyond.nothing_further(), np.empty(0)
    return beyond.further_of(facts, source.complete_to_mag, counts_for(source))


@contextmanager
def _beside(workers: int, stop: Event) -> Iterator[ThreadPoolExecutor]:
    """Return threads for work beside this one; where that is broken off, they are told to stop."""
    with ThreadPoolExecutor(workers) as pool:
        try:
            yield pool
        except BaseException:
            stop.set()
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _read(facts: SweepFacts, source: StarSource, epoch_year: float, reach: FloatArray, stop: Event) -> list[Part]:
    """Return the stars that may be usable, or are counted as listed, in parts; fewer where it is told to stop."""
    faintest = max(facts.faintest_mag, float(np.max(reach, initial=-np.inf)))
    parts: list[Part] = []
    small: list[Part] = []
    for chunk in sky_chunks(source, epoch_year=epoch_year, faintest_mag=faintest):
        if stop.is_set():
            break
        if len(chunk):
            step = beyond.steps_of(chunk.g_mag, reach, source.complete_to_mag)
            small.append(Part(np.ascontiguousarray(chunk.vectors.T), facts.needs(chunk.g_mag), step))
        if sum(len(part.need) for part in small) >= _STARS_A_PART:
            parts.append(joined(small))
            small = []
    return [*parts, joined(small)] if small else parts


@dataclass(frozen=True)
class Block:
    """Targets in order of declination, radians, and all that they need."""

    numbers: RigNumbers
    stars: OrderedStars
    further: Further
    wish: Wish
    ra: FloatArray
    dec: FloatArray

    def work(
        self, columns: tuple[str, ...], threads: int | None, progress: Progress | None, clock: _Clock
    ) -> tuple[FloatArray, int]:
        """Return the columns of all targets, shape (n, 6), and the number of stars in their rings."""
        rows = np.full((len(self.ra), len(COLUMNS)), np.nan)
        tasks: list[tuple[str, Task]] = []
        if self.wish.coverage or self.wish.sure:
            tasks.append(("coverage", lambda part: self._sweep(part, rows)))
        if "mean_stars" in columns:
            lengths = self._lengths()
            tasks.append(("mean", lambda part: self._mean(part, rows, lengths)))
        pairs = 0
        for i, (name, task) in enumerate(tasks):
            with clock.step(name):
                pairs = _in_blocks(task, len(self.ra), threads, _share_of(progress, i, len(tasks)))
        return rows, pairs

    def _sweep(self, part: slice, rows: FloatArray) -> int:
        numbers, targets = self.numbers, (self.ra[part], self.dec[part])
        own = beyond.with_pixels(self.further, *targets)
        return int(
            kernels.sweep_targets(
                numbers.numbers, self.stars, own, *targets, self.wish, numbers.inner, numbers.outer, rows[part]
            )[0]
        )

    def _mean(self, part: slice, rows: FloatArray, lengths: Lengths) -> int:
        mean = np.zeros(part.stop - part.start)
        targets = (self.ra[part], self.dec[part])
        pairs = kernels.mean_stars(self.numbers.numbers, self.stars, lengths, *targets, *self.numbers.own_ring, mean)[0]
        rows[part, MEAN] = mean
        return int(pairs)

    def _lengths(self) -> Lengths:
        """Return the tables of lengths of arcs; that where light decides is left empty where few stars need it."""
        field, numbers, light = self.numbers.facts.field, self.numbers.numbers, self.numbers.facts.light
        plain = kernels.fill_plain(numbers.arcs, numbers.focal_mm, field.inner_mm, field.outer_mm)[0]
        picky = np.count_nonzero(self.stars.need > numbers.plain_need)
        many = picky * self.numbers.ring_sr / (4.0 * np.pi) * len(self.ra) > _MANY_LIT
        if light is None or not many:
            return Lengths(plain, np.zeros((0, 0)), field.inner_mm, field.outer_mm, 0.0, 1.0)
        best = min(float(light.grid_transmission.max()) * 1.001, 1.0)
        lit = np.zeros((_LIT_ROWS, _LIT_COLUMNS))
        lengths = Lengths(plain, lit, field.inner_mm, field.outer_mm, light.fully_lit, best)
        kernels.fill_lit(numbers, lengths)
        return lengths


def _share_of(progress: Progress | None, i: int, number: int) -> Progress:
    """Return what tells the progress of one of several steps."""
    if progress is None:
        return lambda _share: None
    return lambda share: progress((i + share) / number)


def _in_blocks(task: Task, number: int, threads: int | None, progress: Progress) -> int:
    """Do a task block by block on several threads; return the sum of what it gives back.

    An interrupt stops it between two blocks.
    """
    workers = threads or os.cpu_count() or 1
    size = min(_TARGETS_A_BLOCK, max(number // (4 * workers), 1))
    parts = [slice(start, min(start + size, number)) for start in range(0, number, size)]
    total, done = 0, 0
    with ThreadPoolExecutor(workers) as pool:
        waiting: set[Future[int]] = {pool.submit(task, part) for part in parts}
        try:
            while waiting:
                ready, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                total += sum(future.result() for future in ready)
                done += len(ready)
                progress(done / max(len(parts), 1))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return total
