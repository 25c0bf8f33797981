"""Fetching stars from a service into the local store, piece by piece, and going on where it stopped."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from guidestar.sky.regions import Region
from guidestar.stars import store_write
from guidestar.stars.pieces import Piece, first_pieces
from guidestar.stars.piecework import Answer, Fetched, Progress, bring, today
from guidestar.stars.services import Service
from guidestar.stars.store import GAIA_RELEASE, Coverage, Store
from guidestar.stars.tap import Client
from guidestar.stars.tap_network import Manners, TooMuch

ROWS_PER_PIECE: Final = 100_000
"""About 7 MB an answer; fewer where the service gives less."""


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

    def task(client: Client) -> _Stars:
        return _Stars(store, faintest_mag, min(ROWS_PER_PIECE, (client.most_rows() or ROWS_PER_PIECE + 1) - 1))

    return bring(
        task,
        first_pieces,
        asked=region,
        missing=store.missing(region, faintest_mag),
        store=store,
        services=services,
        manners=manners or Manners(),
        on_progress=on_progress,
        limit_bytes=limit_bytes,
    )


@dataclass
class _Stars:
    """The task of bringing stars; `most_rows` shrinks where a service turns out to give fewer."""

    store: Store
    faintest_mag: float
    most_rows: int

    def ask(self, client: Client, piece: Piece) -> Answer:
        """Count a piece and get its stars."""
        expected = client.count(piece.region, self.faintest_mag)
        if expected > self.most_rows:
            raise TooMuch(0)
        try:
            rows, size = client.rows(piece.region, self.faintest_mag, expected)
        except TooMuch as told:
            if told.limit:
                self.most_rows = min(self.most_rows, told.limit)
            raise
        return Answer(rows, expected, size)

    def keep(self, piece: Piece, answer: Answer, service: Service) -> None:
        """Put a piece's stars into the store."""
        claim = Coverage(piece.region, self.faintest_mag, GAIA_RELEASE, service.url, today())
        store_write.put(self.store, answer.content, claim)
