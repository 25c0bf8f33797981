"""A source whose stars are read once and kept, for several sweeps over the same sky."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from guidestar.sky.regions import Region
from guidestar.stars.counts import SkyCounts, counts_for
from guidestar.stars.source import SkyStars, StarSource
from guidestar.stars.table import StarTable
from guidestar.stars.wholesky import WHOLE_DEG, sky_chunks, sky_coverage

_SPARE_MAG: Final = 0.1
"""Read so much deeper than the rigs' reaches: an estimate counts listed stars by steps of reach, rounded."""

MOST_KEPT: Final = 10_000_000
"""Stars kept at most, 32 bytes each; a deeper source is read anew each time."""


@dataclass(frozen=True)
class KeptSky:
    """A `StarSource` and `SkySource` that is `source`, but for having its stars down to a magnitude at hand."""

    source: StarSource
    epoch_year: float
    faintest_mag: float
    chunks: tuple[SkyStars, ...]

    @property
    def name(self) -> str:
        """Return the catalogue's name."""
        return self.source.name

    @property
    def band(self) -> str:
        """Return the band of magnitudes."""
        return self.source.band

    @property
    def complete_to_mag(self) -> float:
        """Return the magnitude down to which practically every star is there."""
        return self.source.complete_to_mag

    @property
    def counts(self) -> SkyCounts:
        """Return the counts of what the source does not list."""
        return counts_for(self.source)

    def ring(
        self,
        ra_deg: float,
        dec_deg: float,
        inner_deg: float,
        outer_deg: float,
        *,
        faintest_mag: float | None,
        epoch_year: float,
    ) -> StarTable:
        """Return every star between two distances from a point; see `StarSource.ring`."""
        return self.source.ring(ra_deg, dec_deg, inner_deg, outer_deg, faintest_mag=faintest_mag, epoch_year=epoch_year)

    def sky_chunks(
        self, *, epoch_year: float, faintest_mag: float | None, dec_deg: tuple[float, float]
    ) -> Iterator[SkyStars]:
        """Return all stars in parts, from what is kept where that holds what is asked for."""
        if faintest_mag is None or not self._holds(epoch_year, faintest_mag, dec_deg):
            yield from sky_chunks(self.source, epoch_year=epoch_year, faintest_mag=faintest_mag, dec_deg=dec_deg)
            return
        for chunk in self.chunks:
            bright = chunk.g_mag <= faintest_mag
            yield chunk if bright.all() else SkyStars(chunk.vectors[:, bright], chunk.g_mag[bright])

    def _holds(self, epoch_year: float, faintest_mag: float, dec_deg: tuple[float, float]) -> bool:
        return faintest_mag <= self.faintest_mag and epoch_year == self.epoch_year and dec_deg == WHOLE_DEG

    def sky_coverage(self) -> Region:
        """Return where the source is complete to its `complete_to_mag`."""
        return sky_coverage(self.source)


def kept(source: StarSource, *, epoch_year: float, faintest_mag: float) -> StarSource:
    """Return a source with its stars read and kept, for rigs that use them down to a magnitude.

    Where that would be more than `MOST_KEPT` it is the source itself.
    """
    depth = faintest_mag + _SPARE_MAG
    chunks: list[SkyStars] = []
    number = 0
    for chunk in sky_chunks(source, epoch_year=epoch_year, faintest_mag=depth):
        number += len(chunk.g_mag)
        if number > MOST_KEPT:
            return source
        chunks.append(chunk)
    return KeptSky(source, epoch_year, depth, tuple(chunks))
