"""Invented sky maps, rigs compared by them, and stars for small real ones."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from guidestar.maps.compare import Comparison, compared
from guidestar.maps.result import Coverage, SkyMap, Stars, Sweep, Work
from guidestar.maps.summary import SPARSE_BELOW
from guidestar.maps.sweep import pixels_within
from guidestar.maps.targets import At, Wished
from guidestar.maps.variants import Vary, variants
from guidestar.rig import Rig
from guidestar.sky import frames, healpix
from support.rigs import COMPOUND, rig
from support.stars import MadeUpSky


def invented_map(
    nside: int = 8,
    *,
    camera: Rig | None = None,
    bounds_deg: tuple[float, float] | None = None,
    no_data_beyond_dec_deg: float = 90.0,
    richness: float = 3.0,
    seed: int = 5,
) -> SkyMap:
    """Return a map whose usable share is 1 − exp(−stars), stars falling from `richness` in the plane to a fifth.

    Each pixel has its own scatter besides.
    """
    ipix = pixels_within(nside, bounds_deg)
    order = nside.bit_length() - 1
    ra, dec = healpix.pixel_centres(ipix, order)
    latitude = np.abs(frames.icrs_to_galactic(ra, dec)[1])
    # Each pixel of the sky has its own scatter, whichever pixels are asked for.
    scatter = np.random.default_rng(seed).normal(0.0, 0.5, 12 * nside**2)[ipix]
    stars = richness * (0.2 + 0.8 * np.exp(-latitude / 20.0)) * np.exp(scatter)
    usable = np.where(stars < 0.2, 0.0, -np.expm1(-stars))
    columns = [usable, usable**2, 0.7 * usable, stars, 360.0 * (1.0 - usable), 1.0 - (1.0 - usable) ** 3]
    known = camera or rig(COMPOUND)
    if not known.mount.flips:
        columns[1] = np.full(len(ipix), np.nan)
    columns = [np.where(dec > no_data_beyond_dec_deg, np.nan, values) for values in columns]
    sweep = Sweep(
        ra_deg=ra,
        dec_deg=dec,
        coverage=Coverage(*columns),
        rig=known,
        epoch_year=2027.0,
        stars=Stars("invented stars", "G", 10.5, 14.85),
        work=Work(stars_used=1000, pairs=2000, seconds={"coverage": 0.1}),
    )
    return SkyMap(nside, ipix, bounds_deg, sweep)


def invented_comparison(
    richness: tuple[float, ...] = (1.0, 1.3, 0.8),
    *,
    varied: Sequence[Vary] = (),
    nside: int = 8,
    rows: Sequence[Wished] = (),
    **changes: object,
) -> Comparison:
    """Return a comparison of rigs whose skies differ in richness alone, in the order of the rigs.

    With `varied` the rigs are its combinations, and there must be as many of them as there are richnesses.
    """
    base = rig(COMPOUND, **changes)
    if varied:
        chosen = variants([base], varied)
    else:
        rigs = [base.with_values({"name": f"invented rig {letter}"}) for letter in "ABCDEF"[: len(richness)]]
        chosen = variants(rigs)
    rigs_found = []
    for variant, stars in zip(chosen, richness, strict=True):
        sky = invented_map(nside, camera=variant.rig, richness=stars)
        at = tuple(None if row.place is None else At(0.4, 0.1, 0.2, 1.0, 90.0, 0.8) for row in rows)
        rigs_found.append(compared(variant, sky, SPARSE_BELOW, at))
    return Comparison(tuple(rigs_found), tuple(varied), tuple(rows))


def invented_stars(count: int = 100_000, *, complete_to_mag: float = 10.5, seed: int = 2) -> MadeUpSky:
    """Return stars spread evenly over the sphere, 2.4 a square degree, as many more as they are fainter."""
    rng = np.random.default_rng(seed)
    ra, dec = 360.0 * rng.random(count), np.degrees(np.arcsin(2.0 * rng.random(count) - 1.0))
    g_mag = 11.5 + np.log10(np.maximum(rng.random(count), 1e-5)) / 0.42
    return MadeUpSky(ra, dec, g_mag, complete_to_mag=complete_to_mag)
