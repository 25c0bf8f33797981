"""Bringing something from a service in pieces of sky: a few questions at once, each answer kept as it comes."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from queue import Empty, SimpleQueue
from typing import Any, Final, Protocol

from guidestar.errors import DataError
from guidestar.sky import regions
from guidestar.sky.regions import Region
from guidestar.stars import store_write
from guidestar.stars.pieces import Piece
from guidestar.stars.services import Service
from guidestar.stars.store import Store
from guidestar.stars.tap import Client
from guidestar.stars.tap_network import Manners, TooMuch

AT_ONCE: Final = 2
"""Questions to a service at the same time: polite, and enough to keep the line busy."""

_LOOK_S: Final = 0.5


@dataclass
class Progress:
    """How far a fetch is: areas in square degrees, stars (received, or counted) and bytes received."""

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


@dataclass(frozen=True)
class Answer:
    """What a service gave for a piece: `content` is the task's own matter."""

    content: Any
    stars: int
    size_bytes: int


class Task(Protocol):
    """What is brought: how it is asked for, and where it is kept."""

    def ask(self, client: Client, piece: Piece) -> Answer:
        """Ask for a piece, whole; a TooMuch if it has to be cut. Runs in several threads at once."""

    def keep(self, piece: Piece, answer: Answer, service: Service) -> None:
        """Put an answer into the store, at once and for good. Runs in one thread."""


def bring(
    task_for: Callable[[Client], Task],
    pieces_of: Callable[[Region], Sequence[Piece]],
    *,
    asked: Region,
    missing: Region,
    store: Store,
    services: Sequence[Service],
    manners: Manners,
    on_progress: Callable[[Progress], None],
    limit_bytes: float = float("inf"),
) -> Fetched:
    """Bring what is missing of a region, by the first service that answers, into the store.

    Raises
    ------
    DataError
        No service answers, the store cannot be written, or the limit is reached.
    """
    begin, asked_deg2 = time.monotonic(), regions.area_deg2(asked)
    if not len(missing):
        return Fetched(None, asked_deg2, 0.0, 0, 0, 0.0)
    with store_write.writing(store):
        pass  # a store that cannot be written is told before the network is used
    client = usable_client(services, manners)
    progress = Progress(regions.area_deg2(missing))
    try:
        PieceWork(task_for(client), client, limit_bytes, progress, on_progress).all(pieces_of(missing))
    finally:
        client.close()
    seconds = time.monotonic() - begin
    return Fetched(client.service.title, asked_deg2, progress.done_deg2, progress.stars, progress.size_bytes, seconds)


@dataclass
class PieceWork:
    """The work on one region: pieces are asked for by a few threads, and stored by the caller's."""

    task: Task
    client: Client
    limit_bytes: float
    progress: Progress
    on_progress: Callable[[Progress], None]

    def all(self, pieces: Sequence[Piece]) -> None:
        """Fetch everything, or raise the first failure after storing what had come."""
        waiting, running, failure = list(pieces)[::-1], 0, None
        own = [Client(self.client.service, self.client.manners) for _ in range(AT_ONCE)]
        desk = _Desk(self.task, SimpleQueue(), SimpleQueue())
        for client in own:
            desk.clients.put(client)
        try:
            while (waiting and failure is None) or running:
                while waiting and failure is None and running < AT_ONCE:
                    desk.ask(waiting.pop())
                    running += 1
                got, running = desk.next(), running - 1
                try:
                    waiting += self._take(got)[::-1]
                except DataError as error:
                    failure = failure or error
        finally:
            for client in own:
                client.close()
        if failure is not None:
            raise failure

    def _take(self, got: _Got) -> list[Piece]:
        """Store what has come; return the parts that are to be asked for instead."""
        if got.failure is not None:
            raise got.failure
        if got.answer is None:
            return list(got.parts)
        self.task.keep(got.piece, got.answer, self.client.service)
        progress = self.progress
        progress.done_deg2 += regions.area_deg2(got.piece.region)
        progress.stars += got.answer.stars
        progress.size_bytes += got.answer.size_bytes
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
    """An answer to a piece, or the parts to ask for instead, or what went wrong."""

    piece: Piece
    answer: Answer | None = None
    parts: tuple[Piece, ...] = ()
    failure: BaseException | None = None


@dataclass(frozen=True)
class _Desk:
    """Where questions are handed out and answers come in.

    Each question has a thread of its own that ends with the program: with a pool the program could not end, after
    Ctrl-C, before every service had answered.
    """

    task: Task
    clients: SimpleQueue[Client]
    answers: SimpleQueue[_Got]

    def ask(self, piece: Piece) -> None:
        """Begin to ask for a piece."""
        threading.Thread(target=self._work, args=(piece,), name="fetch", daemon=True).start()

    def next(self) -> _Got:
        """Return the next answer."""
        while True:
            try:
                return self.answers.get(timeout=_LOOK_S)
            except Empty:
                continue  # so that Ctrl-C is noticed on every system

    def _work(self, piece: Piece) -> None:
        client = self.clients.get()
        try:
            got = _Got(piece, self.task.ask(client, piece))
        except TooMuch:
            got = _cut(piece)
        except BaseException as failure:  # raised again where it can be told
            got = _Got(piece, failure=failure)
        self.clients.put(client)
        self.answers.put(got)


def _cut(piece: Piece) -> _Got:
    """Return the parts of a piece that is too much for one answer."""
    try:
        return _Got(piece, parts=piece.split())
    except DataError as failure:
        return _Got(piece, failure=failure)


def today() -> str:
    """Return the day by this computer's clock, such as "2026-11-25"."""
    return datetime.now(UTC).date().isoformat()


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
