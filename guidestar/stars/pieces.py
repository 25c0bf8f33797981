"""Cutting a region into pieces small enough for one answer of a service, and asking for a piece in ADQL.

Gaia's `source_id` is the star's order-12 HEALPix pixel times 2³⁵ plus smaller bits, so a region is a set of ranges of
`source_id`, which every service has an index on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from guidestar.errors import DataError
from guidestar.sky import regions
from guidestar.sky.regions import Region
from guidestar.stars.services import Service

NUMBER_ORDER: Final = 12
"""The order of the pixel inside a `source_id`: pieces have edges of this order at the finest."""

_MOST_RANGES: Final = 40
"""Ranges in one question: keeps the question below the lengths that servers refuse."""


@dataclass(frozen=True)
class Piece:
    """A region that is asked for at once, inside one pixel of `order`."""

    region: Region
    order: int

    def split(self) -> tuple[Piece, ...]:
        """Return it in two pieces or more.

        Raises
        ------
        DataError
            It is a single pixel of the finest order that can be asked for.
        """
        for order in range(self.order + 1, NUMBER_ORDER + 1):
            parts = cut(self.region, order)
            if len(parts) > 1:
                return parts
        raise DataError("The service cannot send even the smallest piece of sky whole: try another one with --service.")


def cut(region: Region, order: int) -> tuple[Piece, ...]:
    """Return a region in pieces that each lie in one pixel of an order."""
    pixels = regions.pixels_of(region, order).tolist()
    return tuple(Piece(regions.intersection(region, regions.of_pixels([pixel], order)), order) for pixel in pixels)


def first_pieces(region: Region) -> tuple[Piece, ...]:
    """Return a region in the pieces to begin with: twelfths of the sky, smaller where there are many ranges."""
    waiting, ready = list(cut(regions.rounded_out(region, NUMBER_ORDER), 0)), []
    while waiting:
        piece = waiting.pop(0)
        if len(piece.region) > _MOST_RANGES:
            waiting = [*piece.split(), *waiting]
        else:
            ready.append(piece)
    return tuple(ready)


def count_query(service: Service, region: Region, faintest_mag: float) -> str:
    """Return the question how many stars a region holds."""
    return f"SELECT COUNT(*) AS stars FROM {service.table} WHERE {_condition(service, region, faintest_mag)}"


def rows_query(service: Service, region: Region, faintest_mag: float, columns: Sequence[str]) -> str:
    """Return the question for a region's stars; `columns` by our names, in the order wanted."""
    names = ", ".join(service.columns[name] for name in columns)
    return f"SELECT {names} FROM {service.table} WHERE {_condition(service, region, faintest_mag)}"


def groups_query(service: Service, region: Region, faintest_mag: float, order: int) -> str:
    """Return the question how many stars each pixel of an order holds, by half magnitudes rounded down."""
    number, magnitude = service.columns["source_id"], service.columns["g"]
    # FLOOR also where the service divides whole numbers to whole ones: some do not.
    pixel, step = f"FLOOR({number}/{2 ** (59 - 2 * order)})", f"FLOOR({magnitude}*2)"
    return (
        f"SELECT {pixel} AS pixel, {step} AS step, COUNT(*) AS stars FROM {service.table} "
        f"WHERE {_condition(service, region, faintest_mag)} GROUP BY pixel, step"
    )


def _condition(service: Service, region: Region, faintest_mag: float) -> str:
    number, magnitude = service.columns["source_id"], service.columns["g"]
    spans = number_ranges(region).tolist()
    where = " OR ".join(f"{number} BETWEEN {first} AND {last}" for first, last in spans)
    return f"({where}) AND {magnitude} <= {faintest_mag:g}"


def number_ranges(region: Region) -> Region:
    """Return the ranges of `source_id`, first and last, shape (n, 2), of a region with edges of order 12."""
    return np.asarray(region * 2 - np.array([0, 1]), dtype=np.int64)
