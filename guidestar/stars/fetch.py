"""Fetching stars from a service into the local store, piece by piece, and going on where it stopped."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from datetime import UTC, datetime
from queue import SimpleQueue
from typing import Final

import numpy as np

from guidestar.errors import DataError
from guidestar.sky import regions
from guidestar.sky.regions import Region
from guidestar.stars import store_write
from guidestar.stars.pieces import Piece, first_pieces
from guidestar.stars.services import Service
from guidestar.stars.store import GAIA_RELEASE, Coverage, Rows, Store
from guidestar.stars.tap import Client
from guidestar.stars.tap_network import Manners, TooMuch

AT_ONCE: Final = 2
"""Questions to a service at the same time: polite, and enough to keep the line busy."""

ROWS_PER_PIECE: Final = 100_000
"""About 7 MB an answer; fewer where the service gives less."""

BYTES_PER_STAR: Final = 60
"""Of the store; a service's answer is a little larger."""

_SKY_TOTALS: Final = ((8, 62_723), (9, 177_426), (10, 482_106), (11, 1_247_240), (12, 3_087_821), (13, 7_369_627),
                      (16, 83_407_737), (17, 163_186_804), (18, 310_397_433), (21, 1_811_709_771))  # fmt: skip
"""Gaia DR3 sources brighter than a G over the whole sky (the archive's own counts; the last is all of them)."""


@dataclass
class Progress:
    """How far a fetch is: areas in square degrees, stars and bytes received."""

    total_deg2: float
    done_deg2: float = 0.0
    stars: int = 0
    size_bytes: int = 0
    pieces: int = 0


@dataclass(frozen=True)
class Fetched:
    """What a fetch did; `asked_deg2` less `fetched_deg2` was in the store already."""

    service: str | None
    asked_deg2: float
    fetched_deg2: float
    stars: int
    size_bytes: int
    seconds: float


def estimated_stars(region: Region, faintest_mag: float) -> float:
    """Return how many stars a region holds if it is like the sky's mean; off by several times in the Milky Way."""
    bright, totals = np.array(_SKY_TOTALS).T
    total = 10.0 ** np.interp(faintest_mag, bright, np.log10(totals))
    return float(total * regions.area_deg2(region) / regions.SKY_DEG2)


def usable_client(services: Sequence[Service], manners: Manners) -> Client:
    """Return the first service that answers and has Gaia DR3, ready to be asked.

    Raises
    ------
    DataError
        None does: one sentence for each.
    """
    problems = []
    for service in services:
        client = Client(service, manners)
        try:
            client.prepare()
        except DataError as error:
            client.close()
            problems.append(str(error))
        else:
            return client
    raise DataError("\n".join(problems))


def fetch(
    store: Store,
    services: Sequence[Service],
    region: Region,
    faintest_mag: float,
    *,
    limit_bytes: float = float("inf"),
    manners: Manners | None = None,
    on_progress: Callable[[Progress], None] = lambda _: None,
) -> Fetched:
    """Bring the stars of a region down to a magnitude into the store.

    What the store has already is not asked for; each piece that has come is kept at once, so that the same call goes
    on where another stopped.

    Parameters
    ----------
    store : Store
        Made if it does not exist.
    services : sequence of Service
        Tried in turn until one answers.
    region : Region
        Which sky.
    faintest_mag : float
        Gaia G.
    limit_bytes : float
        Stop when more than this was received.
    manners : Manners, optional
        Time limits and attempts.
    on_progress : callable
        Called after each piece.

    Raises
    ------
    DataError
        No service answers, the store cannot be written, or the limit is reached.
    """
    begin, manners = time.monotonic(), manners or Manners()
    missing = store.missing(region, faintest_mag)
    asked = regions.area_deg2(region)
    if not len(missing):
        return Fetched(None, asked, 0.0, 0, 0, 0.0)
    with store_write.writing(store):
        pass  # a store that cannot be written is told before the network is used
    client = usable_client(services, manners)
    limit = min(ROWS_PER_PIECE, (client.most_rows() or ROWS_PER_PIECE + 1) - 1)
    run = _Run(store, client, faintest_mag, limit, limit_bytes, Progress(regions.area_deg2(missing)), on_progress)
    try:
        run.all(missing)
    finally:
        client.close()
    done = run.progress
    return Fetched(client.service.title, asked, done.done_deg2, done.stars, done.size_bytes, time.monotonic() - begin)


@dataclass
class _Run:
    """The work on one region: pieces are asked for by a few threads, and stored by this one."""

    store: Store
    client: Client
    faintest_mag: float
    most_rows: int
    limit_bytes: float
    progress: Progress
    on_progress: Callable[[Progress], None]

    def all(self, region: Region) -> None:
        """Fetch everything, or raise the first failure after storing what had come."""
        waiting, running, failure = list(first_pieces(region))[::-1], set[Future[_Got]](), None
        own = [Client(self.client.service, self.client.manners) for _ in range(AT_ONCE)]
        clients: SimpleQueue[Client] = SimpleQueue()
        for client in own:
            clients.put(client)
        pool = ThreadPoolExecutor(AT_ONCE, "fetch")
        try:
            while (waiting and failure is None) or running:
                while waiting and failure is None and len(running) < AT_ONCE:
                    running.add(pool.submit(self._ask, waiting.pop(), clients))
                done, running = wait(running, return_when=FIRST_COMPLETED)
                for future in done:
                    try:
                        waiting += self._take(future.result())[::-1]
                    except DataError as error:
                        failure = failure or error
        finally:
            pool.shutdown(wait=False, cancel_futures=True)
            for client in own:
                client.close()
        if failure is not None:
            raise failure

    def _ask(self, piece: Piece, clients: SimpleQueue[Client]) -> _Got:
        """Count a piece and get its stars; parts of it instead if they are too many for one answer."""
        client = clients.get()
        try:
            expected = client.count(piece.region, self.faintest_mag)
            if expected > self.most_rows:
                return _Got(piece, parts=piece.split())
            rows, size = client.rows(piece.region, self.faintest_mag, expected)
            return _Got(piece, rows, size)
        except TooMuch as told:
            if told.limit:
                self.most_rows = min(self.most_rows, told.limit)
            return _Got(piece, parts=piece.split())
        finally:
            clients.put(client)

    def _take(self, got: _Got) -> list[Piece]:
        """Store what has come; return the parts that are to be asked for instead."""
        if got.rows is None:
            return list(got.parts)
        today = datetime.now(UTC).date().isoformat()
        claim = Coverage(got.piece.region, self.faintest_mag, GAIA_RELEASE, self.client.service.url, today)
        store_write.put(self.store, got.rows, claim)
        progress = self.progress
        progress.done_deg2 += regions.area_deg2(got.piece.region)
        progress.stars += len(got.rows["g"])
        progress.size_bytes += got.size_bytes
        progress.pieces += 1
        self.on_progress(progress)
        if progress.size_bytes > self.limit_bytes and progress.done_deg2 < progress.total_deg2:
            raise DataError(
                f"Stopped after {progress.size_bytes / 1e9:.2f} GB, the limit: {progress.done_deg2:.1f} of "
                f"{progress.total_deg2:.1f} square degrees are stored; go on with a higher --limit-gb."
            )
        return []


@dataclass(frozen=True)
class _Got:
    """An answer: the stars of a piece, or the parts to ask for instead."""

    piece: Piece
    rows: Rows | None = None
    size_bytes: int = 0
    parts: tuple[Piece, ...] = ()
