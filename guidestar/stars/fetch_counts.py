"""Fetching exact counts of stars by pixel and magnitude: one aggregated question a piece of sky."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from guidestar.errors import DataError
from guidestar.sky import regions
from guidestar.sky.regions import Region
from guidestar.stars import store_write
from guidestar.stars.amount import expected_stars
from guidestar.stars.counted import ORDER, CountTable, cumulative, nothing_counted, read_counts
from guidestar.stars.pieces import Piece, cut
from guidestar.stars.piecework import Answer, Fetched, Progress, bring, today
from guidestar.stars.services import Service
from guidestar.stars.store import GAIA_RELEASE, Coverage, Store
from guidestar.stars.tap import Client
from guidestar.stars.tap_network import Manners, TooMuch

STARS_PER_PIECE: Final = 2_000_000
"""So many a service counts within its time limit; where it cannot, the piece is cut (our guess)."""


def fetch_counts(
    store: Store,
    services: Sequence[Service],
    region: Region,
    faintest_mag: float,
    *,
    manners: Manners | None = None,
    on_progress: Callable[[Progress], None] = lambda _: None,
) -> Fetched:
    """Bring the numbers of stars by pixel and magnitude into the store.

    What is there already is not asked for; each piece is kept at once. The stars of a piece are counted a second time,
    without groups, and both numbers must agree.

    Parameters
    ----------
    store : Store
        Made if it does not exist.
    services : sequence of Service
        Tried in turn until one answers.
    region : Region
        Which sky; rounded out to whole pixels of `counted.ORDER`.
    faintest_mag : float
        Gaia G, one of `counted.EDGES_G` (`counted.edge_above`).
    manners : Manners, optional
        Time limits and attempts.
    on_progress : callable
        Called after each piece.

    Raises
    ------
    DataError
        No service answers, or the store cannot be written.
    """
    whole = regions.rounded_out(region, ORDER)
    return bring(
        lambda client: _Counts(store, faintest_mag, client.most_rows()),
        lambda missing: pieces_to_count(missing, faintest_mag),
        asked=whole,
        missing=(read_counts(store) or nothing_counted()).missing(whole, faintest_mag),
        store=store,
        services=services,
        manners=manners or Manners(),
        on_progress=on_progress,
    )


def pieces_to_count(region: Region, faintest_mag: float) -> list[Piece]:
    """Return a region, of whole pixels, in pieces that a service can count: twelfths of the sky, or smaller ones."""
    waiting, ready = list(cut(region, 0)), []
    while waiting:
        piece = waiting.pop(0)
        if piece.order < ORDER and expected_stars(piece.region, faintest_mag).stars > STARS_PER_PIECE:
            waiting = [*cut(piece.region, piece.order + 1), *waiting]
        else:
            ready.append(piece)
    return ready


@dataclass
class _Counts:
    """The task of bringing counts."""

    store: Store
    faintest_mag: float
    most_rows: int | None

    def ask(self, client: Client, piece: Piece) -> Answer:
        """Get the groups of a piece, and hold their sum against its count."""
        pixels = regions.pixels_of(piece.region, ORDER)
        # Gaia's brightest star is of G 1.7: this many half magnitudes there can be, and one row to spare.
        most = len(pixels) * int(2 * self.faintest_mag + 1) + 1
        if len(pixels) > 1 and self.most_rows is not None and most > self.most_rows:
            raise TooMuch(0)
        expected = client.count(piece.region, self.faintest_mag)
        try:
            (pixel, step, stars), size = client.groups(piece.region, self.faintest_mag, ORDER, expected, most)
        except TooMuch:
            if len(pixels) > 1:
                raise
            raise DataError(
                f"{client.service.shown} cannot count even one pixel of sky to G {self.faintest_mag:g} within its "
                "limits: ask for brighter stars with --faintest-mag, or name another service with --service."
            ) from None
        return Answer(cumulative(pixels, pixel, step, stars, self.faintest_mag), expected, size)

    def keep(self, piece: Piece, answer: Answer, service: Service) -> None:
        """Put a piece's counts into the store."""
        claim = Coverage(piece.region, self.faintest_mag, GAIA_RELEASE, service.url, today())
        store_write.put_counts(self.store, CountTable(regions.pixels_of(piece.region, ORDER), answer.content, (claim,)))
