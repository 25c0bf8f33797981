"""The built-in catalogue: what is in it against the ReadMe and counts of the originals, and searches of it."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import erfa
import numpy as np
import pyarrow.parquet as pq
import pytest

from guidestar.errors import DataError
from guidestar.sky import epoch, healpix
from guidestar.stars import tycho2 as module
from guidestar.stars.flags import CLOSE_NEIGHBOUR_ARCSEC, StarFlag, flag_names
from guidestar.stars.hats import Columns
from guidestar.stars.source import StarSource, cone
from guidestar.stars.table import StarTable
from guidestar.stars.tycho2 import Tycho2

Authority = Callable[[str], dict[str, Any]]
PRINTED_POSITION_DEG = 1e-8
ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def facts(authority: Authority) -> dict[str, Any]:
    return authority("tycho2.json")


@pytest.fixture(scope="module")
def main_list(whole: Columns) -> np.ndarray:
    """Mask of the rows of the main catalogue."""
    return (whole["flags"] & StarFlag.SUPPLEMENT) == 0


@pytest.fixture(scope="module")
def everyone(catalogue: Tycho2) -> StarTable:
    return cone(catalogue, 0.0, 0.0, 180.0, faintest_mag=None, epoch_year=2026.0)


def row_of(whole: Columns, tyc1: int, tyc2: int, tyc3: int) -> int:
    found = np.flatnonzero((whole["tyc1"] == tyc1) & (whole["tyc2"] == tyc2) & (whole["tyc3"] == tyc3))
    assert len(found) == 1
    return int(found[0])


# What is in it


def test_no_star_is_dropped(main_list: np.ndarray, facts: dict[str, Any]) -> None:
    assert int(main_list.sum()) == facts["readme"]["rows_main"]
    assert int((~main_list).sum()) == facts["readme"]["rows_supplement_1"]
    assert len(main_list) == 2_557_501


def test_every_star_has_a_number_of_its_own(everyone: StarTable) -> None:
    assert len(np.unique(everyone.id)) == len(everyone)


def test_components_with_the_same_designation_are_told_apart(everyone: StarTable, catalogue: Tycho2) -> None:
    # 254 designations stand both in the main list and, for the other component of a double, in the supplement.
    assert int(np.sum((everyone.flags & StarFlag.SHARED_NAME) > 0)) == 254
    pair = cone(catalogue, 39.65334, 3.44320, 0.001, faintest_mag=None, epoch_year=2000.0)
    assert sorted(pair.names(i) for i in range(len(pair))) == ["TYC 49-1674-1", "TYC 49-1674-1 (supplement)"]
    assert set(pair.hip.tolist()) == {12318}


def test_tyc_1_13_1_as_printed(whole: Columns, facts: dict[str, Any]) -> None:
    line = facts["lines"]["main"]
    i = row_of(whole, 1, 13, 1)
    for name, printed in (("ra_deg", line[15:27]), ("dec_deg", line[28:40])):
        assert whole[name][i] == pytest.approx(float(printed), abs=PRINTED_POSITION_DEG)
    for name, printed in (
        ("pm_ra", line[41:48]),
        ("pm_dec", line[49:56]),
        ("bt", line[110:116]),
        ("vt", line[123:129]),
    ):
        assert whole[name][i] == float(printed)
    assert (whole["epoch"][i], whole["hip"][i], whole["prox"][i]) == (2000.0, 0, 999)
    assert whole["v"][i] == 8.51  # 8.50638 by the ReadMe's relation
    assert flag_names(whole["flags"][i]) == ("derived_g",)


def test_the_first_star_of_the_supplement_as_printed(whole: Columns, facts: dict[str, Any]) -> None:
    line = facts["lines"]["supplement"]
    i = row_of(whole, 2, 580, 1)
    for name, printed in (("ra_deg", line[15:27]), ("dec_deg", line[28:40])):
        assert whole[name][i] == pytest.approx(float(printed), abs=PRINTED_POSITION_DEG)
    assert (whole["bt"][i], whole["vt"][i], whole["epoch"][i]) == (11.688, 11.171, 1991.25)
    assert np.isnan(whole["pm_ra"][i])
    assert flag_names(whole["flags"][i]) == ("derived_g", "no_proper_motion", "supplement")


@pytest.mark.parametrize(("latitude", "low", "high"), [("0", 0.0, 2.5), ("30", 27.5, 32.5), ("90", 80.0, 90.0)])
def test_densities_at_three_galactic_latitudes(
    whole: Columns, facts: dict[str, Any], latitude: str, low: float, high: float
) -> None:
    _, b = erfa.icrs2g(np.radians(whole["ra_deg"]), np.radians(whole["dec_deg"]))
    stars = np.sum((np.degrees(np.abs(b)) >= low) & (np.degrees(np.abs(b)) <= high))
    area = 41252.961 * (np.sin(np.radians(high)) - np.sin(np.radians(low)))
    assert stars / area == pytest.approx(facts["readme"]["density_per_square_degree"][latitude], rel=0.08)


def test_counts_by_vt(whole: Columns, main_list: np.ndarray, facts: dict[str, Any]) -> None:
    vt = whole["vt"][main_list]
    assert {limit: int(np.sum(vt < float(limit))) for limit in facts["counted"]["vt_below"]} == facts["counted"][
        "vt_below"
    ]


def test_counts_by_v_within_the_rounding(whole: Columns, main_list: np.ndarray, facts: dict[str, Any]) -> None:
    v = whole["v"][main_list & ~np.isnan(whole["bt"]) & ~np.isnan(whole["vt"])]
    for limit, count in facts["counted"]["v_below"].items():
        # V is rounded to 0.01, so stars within 0.005 of the limit may fall on the other side.
        assert np.sum(v < float(limit) - 0.015) < count <= np.sum(v < float(limit) + 0.015)
        assert np.sum(v < float(limit)) == pytest.approx(count, rel=0.01)


def test_missing_magnitudes_and_flags_are_as_many_as_counted(
    whole: Columns, main_list: np.ndarray, facts: dict[str, Any]
) -> None:
    counted = facts["counted"]
    flags = whole["flags"][main_list]
    assert int(np.isnan(whole["bt"][main_list]).sum()) == counted["no_bt"]
    assert int(np.isnan(whole["vt"][main_list]).sum()) == counted["no_vt"]
    assert int(np.sum((flags & StarFlag.NO_MEAN_POSITION) > 0)) == counted["no_mean_position"]
    assert int(np.sum((flags & StarFlag.COLOUR_ASSUMED) > 0)) == counted["no_bt"] + counted["no_vt"]
    assert int(np.sum((flags & StarFlag.PHOTOCENTRE) > 0)) >= counted["mean_photocentre"]
    assert not np.any(flags & StarFlag.HP_MAGNITUDE)


def test_flags_agree_with_the_columns(whole: Columns) -> None:
    flags = whole["flags"]
    known = ~np.isnan(whole["pm_ra"])
    assert np.array_equal(known, ~np.isnan(whole["pm_dec"]))
    assert np.array_equal(known, (flags & StarFlag.NO_PROPER_MOTION) == 0)
    assert np.array_equal(whole["prox"] < 10 * CLOSE_NEIGHBOUR_ARCSEC, (flags & StarFlag.CLOSE_NEIGHBOUR) > 0)
    assert np.all(flags & StarFlag.DERIVED_G)
    observed, supplement = (flags & StarFlag.NO_MEAN_POSITION) > 0, (flags & StarFlag.SUPPLEMENT) > 0
    assert np.all(whole["epoch"][supplement] == 1991.25)
    assert np.all(whole["epoch"][~supplement & ~observed] == 2000.0)
    assert np.all((whole["epoch"][observed] > 1991.0) & (whole["epoch"][observed] < 1992.5))


def test_stored_ranges_hold_for_every_star(whole: Columns) -> None:
    assert module.EPOCHS[0] <= whole["epoch"].min()
    assert module.EPOCHS[1] == whole["epoch"].max()
    assert whole["g"].max() <= module.LIMIT_G_MAG < whole["g"].max() + 0.1
    assert not np.any(np.isnan(whole["g"]) | np.isnan(whole["v"]))


def test_no_star_outruns_the_widening_of_a_search(whole: Columns) -> None:
    fastest = np.nanmax(np.hypot(whole["pm_ra"], whole["pm_dec"])) / 1000.0
    assert 10.3 < fastest < epoch.FASTEST_STAR_ARCSEC_PER_YEAR


def test_positions_are_multiples_of_a_step_below_the_printed_digit(whole: Columns) -> None:
    for name in ("ra_deg", "dec_deg"):
        steps = whole[name] * 2.0**26
        assert np.array_equal(steps, np.round(steps))


# How it is stored


def test_each_file_holds_its_pixel_in_order_in_one_row_group(catalogue: Tycho2, whole: Columns) -> None:
    index = whole["_healpix_29"]
    assert np.all(np.diff(index) >= 0)
    assert np.array_equal(index, healpix.pixel_of(whole["ra_deg"], whole["dec_deg"]))
    ends = 0
    for partition in catalogue.folder.partitions:
        footer = pq.read_metadata(catalogue.folder.path / partition.relative_path)
        assert footer.num_row_groups == 1
        own = index[ends : ends + footer.num_rows] >> 2 * (healpix.INDEX_ORDER - partition.order)
        assert np.all(own == partition.pixel)
        ends += footer.num_rows
    assert ends == len(index)


def test_it_takes_at_most_75_megabytes(catalogue: Tycho2) -> None:
    assert sum(file.stat().st_size for file in catalogue.folder.path.rglob("*") if file.is_file()) <= 75e6


# Searches


def exact(
    whole: Columns, ra_deg: float, dec_deg: float, radius_deg: float, year: float, faintest: float
) -> list[tuple[float, ...]]:
    """The slow twin: every star of the catalogue moved, every distance measured with ERFA."""
    pm_ra, pm_dec = np.nan_to_num(whole["pm_ra"]), np.nan_to_num(whole["pm_dec"])
    ra, dec = epoch.moved(whole["ra_deg"], whole["dec_deg"], pm_ra, pm_dec, year - whole["epoch"])
    distance = np.degrees(erfa.seps(np.radians(ra_deg), np.radians(dec_deg), np.radians(ra), np.radians(dec)))
    return keys_of(
        *(whole[name][(distance <= radius_deg) & (whole["g"] <= faintest)] for name in ("v", "g", "hip", "flags"))
    )


def keys_of(*columns: np.ndarray) -> list[tuple[float, ...]]:
    """Rows as sorted tuples, to compare tables whose rows are in any order."""
    return sorted(zip(*(column.tolist() for column in columns), strict=True))


@pytest.mark.parametrize(
    ("ra_deg", "dec_deg", "radius_deg"),
    [
        (0.0, 90.0, 1.5),  # the poles
        (33.0, -90.0, 1.5),
        (250.0, 89.5, 0.8),
        (0.0, 0.0, 1.0),  # RA 0, where four partitions meet
        (359.999, -30.0, 0.7),
        (45.0, 0.0, 1.0),  # the corner of four partitions of different base pixels
        (90.0, 41.8103149, 1.2),  # where three partitions meet
        (339.267, 34.416, 0.5),
    ],
)
@pytest.mark.parametrize("year", [2026.9, 1950.0])
def test_a_search_loses_nothing(
    catalogue: Tycho2, whole: Columns, ra_deg: float, dec_deg: float, radius_deg: float, year: float
) -> None:
    table = cone(catalogue, ra_deg, dec_deg, radius_deg, faintest_mag=12.0, epoch_year=year)
    assert keys_of(table.v_mag, table.g_mag, table.hip, table.flags) == exact(
        whole, ra_deg, dec_deg, radius_deg, year, 12.0
    )
    assert len(table) > 10


def test_a_wide_search_equals_the_slow_twin(catalogue: Tycho2, whole: Columns) -> None:
    table = cone(catalogue, 100.0, -50.0, 60.0, faintest_mag=8.0, epoch_year=2030.0)
    assert keys_of(table.v_mag, table.g_mag, table.hip, table.flags) == exact(whole, 100.0, -50.0, 60.0, 2030.0, 8.0)


def test_the_whole_sphere_is_the_whole_catalogue(everyone: StarTable) -> None:
    assert len(everyone) == 2_557_501


def test_a_ring_is_a_cone_without_the_inner_cone(catalogue: Tycho2) -> None:
    place = {"faintest_mag": None, "epoch_year": 2026.0}
    outer, inner = (set(cone(catalogue, 10.0, 60.0, r, **place).id.tolist()) for r in (1.0, 0.6))
    assert set(catalogue.ring(10.0, 60.0, 0.6, 1.0, **place).id.tolist()) == outer - inner


def test_a_fast_star_is_found_where_it_is_now_and_not_where_it_was(catalogue: Tycho2) -> None:
    # HIP 87937 moves 10.3″ a year: in 1000 years it is 2.9° further north.
    then = cone(catalogue, 269.452, 4.693, 0.05, faintest_mag=10.0, epoch_year=2000.0)
    assert 87937 in then.hip
    later = cone(catalogue, 269.23, 7.548, 0.05, faintest_mag=10.0, epoch_year=3000.0)
    assert later.hip.tolist().count(87937) == 1
    assert 87937 not in cone(catalogue, 269.452, 4.693, 0.05, faintest_mag=10.0, epoch_year=3000.0).hip


def test_stars_that_have_moved_into_another_partition_are_found_there(catalogue: Tycho2, whole: Columns) -> None:
    year = 2100.0
    fast = np.flatnonzero(np.hypot(whole["pm_ra"], whole["pm_dec"]) > 40.0)
    columns = (whole[name][fast] for name in ("ra_deg", "dec_deg", "pm_ra", "pm_dec"))
    ra, dec = epoch.moved(*columns, year - whole["epoch"][fast])
    old = whole["_healpix_29"][fast] >> 2 * (healpix.INDEX_ORDER - 2)
    crossed = np.flatnonzero(healpix.pixel_of(ra, dec, 2) != old)
    assert len(crossed) > 20
    for i in crossed[:60]:
        found = cone(catalogue, ra[i], dec[i], 1e-4, faintest_mag=None, epoch_year=year)
        assert whole["g"][fast[i]] in found.g_mag
        assert found.ra_deg[0] == pytest.approx(ra[i], abs=1e-3)


def test_the_limit_includes_its_own_magnitude(catalogue: Tycho2) -> None:
    everyone = cone(catalogue, 339.267, 34.416, 1.0, faintest_mag=None, epoch_year=2026.0)
    limit = float(np.sort(everyone.g_mag)[20])
    brighter = cone(catalogue, 339.267, 34.416, 1.0, faintest_mag=limit, epoch_year=2026.0)
    assert brighter.g_mag.max() == limit
    assert len(brighter) == int(np.sum(everyone.g_mag <= limit))


def test_nothing_bright_enough_is_an_empty_table(catalogue: Tycho2) -> None:
    table = cone(catalogue, 339.267, 34.416, 0.5, faintest_mag=-5.0, epoch_year=2026.0)
    assert len(table) == 0
    assert table.take(np.zeros(0, dtype=bool)).ra_deg.shape == (0,)


def test_a_row_of_the_table_carries_all_that_is_known(catalogue: Tycho2) -> None:
    table = cone(catalogue, 1.12558209, 2.267394, 0.001, faintest_mag=None, epoch_year=2000.0)
    assert [table.names(i) for i in range(len(table))] == ["TYC 1-13-1"]
    assert table.v_mag.tolist() == [8.51]
    assert table.g_mag[0] == pytest.approx(8.67 - 0.72, abs=0.05)  # the steep red end of the relation
    assert table.ra_deg[0] == pytest.approx(1.12558209, abs=PRINTED_POSITION_DEG)


def test_it_is_a_star_source(catalogue: Tycho2) -> None:
    assert isinstance(catalogue, StarSource)
    assert (catalogue.name, catalogue.band) == ("Tycho-2", "G")
    assert catalogue.complete_to_mag < module.LIMIT_G_MAG


def test_a_catalogue_that_is_nowhere_is_an_error(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(module.resources, "files", lambda package: tmp_path / "guidestar" / "stars")
    with pytest.raises(DataError, match=r"built-in star catalogue is missing.*install guidestar again"):
        module.builtin_folder()


def test_an_installed_package_uses_its_own_copy(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    inside = tmp_path / "guidestar" / "data" / "tycho2"
    for folder in (inside, tmp_path / "data" / "tycho2"):
        folder.mkdir(parents=True)
    monkeypatch.setattr(module.resources, "files", lambda package: tmp_path / "guidestar" / "stars")
    assert module.builtin_folder() == inside


# What its description says


def test_the_description_lists_every_flag_with_its_number() -> None:
    text = (ROOT / "data" / "README.md").read_text(encoding="utf-8")
    for flag in StarFlag:
        assert f"| {flag.value} | `{str(flag.name).lower()}` |" in text


def test_the_description_lists_every_column(catalogue: Tycho2) -> None:
    text = (ROOT / "data" / "README.md").read_text(encoding="utf-8")
    schema = pq.read_schema(catalogue.folder.path / catalogue.folder.partitions[0].relative_path)
    assert schema.names == [
        "_healpix_29", "ra_deg", "dec_deg", "epoch", "pm_ra", "pm_dec", "bt", "vt", "g", "v", "tyc1", "tyc2",
        "tyc3", "hip", "prox", "flags",
    ]  # fmt: skip
    for field in schema:
        assert f"| `{field.name}` |" in text
