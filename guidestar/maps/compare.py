"""Rigs side by side, over the whole sky and on the person's own targets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from guidestar.errors import InputError
from guidestar.field.light import rig_light
from guidestar.field.reach import lit_shares
from guidestar.field.rigfacts import rig_facts
from guidestar.maps.result import FloatArray, SkyMap
from guidestar.maps.summary import Summary, summarise
from guidestar.maps.sweep import pixels_within, sky_map
from guidestar.maps.targets import At, Wished, targets_at
from guidestar.maps.variants import Variant, Vary
from guidestar.rig import Rig
from guidestar.stars.source import StarSource

Progress = Callable[[float], None]

MOST_PIXELS: Final = 30_000_000
"""Pixels of all maps together: they stand in memory at once, some 50 bytes each."""


@dataclass(frozen=True)
class Compared:
    """One of the rigs and what it comes to.

    `lit_share`: share of the guide sensor (less its margin) where the prism catches at least half of a star's beam,
    None where no light comes at all. `least_clear_offset_mm`: with the prism further in than this it shadows the main
    sensor. `limited_by`: what bounds the geometric guide field. `at`: the person's targets, None where a row is none.
    """

    variant: Variant
    sky: SkyMap
    summary: Summary
    lit_share: float | None
    least_clear_offset_mm: float
    limited_by: Literal["guide sensor", "prism"]
    at: tuple[At | None, ...] = ()

    @property
    def rig(self) -> Rig:
        """The rig itself."""
        return self.variant.rig

    @property
    def reach_mag(self) -> float:
        """The faintest star that is usable anywhere on its guide field, or the rig's fixed limit."""
        return self.sky.sweep.stars.faintest_mag

    @property
    def shadows(self) -> bool:
        """Whether the prism takes light from the main sensor."""
        return self.rig.prism.offset_mm < self.least_clear_offset_mm


@dataclass(frozen=True)
class Comparison:
    """Rigs side by side on the same pixels with the same stars; the first is what the others are measured against."""

    rigs: tuple[Compared, ...]
    varied: tuple[Vary, ...] = ()
    rows: tuple[Wished, ...] = ()

    def difference(self, number: int, column: str = "usable_fraction") -> FloatArray:
        """Return a column of a rig's map minus the first one's, a pixel each, NaN where there is no data."""
        first, other = (getattr(self.rigs[at].sky.coverage, column) for at in (0, number))
        return np.asarray(other - first)


def compare(
    chosen: Sequence[Variant],
    source: StarSource,
    *,
    nside: int,
    epoch_year: float,
    sparse_below: float,
    bounds_deg: tuple[float, float] | None = None,
    varied: Sequence[Vary] = (),
    rows: Sequence[Wished] = (),
    progress: Progress | None = None,
) -> Comparison:
    """Work out the sky map of each rig, and its figures.

    Parameters
    ----------
    chosen : sequence of Variant
        The rigs, at least two.
    source : StarSource
        The stars, the same ones for all rigs.
    nside, epoch_year, bounds_deg
        As for `guidestar.maps.sweep.sky_map`.
    sparse_below : float
        As for `guidestar.maps.summary.summarise`.
    varied : sequence of Vary
        Which keys the rigs differ in, if they are variants.
    rows : sequence of Wished
        The person's targets.
    progress : callable, optional
        Called with the share done, 0 to 1.
    """
    _require_room(len(chosen), nside, bounds_deg)
    found = []
    for number, variant in enumerate(chosen):
        step = None if progress is None else _step(progress, number, len(chosen))
        sky = sky_map(variant.rig, source, nside=nside, epoch_year=epoch_year, bounds_deg=bounds_deg, progress=step)
        at = targets_at(rows, variant.rig, source, epoch_year=epoch_year) if rows else ()
        found.append(compared(variant, sky, sparse_below, at))
    return Comparison(tuple(found), tuple(varied), tuple(rows))


def compared(variant: Variant, sky: SkyMap, sparse_below: float, at: tuple[At | None, ...] = ()) -> Compared:
    """Return a rig with its map and all that follows from them."""
    facts = rig_facts(variant.rig)
    return Compared(
        variant=variant,
        sky=sky,
        summary=summarise(sky, sparse_below),
        lit_share=lit_share(variant.rig),
        least_clear_offset_mm=facts.least_clear_offset_mm,
        limited_by=facts.limited_by,
        at=at,
    )


def _require_room(count: int, nside: int, bounds_deg: tuple[float, float] | None) -> None:
    pixels = len(pixels_within(nside, bounds_deg))
    if count * pixels > MOST_PIXELS:
        raise InputError(
            f"--nside {nside} with {count} rigs would be {count * pixels / 1e6:.0f} million targets, at most "
            f"{MOST_PIXELS / 1e6:.0f} million: take a smaller nside, or fewer rigs."
        )


def _step(progress: Progress, number: int, count: int) -> Progress:
    return lambda share: progress((number + share) / count)


def lit_share(rig: Rig) -> float | None:
    """Return the share of the guide sensor less its margin where T ≥ 0.5; None if no light comes there at all.

    Geometry alone, so that it is the same where a fixed limit switches the reckoning of light off.
    """
    try:
        lit = lit_shares(rig_light(rig))
    except InputError:
        # A rig with a fixed limit is compared all the same; one without has been refused by the sweep.
        return None
    return float(np.clip(lit.full + lit.half, 0.0, 1.0))


def means(rig: Compared) -> tuple[float | None, ...]:
    """Return a rig's mean usable share by band, that of the whole, and the mean sure share of the whole."""
    summary = rig.summary
    return (*(band.usable.mean for band in summary.bands), summary.whole.usable.mean, summary.whole.sure.mean)


def difference(value: float | None, before: float | None) -> float | None:
    """Return how much more a value is than another one, None where either is not known."""
    return None if value is None or before is None else value - before
