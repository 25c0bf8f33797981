"""Invented stars in the columns of the store."""

from __future__ import annotations

import numpy as np

from guidestar.sky import healpix, regions
from guidestar.sky.regions import Region
from guidestar.stars.gaia import rows_of
from guidestar.stars.store import Coverage, Rows

TODAY = "2026-11-25"


def claim(region: Region, faintest_mag: float, release: str = "Gaia DR3", origin: str = "test") -> Coverage:
    return Coverage(region, faintest_mag, release, origin, TODAY)


def stars_in(region: Region, count: int, seed: int = 1, faintest_mag: float = 16.0) -> Rows:
    """Invented stars spread over a region, with numbers in Gaia's form."""
    rng = np.random.default_rng(seed)
    pixels = regions.pixels_of(region, 12)
    pixel = rng.choice(pixels, count)
    ra, dec = healpix.pixel_centres(pixel, 12)
    number = (pixel << 35) + np.arange(count) * 2 + 2
    g = rng.uniform(6.0, faintest_mag, count)
    floats = {"ra": ra, "dec": dec, "g": g, "bp": g + 0.4, "rp": g - 0.5}
    floats |= {"pmra": rng.normal(0, 10, count), "pmdec": rng.normal(0, 10, count), "ruwe": np.ones(count)}
    return rows_of(number, floats, np.zeros(count, dtype=bool))
