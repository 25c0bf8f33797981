"""The whole sky in parts: the same stars as one search of the whole sphere, in bounded memory."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from support.gaia_rows import claim, stars_in
from support.stars import MadeUpSky

from guidestar.sky import epoch, healpix, regions
from guidestar.stars import store_write
from guidestar.stars.gaia import gaia_store
from guidestar.stars.source import SkyStars, StarSource, cone
from guidestar.stars.store import Store
from guidestar.stars.tycho2 import Tycho2
from guidestar.stars.wholesky import sky_chunks, sky_coverage

CORNER = regions.from_text("5/100-103 5/150 4/1200-1202")
BANDS = ((-90.0, -37.5), (-37.5, 0.0), (0.0, 22.0), (22.0, 89.5), (89.5, 90.0))
ROUNDING = 1e-12
"""Unit vectors made by way of two angles differ from those made without by some 1e-16."""


def joined(parts: list[SkyStars]) -> np.ndarray:
    """Vectors and magnitudes as rows, in an order that does not depend on rounding: shape (n, 4)."""
    rows = np.concatenate([np.vstack([part.vectors, part.g_mag]) for part in parts], axis=1).T
    return rows[np.lexsort(np.round(rows, 9).T)]


def by_search(source: StarSource, epoch_year: float, faintest_mag: float | None = None) -> np.ndarray:
    table = cone(source, 12.0, 34.0, 180.0, faintest_mag=faintest_mag, epoch_year=epoch_year)
    return joined([SkyStars(epoch.unit_vectors(table.ra_deg, table.dec_deg), table.g_mag)])


@pytest.mark.parametrize(
    ("year", "faintest"), [pytest.param(2026.5, None, marks=pytest.mark.slow), (1950.0, 9.0)], ids=["all", "bright"]
)
def test_tycho_in_parts_equals_a_search_of_the_whole_sphere(
    catalogue: Tycho2, year: float, faintest: float | None
) -> None:
    parts = list(sky_chunks(catalogue, epoch_year=year, faintest_mag=faintest))
    assert len(parts) == len(catalogue.folder.partitions)
    assert max(len(part) for part in parts) < 100_000
    assert np.abs(joined(parts) - by_search(catalogue, year, faintest)).max() < ROUNDING


def test_bands_of_declination_hold_every_star_once(catalogue: Tycho2) -> None:
    year = 2050.0
    whole = joined(list(sky_chunks(catalogue, epoch_year=year, faintest_mag=10.0)))
    bands = [list(sky_chunks(catalogue, epoch_year=year, faintest_mag=10.0, dec_deg=band)) for band in BANDS]
    assert np.array_equal(joined([part for band in bands for part in band]), whole)
    for (low, high), band in zip(BANDS, bands, strict=True):
        dec = np.degrees(np.arcsin(np.concatenate([part.vectors[2] for part in band])))
        assert low - 1e-6 < dec.min() < low + 1.0
        assert high - 1.0 < dec.max() < high + 1e-6


def test_a_plain_source_is_asked_once() -> None:
    sky = MadeUpSky(np.array([0.0, 200.0, 10.0]), np.array([-90.0, 10.0, 90.0]), np.array([8.0, 9.0, np.nan]))
    (part,) = sky_chunks(sky, epoch_year=2020.0)
    assert len(part) == 2  # a star without a magnitude is not not fainter than anything
    assert sum(len(p) for band in BANDS for p in sky_chunks(sky, epoch_year=2020.0, dec_deg=band)) == 2
    assert np.array_equal(sky_coverage(sky), regions.whole_sky())


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "store")


def test_the_store_in_parts_equals_a_search(store: Store) -> None:
    """Invented faint stars among Tycho-2's bright ones, of which the store has some."""
    store_write.put(store, stars_in(CORNER, 3000, seed=5), claim(CORNER, 16.0))
    source = gaia_store(store, 16.0)
    merged = cone(source, 0.0, 0.0, 180.0, faintest_mag=None, epoch_year=2016.0)
    tycho = merged.take(merged.id < 0)
    theirs = tycho.take(regions.contains(CORNER, _indices(tycho.ra_deg, tycho.dec_deg)))
    assert len(theirs) > 20
    known = theirs.take(np.arange(len(theirs)) % 2 == 0)
    rows = stars_in(CORNER, 3000, seed=5)
    rows["ra_deg"][: len(known)], rows["dec_deg"][: len(known)], rows["g"][: len(known)] = (
        known.ra_deg, known.dec_deg, known.g_mag,
    )  # fmt: skip
    rows["_healpix_29"] = _indices(rows["ra_deg"], rows["dec_deg"])
    store_write.put(store, rows, claim(CORNER, 17.0))
    source = gaia_store(store, 17.0)
    parts = list(sky_chunks(source, epoch_year=2030.0, faintest_mag=12.0))
    assert len(parts[-1]) <= len(tycho) - len(known) + 3
    assert np.abs(joined(parts) - by_search(source, 2030.0, 12.0)).max() < ROUNDING
    assert np.array_equal(sky_coverage(source), CORNER)
    assert not len(sky_coverage(gaia_store(store, 18.0)))


def _indices(ra_deg: np.ndarray, dec_deg: np.ndarray) -> np.ndarray:
    return healpix.pixel_of(ra_deg, dec_deg)


def test_a_star_that_two_files_hold_comes_once(store: Store) -> None:
    """As after two imports of a catalogue at different epochs: the star has crossed the edge of a file's pixel."""
    for pixel, seed in ((1200, 6), (1201, 7)):
        region = regions.of_pixels([pixel], 4)
        rows = stars_in(region, 50, seed=seed)
        rows["source_id"][0], rows["_healpix_29"][0] = 77, region[0, 0]  # at the southern corner
        store_write.put(store, rows, claim(region, 16.0))
    assert np.sum(store.read([1200, 1201], ["source_id"])["source_id"] == 77) == 2
    parts = list(sky_chunks(gaia_store(store, 16.0), epoch_year=2016.0))
    assert [len(part) for part in parts[:2]] == [50, 49]
