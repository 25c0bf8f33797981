"""Stars from files of four kinds, and what is said of files that cannot be used."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pc
import pyarrow.parquet as pq
import pytest
from astropy.table import Table
from support.gaia_rows import stars_in

from guidestar.errors import DataError, InputError
from guidestar.sky import epoch, regions
from guidestar.stars import store_check
from guidestar.stars.flags import StarFlag
from guidestar.stars.gaia import gaia_store
from guidestar.stars.importing import import_file
from guidestar.stars.source import cone
from guidestar.stars.store import Store

HERE = regions.from_text("5/100 101")
GAIA = {
    "source_id": "source_id", "ra_deg": "ra", "dec_deg": "dec", "pm_ra": "pmra", "pm_dec": "pmdec",
    "g": "phot_g_mean_mag", "bp": "phot_bp_mean_mag", "rp": "phot_rp_mean_mag", "ruwe": "ruwe",
}  # fmt: skip
CDS = dict(zip(GAIA, ("Source", "RA_ICRS", "DE_ICRS", "pmRA", "pmDE", "Gmag", "BPmag", "RPmag", "RUWE"), strict=True))


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "store")


def columns(names: dict[str, str] = GAIA) -> dict[str, np.ndarray]:
    rows = stars_in(HERE, 80)
    rows["bp"][3] = np.nan
    rows["ruwe"][4] = 7.0
    return {theirs: rows[ours] for ours, theirs in names.items()}


def written(folder: Path, kind: str, names: dict[str, str]) -> Path:
    file = folder / f"stars.{kind}"
    table = columns(names)
    if kind == "parquet":
        pq.write_table(pa.table(table), file)
    elif kind == "csv":
        missing = {n: pa.array(v, mask=np.isnan(v) if v.dtype.kind == "f" else None) for n, v in table.items()}
        pc.write_csv(pa.table(missing), file)
    else:
        Table(table).write(file, format={"fits": "fits", "vot": "votable"}[kind])
    return file


@pytest.mark.parametrize("names", [GAIA, CDS], ids=["gaia", "cds"])
@pytest.mark.parametrize("kind", ["parquet", "csv", "fits", "vot"])
def test_four_kinds_of_file_give_the_same_stars(kind: str, names: dict[str, str], store: Store, tmp_path: Path) -> None:
    stars, depth = import_file(store, written(tmp_path, kind, names), HERE)
    expected = stars_in(HERE, 80)
    assert stars == 80
    assert depth == pytest.approx(float(expected["g"].max()), abs=1e-6)
    assert store.complete_to_mag(HERE) == depth
    rows = store.read(store.pixels(), ["source_id", "ra_deg", "g", "bp", "flags"])
    order, theirs = np.argsort(rows["source_id"]), np.argsort(expected["source_id"])
    assert np.array_equal(rows["source_id"][order], expected["source_id"][theirs])
    assert np.allclose(rows["ra_deg"][order], expected["ra_deg"][theirs], rtol=0, atol=1e-10)
    assert np.isnan(rows["bp"]).sum() == 1
    assert np.sum((rows["flags"] & StarFlag.NO_COLOUR) > 0) == 1
    assert np.sum((rows["flags"] & StarFlag.POOR_FIT) > 0) == 1


def test_optional_columns_may_be_missing(store: Store, tmp_path: Path) -> None:
    four = {name: values for name, values in columns().items() if name in ("source_id", "ra", "dec", "phot_g_mean_mag")}
    pq.write_table(pa.table(four), tmp_path / "four.parquet")
    assert import_file(store, tmp_path / "four.parquet", HERE, 14.0)[1] == 14.0
    flags = store.read(store.pixels(), ["flags"])["flags"]
    assert np.all(flags & StarFlag.NO_PROPER_MOTION)
    assert np.all(flags & StarFlag.NO_COLOUR)


def test_another_epoch_and_another_name(store: Store, tmp_path: Path) -> None:
    table = columns()
    pq.write_table(pa.table(table), tmp_path / "old.parquet")
    import_file(store, tmp_path / "old.parquet", HERE, epoch_year=2015.5, release="Gaia DR2")
    rows = store.read(store.pixels(), ["source_id", "ra_deg", "dec_deg"])
    ra, dec = epoch.moved(table["ra"], table["dec"], table["pmra"], table["pmdec"], 0.5)
    order, theirs = np.argsort(rows["source_id"]), np.argsort(table["source_id"])
    assert np.allclose(rows["ra_deg"][order], ra[theirs], rtol=0, atol=1e-12)
    assert np.allclose(rows["dec_deg"][order], dec[theirs], rtol=0, atol=1e-12)
    star = cone(gaia_store(store, 15.0), float(ra[0]), float(dec[0]), 0.01, faintest_mag=None, epoch_year=2016.0)
    assert f"Gaia DR2 {table['source_id'][0]}" in [star.names(i) for i in range(len(star))]


def test_galaxies_are_marked(store: Store, tmp_path: Path) -> None:
    table = columns() | {"in_galaxy_candidates": np.arange(80) == 7}
    pq.write_table(pa.table(table), tmp_path / "g.parquet")
    import_file(store, tmp_path / "g.parquet", HERE)
    rows = store.read(store.pixels(), ["source_id", "flags"])
    assert rows["source_id"][(rows["flags"] & StarFlag.EXTENDED) > 0].tolist() == [table["source_id"][7]]


def bad(change: dict[str, object]) -> dict[str, object]:
    table: dict[str, object] = dict(columns()) | change
    return {name: values for name, values in table.items() if values is not None}


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"ra": None}, r"has no column ra \(it has: source_id, dec"),
        ({"source_id": np.arange(80) + 0.5}, "does not hold whole numbers"),
        ({"ra": np.full(80, 400.0)}, "holds 400 in row 1: it must be in degrees from 0 to 360"),
        ({"dec": np.full(80, -91.0)}, "holds -91 in row 1"),
        ({"phot_g_mean_mag": ["faint"] * 80}, "phot_g_mean_mag of .* does not hold numbers"),
        ({"dec": np.full(80, 10.0), "source_id": np.arange(80)}, "None of the 80 stars"),
    ],
)
def test_files_that_cannot_be_used(change: dict[str, object], sentence: str, store: Store, tmp_path: Path) -> None:
    pq.write_table(pa.table(bad(change)), tmp_path / "bad.parquet")
    with pytest.raises(InputError, match=sentence) as told:
        import_file(store, tmp_path / "bad.parquet", HERE)
    assert "\n" not in str(told.value)
    assert not store.exists


@pytest.mark.parametrize("name", ["a.parquet", "a.csv", "a.fits", "a.vot"])
def test_broken_files(name: str, store: Store, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="There is no file"):
        import_file(store, tmp_path / name, HERE)
    (tmp_path / name).write_bytes(b"\x00\x01 nothing of the kind \xff" * 7)
    with pytest.raises(InputError, match=r"cannot be read|has no column"):
        import_file(store, tmp_path / name, HERE)
    (tmp_path / "stars.xlsx").write_text("no")
    with pytest.raises(InputError, match=r"use \.parquet, \.csv, \.fits or \.vot"):
        import_file(store, tmp_path / "stars.xlsx", HERE)


@pytest.mark.parametrize("kind", ["parquet", "csv", "fits"])
def test_a_part_at_a_time_is_the_same(kind: str, store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Seven rows at once, and for CSV blocks of a few rows, whose first have no BP at all."""
    region = regions.from_text("2/7 5/100 6/20000-20010")
    rows = stars_in(region, 300)
    rows["bp"][:40] = np.nan
    table = {theirs: rows[ours] for ours, theirs in GAIA.items()}
    file = tmp_path / f"many.{kind}"
    if kind == "fits":
        Table(table).write(file)
    elif kind == "parquet":
        pq.write_table(pa.table(table), file, row_group_size=50)
    else:
        missing = {n: pa.array(v, mask=np.isnan(v) if v.dtype.kind == "f" else None) for n, v in table.items()}
        pc.write_csv(pa.table(missing), file)
    whole = Store(tmp_path / "whole")
    assert import_file(whole, file, region, 15.0)[0] == np.sum(rows["g"] <= 15.0)
    monkeypatch.setattr("guidestar.stars.import_files.ROWS_AT_ONCE", 7)
    monkeypatch.setattr("guidestar.stars.import_files._CSV_BLOCK_BYTES", 2000)
    import_file(store, file, region, 15.0)
    assert store_check.faults(store) == ()
    assert np.array_equal(regions.union(*(c.region for c in store.coverage_in(region))), region)
    assert store.pixels() == whole.pixels()
    for pixel in store.pixels():
        assert store.file_of(pixel).read_bytes() == whole.file_of(pixel).read_bytes()


def test_a_bad_row_far_down_is_named_and_nothing_was_stored(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("guidestar.stars.import_files.ROWS_AT_ONCE", 7)
    table = columns()
    table["dec"][61] = 91.0
    pq.write_table(pa.table(table), tmp_path / "bad.parquet")
    with pytest.raises(InputError, match="holds 91 in row 62: it must be in degrees"):
        import_file(store, tmp_path / "bad.parquet", HERE)
    assert not store.exists


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("source_id", "1.5e18", 'holds "1.5e18" in a column that must hold whole numbers, with every digit'),
        ("phot_g_mean_mag", "faint", 'holds "faint" in a column that must hold numbers'),
    ],
)
def test_a_cell_of_a_csv_file_that_is_no_number(
    old: str, new: str, sentence: str, store: Store, tmp_path: Path
) -> None:
    table = pa.table(columns())
    table = table.set_column(table.schema.names.index(old), old, pa.array([*["12"] * 79, new]))
    pc.write_csv(table, tmp_path / "bad.csv")
    with pytest.raises(InputError, match=re.escape(sentence)):
        import_file(store, tmp_path / "bad.csv", HERE)


def test_no_room_for_passing_files(store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = written(tmp_path, "parquet", GAIA)

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("guidestar.stars.importing.pa.ipc.new_file", full)
    with pytest.raises(DataError, match=r"cannot be written .No space left on device.*TMPDIR"):
        import_file(store, file, HERE)
    assert not store.exists
