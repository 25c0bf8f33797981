"""Fetching from a real TAP server: what comes is what was loaded, and `check` then uses it without a network."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from guidestar import check, preset
from guidestar.cli.main import main
from guidestar.errors import DataError
from guidestar.sky import epoch, healpix, regions
from guidestar.sky.regions import Region
from guidestar.stars import store_check
from guidestar.stars.fetch import Progress, fetch
from guidestar.stars.services import Service, services_for
from guidestar.stars.source import cone
from guidestar.stars.store import SCHEMA, Store
from guidestar.stars.tap import Client
from guidestar.stars.tap_network import USER_AGENT, Manners

sys.path.insert(0, str(Path(__file__).parent))
from server_rows import FIELDS, bright_stars


@pytest.fixture(scope="module")
def loaded() -> dict[str, np.ndarray]:
    return bright_stars()


def in_region(numbers: np.ndarray, region: Region) -> np.ndarray:
    return regions.contains(region, (numbers >> 35) << 34)


def test_rows_are_the_loaded_ones_star_by_star(
    store: Store, services: tuple[Service, ...], field: Region, loaded: dict[str, np.ndarray]
) -> None:
    steps: list[int] = []

    def note(progress: Progress) -> None:
        steps.append(progress.stars)

    done = fetch(store, services, field, 10.0, on_progress=note)
    mine = in_region(loaded["source_id"], field)
    assert done.stars == mine.sum() > 700
    assert steps[-1] == done.stars
    assert done.fetched_deg2 == pytest.approx(regions.area_deg2(field))
    rows = store.read(store.pixels(), list(SCHEMA))
    order, theirs = np.argsort(rows["source_id"]), np.argsort(loaded["source_id"][mine])
    assert np.array_equal(rows["source_id"][order], loaded["source_id"][mine][theirs])
    for ours, name in (("ra_deg", "ra"), ("dec_deg", "dec")):
        assert np.abs(rows[ours][order] - loaded[name][mine][theirs]).max() < 1e-9
    for ours, name in (("g", "phot_g_mean_mag"), ("bp", "phot_bp_mean_mag"), ("rp", "phot_rp_mean_mag")):
        assert np.array_equal(rows[ours][order], loaded[name][mine][theirs].astype(np.float32), equal_nan=True)
    assert np.isnan(rows["pm_ra"]).all()
    assert store_check.faults(store) == ()


def test_count_asked_separately_equals_the_rows(store: Store, services: tuple[Service, ...], field: Region) -> None:
    done = fetch(store, services, field, 9.0)
    client = Client(services[0], Manners())
    client.prepare()
    assert client.count(field, 9.0) == done.stars
    client.close()


def test_what_is_there_is_not_fetched_again(store: Store, services: tuple[Service, ...], field: Region) -> None:
    half = regions.from_text("3/300")
    fetch(store, services, half, 9.0)
    rest = fetch(store, services, field, 9.0)
    assert rest.fetched_deg2 == pytest.approx(regions.area_deg2(field) / 2)
    nothing = fetch(store, (), field, 8.5)
    assert (nothing.service, nothing.stars) == (None, 0)
    deeper = fetch(store, services, half, 10.0)
    assert deeper.fetched_deg2 == pytest.approx(regions.area_deg2(half))
    assert store.complete_to_mag(field) == 9.0
    assert store.complete_to_mag(half) == 10.0
    numbers = store.read(store.pixels(), ["source_id"])["source_id"]
    assert len(np.unique(numbers)) == len(numbers)


def test_a_job_gives_the_same_as_a_direct_answer(store: Store, tmp_path: Path, server_url: str, field: Region) -> None:
    direct = Service("direct", "direct", server_url, "gaiadr3.gaia_source")
    part = regions.from_text("4/1200")
    fetch(store, (direct,), part, 10.0)
    jobs = Store(tmp_path / "jobs")
    fetch(jobs, (replace(direct, mode="async"),), part, 10.0)
    one, other = (s.read(s.pixels(), list(SCHEMA)) for s in (store, jobs))
    assert all(np.array_equal(one[name], other[name], equal_nan=True) for name in SCHEMA)


def test_limits_are_read_and_pieces_are_cut_below_them(
    store: Store, services: tuple[Service, ...], monkeypatch: pytest.MonkeyPatch, field: Region
) -> None:
    client = Client(services[0], Manners())
    assert client.most_rows() == 60_000
    client.close()
    monkeypatch.setattr("guidestar.stars.fetch.ROWS_PER_PIECE", 250)
    pieces: list[int] = []
    done = fetch(store, services, field, 10.0, on_progress=lambda p: pieces.append(p.pieces))
    assert pieces[-1] >= done.stars / 250
    assert len(store.read(store.pixels(), ["g"])["g"]) == done.stars


def test_the_service_is_told_who_asks(store: Store, proxy, field: Region) -> None:
    fetch(store, services_for(proxy.url), field, 7.0)
    assert all(f"User-Agent: {USER_AGENT}".encode() in question for question in proxy.questions)
    assert len(proxy.questions) < 12


def test_a_service_without_gaia_is_named(store: Store, proxy, field: Region) -> None:
    from support.fault_proxy import Fault

    proxy.fault = Fault(swap=(rb"gaiadr3\.gaia_source", b"gaiadr3.gaia_nought"))
    with pytest.raises(DataError, match="has no Gaia DR3"):
        fetch(store, services_for(proxy.url), field, 8.0)


def test_another_service_is_tried_where_the_first_fails(store: Store, server_url: str, field: Region) -> None:
    gone = Service("gone", "A service that is gone", "http://127.0.0.1:9/tap", "gaiadr3.gaia_source")
    quick = Manners(attempts=1)
    done = fetch(store, (gone, *services_for(server_url)), field, 7.0, manners=quick)
    assert done.service == server_url
    with pytest.raises(DataError, match=r"A service that is gone .* refuses the connection") as told:
        fetch(store, (gone, replace(gone, title="Another")), field, 8.0, manners=quick)
    assert len(str(told.value).splitlines()) == 2


def test_fetch_then_check_without_a_network(
    tmp_path: Path, server_url: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    if not FIELDS.is_dir():
        pytest.skip("the deep fields are not at ../shared/data/gaia_fields")
    monkeypatch.setenv("GUIDESTAR_STORE", str(tmp_path / "store"))
    rig = tmp_path / "rig.toml"
    assert main(["rig", "new", str(rig), "--from", "compound-2000-f10-prism-8x8"]) == 0
    ra, dec = healpix.pixel_centres([12233], 5)
    target = f"{ra[0]:.4f} {dec[0]:.4f}"
    before = check(target, rig)
    assert main(["stars", "fetch", target, "--rig", str(rig), "--service", server_url, "--json"]) == 0
    told = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert told["schema"] == "guidestar.stars-fetch/1"
    assert told["stars"] > 300
    monkeypatch.setattr("socket.socket", None)
    after = check(target, rig)
    assert before.stars.source == "Tycho-2"
    assert after.stars.source.startswith("Gaia DR3")
    assert after.stars.complete_to_mag >= after.stars.faintest_mag
    assert after.stars.candidates > 3 * before.stars.candidates
    assert after.usable.fraction > before.usable.fraction
    assert any(star.id.startswith("Gaia DR3 ") for star in after.guide_stars)
    assert after.warnings == before.warnings
    assert check(target, rig, stars="tycho2").stars == before.stars


def test_proper_motion_comes_along(store: Store, services: tuple[Service, ...]) -> None:
    """Against the file that was loaded, at another date."""
    file = FIELDS / "dr3_ngc188_r0.487_G19.parquet"
    if not file.is_file():
        pytest.skip("the deep fields are not at ../shared/data/gaia_fields")
    from guidestar.stars.gaia import gaia_store

    fetch(store, services, regions.around(11.83, 85.244, 0.3), 16.0)
    table = pq.read_table(file).to_pydict()
    number, moving = np.array(table["source_id"]), np.array(table["pmra"], dtype=float)
    year = 2050.0
    ra, dec = epoch.moved(
        table["ra"], table["dec"], np.nan_to_num(moving), np.nan_to_num(np.array(table["pmdec"], float)), year - 2016.0
    )
    found = cone(gaia_store(store, 16.0), 11.83, 85.244, 0.25, faintest_mag=16.0, epoch_year=year)
    faint = found.take(found.g_mag > 10.0)  # the brighter ones come from another file, without proper motion
    mine, theirs = np.intersect1d(faint.id, number, return_indices=True)[1:]
    assert len(mine) > 300
    apart = epoch.unit_vectors(faint.ra_deg[mine], faint.dec_deg[mine]) - epoch.unit_vectors(ra[theirs], dec[theirs])
    assert np.degrees(np.linalg.norm(apart, axis=0)).max() * 3600 < 0.001


def test_preset_rig_radius_and_depth_are_what_it_needs() -> None:
    from guidestar.field.needs import star_needs

    needs = star_needs(preset("compound-2000-f10-prism-8x8"))
    assert needs.radius_deg < needs.wide_radius_deg < 1.0
    assert 14.0 < needs.faintest_mag < 16.0
