"""The local store: what is put in comes out, claims and files stay together, and a kill leaves before or after."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import hats
import mocpy
import numpy as np
import pytest
from support.gaia_rows import claim, stars_in

from guidestar.errors import DataError
from guidestar.sky import healpix, regions
from guidestar.stars import store_check, store_write
from guidestar.stars.overview import overview
from guidestar.stars.store import SCHEMA, Rows, Store, complete_to, star_index, store_at
from guidestar.stars.store_lock import locked

HERE = regions.from_text("5/100 101")
NEXT_DOOR = regions.from_text("5/102 5/104")


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "store")


def numbers(store: Store) -> list[int]:
    return sorted(store.read(store.pixels(), ["source_id"])["source_id"].tolist())


def test_what_is_put_in_comes_out(store: Store) -> None:
    rows = stars_in(HERE, 500)
    store_write.put(store, rows, claim(HERE, 16.0))
    back = store.read(store.pixels(), list(SCHEMA))
    order, theirs = np.argsort(back["source_id"]), np.argsort(rows["source_id"])
    for name, kind in SCHEMA.items():
        assert back[name].dtype == kind
        assert np.array_equal(back[name][order], rows[name][theirs].astype(kind), equal_nan=True)
    assert store_check.faults(store) == ()


def test_depth_is_known_by_place(store: Store) -> None:
    store_write.put(store, stars_in(HERE, 50, faintest_mag=14.0), claim(HERE, 14.0))
    both = regions.union(HERE, NEXT_DOOR)
    assert store.complete_to_mag(HERE) == 14.0
    assert store.complete_to_mag(both) is None
    assert np.array_equal(store.missing(both, 14.0), NEXT_DOOR)
    assert np.array_equal(store.missing(HERE, 14.5), HERE)
    store_write.put(store, stars_in(NEXT_DOOR, 50), claim(NEXT_DOOR, 16.0))
    assert store.complete_to_mag(both) == 14.0
    assert store.complete_to_mag(NEXT_DOOR) == 16.0


def test_deeper_stars_replace_the_old_ones_and_shallower_ones_do_not(store: Store) -> None:
    deep = stars_in(HERE, 300, seed=1)
    store_write.put(store, stars_in(HERE, 40, seed=2, faintest_mag=12.0), claim(HERE, 12.0))
    store_write.put(store, deep, claim(HERE, 16.0))
    assert numbers(store) == sorted(deep["source_id"].tolist())
    store_write.put(store, stars_in(HERE, 40, seed=3, faintest_mag=13.0), claim(HERE, 13.0))
    assert numbers(store) == sorted(deep["source_id"].tolist())
    part = regions.from_text("5/100")
    store_write.put(store, stars_in(part, 10, seed=4, faintest_mag=17.0), claim(part, 17.0))
    assert store.complete_to_mag(HERE) == 16.0
    assert store.complete_to_mag(part) == 17.0


def test_an_empty_piece_of_sky_is_covered_too(store: Store) -> None:
    rows = {name: values[:0] for name, values in stars_in(HERE, 1).items()}
    store_write.put(store, rows, claim(HERE, 16.0))
    assert store.complete_to_mag(HERE) == 16.0
    assert numbers(store) == []
    assert store_check.faults(store) == ()


def test_clearing(store: Store) -> None:
    both = regions.union(HERE, NEXT_DOOR)
    rows = stars_in(both, 400)
    store_write.put(store, rows, claim(both, 16.0))
    store_write.clear(store, HERE)
    assert np.array_equal(store.missing(both, 16.0), HERE)
    inside = regions.contains(HERE, rows["_healpix_29"])
    assert numbers(store) == sorted(rows["source_id"][~inside].tolist())
    assert store_check.faults(store) == ()
    store_write.clear(store, regions.whole_sky())
    assert store.pixels() == []
    assert store_check.faults(store) == ()
    store_write.put(store, rows, claim(both, 16.0))
    assert store.complete_to_mag(both) == 16.0


def test_pieces_in_any_order_give_the_same_files(tmp_path: Path) -> None:
    both = regions.union(HERE, NEXT_DOOR)
    rows = stars_in(both, 400)
    one, other = Store(tmp_path / "one"), Store(tmp_path / "other")
    store_write.put(one, rows, claim(both, 16.0))
    for part in (NEXT_DOOR, regions.from_text("5/101"), regions.from_text("5/100")):
        store_write.put(other, rows, claim(part, 16.0))
    assert contents(one.path) == contents(other.path)


def contents(folder: Path) -> dict[str, bytes]:
    return {f.relative_to(folder).as_posix(): f.read_bytes() for f in folder.rglob("*") if f.is_file()}


def test_a_hats_reader_opens_it(store: Store) -> None:
    both = regions.union(HERE, NEXT_DOOR)
    store_write.put(store, stars_in(both, 400), claim(both, 16.0))
    catalogue = hats.read_hats(store.path)
    assert catalogue.catalog_info.total_rows == 400
    assert {(p.order, p.pixel) for p in catalogue.get_healpix_pixels()} == {(4, 25), (4, 26)}
    index = store.read([25], ["_healpix_29"])["_healpix_29"]
    assert set((index >> 50).tolist()) == {25}


def test_coverage_is_a_moc_a_depth_that_the_library_for_mocs_reads(store: Store) -> None:
    store_write.put(store, stars_in(HERE, 50, faintest_mag=14.0), claim(HERE, 14.0))
    store_write.put(store, stars_in(NEXT_DOOR, 50), claim(NEXT_DOOR, 16.0))
    told = json.loads((store.path / "coverage.json").read_text())
    fractions = {d["faintest_mag"]: mocpy.MOC.from_string(d["moc"]).sky_fraction for d in told["complete_to"]}
    assert fractions == {14.0: pytest.approx(4 / 12288), 16.0: pytest.approx(2 / 12288)}


def test_sha256sum_reads_the_list_of_checksums(store: Store) -> None:
    store_write.put(store, stars_in(HERE, 50), claim(HERE, 16.0))
    lines = [line.split("  ") for line in (store.path / "SHA256SUMS").read_text().splitlines() if line[0] != "#"]
    assert {name for _, name in lines} == set(contents(store.path)) - {"SHA256SUMS", ".lock"}
    assert all(hashlib.sha256((store.path / name).read_bytes()).hexdigest() == digest for digest, name in lines)


class Killed(BaseException):
    """Stands for a kill: nothing of the program runs after it."""


@pytest.fixture
def killer(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """A countdown of calls that touch the disk; at 0 the program dies before the call."""
    left = [10**9]

    def counted(real):  # type: ignore[no-untyped-def]
        def call(*given, **options):  # type: ignore[no-untyped-def]
            left[0] -= 1
            if left[0] == 0:
                raise Killed
            return real(*given, **options)

        return call

    for owner, name in ((Path, "replace"), (Path, "unlink"), (os, "fsync")):
        monkeypatch.setattr(owner, name, counted(getattr(owner, name)))
    yield left
    left[0] = 10**9


def test_a_kill_at_any_step_leaves_before_or_after(tmp_path: Path, killer: list[int]) -> None:
    both = regions.union(HERE, NEXT_DOOR)
    old, new = stars_in(HERE, 60, seed=1, faintest_mag=13.0), stars_in(both, 200, seed=2)
    finished = Store(tmp_path / "finished")
    store_write.put(finished, old, claim(HERE, 13.0))
    before = numbers(finished)
    store_write.put(finished, new, claim(both, 16.0))
    after = numbers(finished)
    seen = set()
    for step in range(1, 200):
        store = Store(tmp_path / f"{step}")
        store_write.put(store, old, claim(HERE, 13.0))
        killer[0] = step
        try:
            store_write.put(store, new, claim(both, 16.0))
        except Killed:
            pass
        else:
            break
        finally:
            killer[0] = 10**9
        assert store_check.faults(store) == (), step
        depth = store.complete_to_mag(HERE)
        seen.add(depth)
        assert depth in (13.0, 16.0)
        store_write.put(store, new, claim(both, 16.0))
        assert numbers(store) == after != before
        assert store_check.faults(store) == ()
        assert contents(store.path) == contents(finished.path)
    assert 10 < step < 199
    assert seen == {13.0, 16.0}


def test_a_failed_write_leaves_nothing_behind(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    store_write.put(store, stars_in(HERE, 60), claim(HERE, 14.0))
    before = contents(store.path)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DataError, match=r"cannot be written .No space left on device"):
        store_write.put(store, stars_in(HERE, 60), claim(HERE, 16.0))
    assert contents(store.path) == before


def test_another_writer_is_waited_for_but_not_for_ever(store: Store) -> None:
    store.path.mkdir()
    with locked(store.path), pytest.raises(DataError, match=r"writing to the star store .* for 0\.2 s"):
        store_write.put(store, stars_in(HERE, 5), claim(HERE, 16.0), wait_s=0.2)
    release = threading.Event()
    held = threading.Event()

    def hold() -> None:
        with locked(store.path):
            held.set()
            release.wait(5)

    thread = threading.Thread(target=hold)
    thread.start()
    held.wait()
    threading.Timer(0.3, release.set).start()
    store_write.put(store, stars_in(HERE, 5), claim(HERE, 16.0))
    thread.join()
    assert len(numbers(store)) == 5


def test_a_lock_dies_with_its_holder(store: Store) -> None:
    store.path.mkdir()
    code = (
        "import os, pathlib, sys; from guidestar.stars.store_lock import locked\n"
        "with locked(pathlib.Path(sys.argv[1])): print('held', flush=True); os.kill(os.getpid(), 9)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(store.path)], capture_output=True, text=True, check=False)
    assert done.stdout == "held\n"
    assert done.returncode == -9
    store_write.put(store, stars_in(HERE, 5), claim(HERE, 16.0), wait_s=1.0)


def test_two_processes_at_once_do_no_harm(store: Store) -> None:
    code = (
        "import sys; sys.path.insert(0, 'tests'); from pathlib import Path\n"
        "from support.gaia_rows import claim, stars_in; from guidestar.sky import regions\n"
        "from guidestar.stars import store_write; from guidestar.stars.store import Store\n"
        "for pixel in sys.argv[2:]:\n"
        "    region = regions.from_text('6/' + pixel)\n"
        "    store_write.put(Store(Path(sys.argv[1])), stars_in(region, 30, int(pixel)), claim(region, 16.0))"
    )
    pixels = [str(400 + i) for i in range(8)]
    root = Path(__file__).parents[2]
    running = [
        subprocess.Popen([sys.executable, "-c", code, str(store.path), *part], cwd=root)
        for part in (pixels, pixels[::-1])
    ]
    assert [process.wait(60) for process in running] == [0, 0]
    assert len(numbers(store)) == 8 * 30
    assert store.complete_to_mag(regions.from_text("6/400-407")) == 16.0
    assert store_check.faults(store) == ()


def test_a_newer_store_is_left_alone(store: Store) -> None:
    store_write.put(store, stars_in(HERE, 5), claim(HERE, 16.0))
    file = store.path / "hats.properties"
    file.write_text(file.read_text().replace("guidestar_store_format=1", "guidestar_store_format=2"))
    for ask in (
        lambda: store.complete_to_mag(HERE),
        lambda: store_write.put(store, stars_in(HERE, 5), claim(HERE, 17.0)),
        lambda: overview(store),
    ):
        with pytest.raises(DataError, match=r"newer guidestar .format 2, this one reads 1.: update guidestar"):
            ask()


def test_where_the_store_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("GUIDESTAR_STORE", str(tmp_path / "a"))
    assert store_at().path == tmp_path / "a"
    assert store_at(tmp_path / "b").path == tmp_path / "b"
    monkeypatch.delenv("GUIDESTAR_STORE")
    assert store_at().path.parts[-2:] == ("guidestar", "stars")


def test_overview(store: Store) -> None:
    assert overview(store).parts == ()
    store_write.put(store, stars_in(HERE, 50, faintest_mag=14.0), claim(HERE, 14.0))
    store_write.put(store, stars_in(NEXT_DOOR, 60), claim(NEXT_DOOR, 16.0, "Gaia DR2", "a file"))
    shown = overview(store)
    assert shown.stars == 110
    assert [(p.faintest_mag, p.release, p.origin) for p in shown.parts] == [
        (14.0, "Gaia DR3", "test"),
        (16.0, "Gaia DR2", "a file"),
    ]
    assert shown.parts[0].area_deg2 == pytest.approx(regions.area_deg2(HERE))
    assert complete_to((), 1.0).shape == (0, 2)


def test_a_star_stays_in_the_pixel_of_its_number() -> None:
    pixel = 5_000_000
    ra, dec = healpix.pixel_centres([pixel], 12)
    number = np.array([(pixel << 35) + 8, (pixel + 1 << 35) + 8, 17, -5, (77 << 35) + 8])
    index = star_index(number, np.repeat(ra, 5), np.repeat(dec, 5))
    by_position = healpix.pixel_of(ra, dec)[0]
    assert index.tolist() == [by_position, pixel + 1 << 34, by_position, by_position, by_position]


def rows_are_sorted(rows: Rows) -> bool:
    return bool(np.all(np.diff(rows["_healpix_29"]) >= 0))


def test_files_are_sorted_by_place(store: Store) -> None:
    store_write.put(store, stars_in(HERE, 500), claim(HERE, 16.0))
    assert all(rows_are_sorted(store.read([pixel], ["_healpix_29"])) for pixel in store.pixels())
