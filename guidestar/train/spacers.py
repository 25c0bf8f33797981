"""Which of the spacers that a person owns come nearest to a length: an exact search."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

_UNIT_PER_MM = 1000
"""Lengths are added in whole micrometres, so that sums are exact; no caliper measures finer."""


@dataclass(frozen=True)
class Combination:
    """Spacers to put together, longest first, and how much longer (positive) than wanted they are, mm."""

    lengths_mm: tuple[float, ...]
    residual_mm: float


def nearest_combination(owned_mm: Sequence[float], wanted_mm: float) -> Combination:
    """Return the owned spacers, each used once at most, whose sum comes nearest to a length.

    Parameters
    ----------
    owned_mm : sequence of float
        Lengths > 0, to the micrometre; one owned twice stands twice.
    wanted_mm : float
        Any length; below 0 nothing at all comes nearest.

    Returns
    -------
    Combination
        Of equally near ones the one with the fewest spacers, then the shorter one.

    Notes
    -----
    For every sum that can be made the fewest spacers that make it are kept (sums in whole micrometres), spacer by
    spacer. A sum beyond the wanted length is kept only if it is the nearest such sum, as adding to it leads further
    away; so there are never more sums than micrometres up to the wanted length.
    """
    wanted = round(wanted_mm * _UNIT_PER_MM)
    made: dict[int, tuple[int, ...]] = {0: ()}
    for length in sorted((round(item * _UNIT_PER_MM) for item in owned_mm), reverse=True):
        for total, used in list(made.items()):
            longer, with_it = total + length, (*used, length)
            if total < wanted and (longer not in made or len(with_it) < len(made[longer])):
                made[longer] = with_it
        made = _without_needless(made, wanted)
    best = min(made, key=lambda total: (abs(total - wanted), len(made[total]), total))
    lengths = tuple(length / _UNIT_PER_MM for length in made[best])
    return Combination(lengths, best / _UNIT_PER_MM - wanted_mm)


def _without_needless(made: dict[int, tuple[int, ...]], wanted: int) -> dict[int, tuple[int, ...]]:
    """Drop all sums beyond the wanted length but the nearest."""
    beyond = min((total for total in made if total > wanted), default=None)
    return {total: used for total, used in made.items() if total <= wanted or total == beyond}
