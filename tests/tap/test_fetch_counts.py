"""Counting at a real TAP server: every pixel's number is that of the loaded rows, whatever goes wrong on the way."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from support.fault_proxy import BUSY, Fault, FaultProxy

from guidestar.cli.main import main
from guidestar.errors import DataError
from guidestar.sky import regions
from guidestar.sky.regions import Region
from guidestar.stars import store_check
from guidestar.stars.counted import EDGES_G, ORDER, CountTable, read_counts
from guidestar.stars.fetch_counts import fetch_counts
from guidestar.stars.piecework import Progress
from guidestar.stars.services import Service, services_for
from guidestar.stars.store import Store
from guidestar.stars.tap_network import Manners

sys.path.insert(0, str(Path(__file__).parent))
from server_rows import FIELDS, bright_stars

HURRIED = Manners(silence_s=1.5, whole_s=1.0, attempts=3, first_wait_s=0.05, longest_wait_s=0.2)
GROUPS = b"GROUP+BY"

FATAL = {
    "busy": (Fault(say=BUSY, only=GROUPS), "busy or broken .HTTP 503. .tried 3 times"),
    "stalled": (Fault(stall=3000, only=GROUPS), "sent nothing for 1.5 s"),
    "slow": (Fault(rate=3000, only=GROUPS), "not sent its whole answer after 1 s"),
    "cut in the head": (Fault(head=40, only=GROUPS), "cut off or is no VOTable"),
    "cut in the body": (Fault(body=3000, only=GROUPS), "connection to it was cut"),
    "cut in a body without length": (Fault(body=3000, plain=True, only=GROUPS), "cut off or is no VOTable"),
    "cut at the last byte": (Fault(body=-1, plain=True, only=GROUPS), "cut off or is no VOTable"),
    "error in a good answer": (Fault(swap=(rb"gaia_source", b"gaia_nought"), only=GROUPS), "reports .*gaia_nought"),
    "fewer stars, called whole": (
        Fault(swap=(rb"%3C%3D\+9", b"%3C%3D+8"), only=GROUPS),
        "counted [0-9,]+ of [0-9,]+ stars .tried 3 times",
    ),
    "other groups": (
        Fault(swap=(rb"562949953421312", b"281474976710656"), only=GROUPS),
        "other counts than were asked",
    ),
}

PASSING = {
    "busy twice": Fault(say=BUSY, only=GROUPS, times=2),
    "cut twice": Fault(body=3000, only=GROUPS, times=2),
    "rows left out": Fault(swap=(rb"MAXREC=\d+", b"MAXREC=400"), only=GROUPS),
}


@pytest.fixture(scope="module")
def loaded() -> dict[str, np.ndarray]:
    return bright_stars()


def slow_counts(loaded: dict[str, np.ndarray], pixels: np.ndarray, brighter_than_g: float) -> np.ndarray:
    """The loaded stars of each pixel, counted one by one; Gaia's number says in which pixel a star is."""
    chosen = loaded["phot_g_mean_mag"] < brighter_than_g
    pixel = loaded["source_id"][chosen] >> (59 - 2 * ORDER)
    return np.bincount(pixel, minlength=12288)[pixels]


def table(store: Store) -> CountTable:
    found = read_counts(store)
    assert found is not None
    return found


def test_the_whole_sky_to_g_10_is_that_of_the_loaded_rows(
    store: Store, services: tuple[Service, ...], loaded: dict[str, np.ndarray]
) -> None:
    steps: list[Progress] = []
    done = fetch_counts(store, services, regions.whole_sky(), 10.0, on_progress=steps.append)
    assert done.stars == steps[-1].stars == 482_106
    found = table(store)
    assert np.array_equal(found.pixels, np.arange(12288))
    assert np.array_equal(found.stars[:, 0], slow_counts(loaded, found.pixels, 10.0))
    assert np.all(found.stars[:, 1:] == -1)
    assert [(part.faintest_mag, part.origin) for part in found.parts] == [(10.0, services[0].url)]
    assert store_check.faults(store) == ()
    again = fetch_counts(store, (), regions.whole_sky(), 10.0)
    assert (again.service, again.stars) == (None, 0)


def test_deeper_in_a_field_that_the_server_has_whole(store: Store, services: tuple[Service, ...]) -> None:
    if not FIELDS.is_dir():
        pytest.skip("the deep fields are not at ../shared/data/gaia_fields")
    import pyarrow.parquet as pq

    pixel = 12233
    fetch_counts(store, services, regions.from_text(f"5/{pixel}"), 16.0)
    file = pq.read_table(FIELDS / f"dr2_nside32_pixel{pixel}_G16.parquet")
    number, g_mag = file["source_id"].to_numpy(), file["phot_g_mean_mag"].to_numpy()
    bright = bright_stars()
    mine = (bright["source_id"] >> 49) == pixel
    counted = np.concatenate([g_mag[(number >> 49 == pixel) & (g_mag >= 10.0)], bright["phot_g_mean_mag"][mine]])
    assert table(store).stars[0, :13].tolist() == [int(np.sum(counted < edge)) for edge in EDGES_G[:13]]


def test_it_goes_on_where_it_stopped(
    store: Store, services: tuple[Service, ...], field: Region, loaded: dict[str, np.ndarray]
) -> None:
    half = regions.from_text("3/300")
    fetch_counts(store, services, half, 10.0)
    rest = fetch_counts(store, services, field, 10.0)
    assert rest.fetched_deg2 == pytest.approx(regions.area_deg2(field) / 2)
    found = table(store)
    assert np.array_equal(found.stars[:, 0], slow_counts(loaded, found.pixels, 10.0))
    assert len(found.pixels) == 32


def test_pieces_are_cut_where_stars_or_rows_are_too_many(
    store: Store,
    services: tuple[Service, ...],
    field: Region,
    loaded: dict[str, np.ndarray],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("guidestar.stars.fetch_counts.STARS_PER_PIECE", 100)
    pieces: list[int] = []
    fetch_counts(store, services, field, 10.0, on_progress=lambda p: pieces.append(p.pieces))
    assert pieces[-1] >= 8
    found = table(store)
    assert np.array_equal(found.stars[:, 0], slow_counts(loaded, found.pixels, 10.0))
    monkeypatch.undo()
    monkeypatch.setattr("guidestar.stars.tap.Client.most_rows", lambda self: 90)  # four pixels' groups at most
    few = Store(store.path.parent / "few")
    fetch_counts(few, services, field, 10.0)
    assert np.array_equal(table(few).stars, found.stars)


def test_a_service_that_cannot_count_one_pixel_is_told(store: Store, proxy: FaultProxy, field: Region) -> None:
    proxy.fault = Fault(swap=(rb"MAXREC=\d+", b"MAXREC=2"), only=GROUPS)
    with pytest.raises(DataError, match="cannot count even one pixel of sky to G 10"):
        fetch_counts(store, services_for(proxy.url), field, 10.0, manners=HURRIED)


@pytest.mark.parametrize("kind", FATAL)
def test_a_lasting_fault_is_told_and_harms_nothing(
    kind: str, store: Store, proxy: FaultProxy, field: Region, loaded: dict[str, np.ndarray]
) -> None:
    proxy.fault, reason = FATAL[kind]
    depth = 10.0 if "fewer" not in kind else 9.0
    with pytest.raises(DataError, match=reason) as told:
        fetch_counts(store, services_for(proxy.url), field, depth, manners=HURRIED)
    assert proxy.url in str(told.value)
    assert "\n" not in str(told.value)
    assert store_check.faults(store) == ()
    assert read_counts(store) is None
    proxy.fault = None
    fetch_counts(store, services_for(proxy.url), field, 10.0, manners=HURRIED)
    assert np.array_equal(table(store).stars[:, 0], slow_counts(loaded, table(store).pixels, 10.0))


@pytest.mark.parametrize("kind", PASSING)
def test_a_passing_fault_is_overcome(
    kind: str, store: Store, proxy: FaultProxy, field: Region, loaded: dict[str, np.ndarray]
) -> None:
    proxy.fault = PASSING[kind]
    fetch_counts(store, services_for(proxy.url), field, 10.0, manners=HURRIED)
    assert len(table(store).pixels) == 32
    assert np.array_equal(table(store).stars[:, 0], slow_counts(loaded, table(store).pixels, 10.0))


def test_on_the_command_line(tmp_path: Path, server_url: str, capsys: pytest.CaptureFixture[str], monkeypatch) -> None:
    monkeypatch.setenv("GUIDESTAR_STORE", str(tmp_path / "store"))
    asked = ["stars", "fetch", "M31", "--counts", "--faintest-mag", "9.2", "--service", server_url]
    assert main(asked) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Counted 1" in out
    assert "stars to G 10 on 13.4 square degrees" in out
    assert main([*asked, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["counts"], told["service"], told["faintest_mag"]) == (True, None, 10.0)
    monkeypatch.setattr("socket.socket", None)
    assert main(["stars", "counts", "M31", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["source"].startswith(f"Gaia DR3 counted to G 10 by {server_url} on ")
    assert [row["counted"] is None for row in told["cumulative"]] == [False] + [True] * 8
    assert main(["stars", "counts", "M31"]) == 0
    assert "counted" in capsys.readouterr().out
    assert main(["stars", "list"]) == 0
    assert "Star counts in the local store" in capsys.readouterr().out
    assert main(["stars", "remove", "--counts"]) == 0
    assert "the built-in model is used again" in capsys.readouterr().out
    assert main(["stars", "remove", "--counts"]) == 0
    assert "holds no star counts" in capsys.readouterr().out
    assert main(["stars", "fetch", "M31", "--counts", "--faintest-mag", "18.3", "--service", server_url]) == 2
    assert "counted to G 18 at most" in capsys.readouterr().err
