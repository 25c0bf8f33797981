"""Verifying and mending the store: any changed byte is found, and what can be kept is kept."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from support.gaia_rows import claim, stars_in

from guidestar.errors import DataError
from guidestar.sky import regions
from guidestar.stars import store_check, store_write
from guidestar.stars.store import Store

LEFT, RIGHT = regions.from_text("5/100 101"), regions.from_text("5/104 105")
BOTH = regions.union(LEFT, RIGHT)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = Store(tmp_path_factory.mktemp("whole") / "store")
    store_write.put(store, stars_in(BOTH, 300), claim(BOTH, 16.0))
    return store


@pytest.fixture
def store(whole: Store, tmp_path: Path) -> Store:
    shutil.copytree(whole.path, tmp_path / "store")
    return Store(tmp_path / "store")


def files_of(store: Store) -> list[Path]:
    return sorted(file for file in store.path.rglob("*") if file.is_file() and file.name != ".lock")


def test_a_whole_store_has_no_faults(whole: Store, tmp_path: Path) -> None:
    assert store_check.faults(whole) == ()
    assert store_check.faults(Store(tmp_path / "nothing")) == ()
    assert len(files_of(whole)) == 7


def test_any_changed_byte_is_found_and_its_file_named(store: Store) -> None:
    """40 places over all files, seeded; the benchmark does 200."""
    rng = np.random.default_rng(4)
    files = files_of(store)
    for file in [*files, *rng.choice(np.array(files, dtype=object), 33).tolist()]:
        content = bytearray(file.read_bytes())
        at = int(rng.integers(len(content)))
        content[at] ^= int(rng.integers(1, 256))
        original = file.read_bytes()
        file.write_bytes(content)
        found = store_check.faults(store)
        assert [fault.file for fault in found] == [file], at
        assert str(file) in str(found[0])
        assert "stars verify --repair" in str(found[0])
        file.write_bytes(original)
    assert store_check.faults(store) == ()


@pytest.mark.parametrize("name", ["SHA256SUMS", "coverage.json", "hats.properties", "partition_info.csv"])
@pytest.mark.parametrize("harm", ["gone", "empty", "changed"])
def test_what_follows_from_the_stars_is_made_again(store: Store, whole: Store, name: str, harm: str) -> None:
    file = store.path / name
    if harm == "gone":
        file.unlink()
    else:
        file.write_bytes(b"" if harm == "empty" else file.read_bytes().replace(b"2", b"3", 1))
    assert [fault.file for fault in store_check.faults(store)] == [file]
    done = store_check.repair(store)
    assert (len(done.faults), done.dropped_deg2) == (1, 0.0)
    assert store_check.faults(store) == ()
    assert [f.read_bytes() for f in files_of(store)] == [f.read_bytes() for f in files_of(whole)]


@pytest.mark.parametrize("harm", ["gone", "short", "changed"])
def test_a_damaged_file_of_stars_is_dropped_and_the_rest_kept(store: Store, whole: Store, harm: str) -> None:
    file = store.file_of(25)
    content = file.read_bytes()
    file.unlink()
    if harm != "gone":
        file.write_bytes(content[:-100] if harm == "short" else content[:300] + b"!" + content[301:])
    assert [(fault.file, fault.pixel) for fault in store_check.faults(store)] == [(file, 25)]
    done = store_check.repair(store)
    assert done.dropped_deg2 == pytest.approx(regions.area_deg2(LEFT))
    assert store_check.faults(store) == ()
    assert store.complete_to_mag(LEFT) is None
    assert store.complete_to_mag(RIGHT) == 16.0
    store_write.put(store, stars_in(BOTH, 300), claim(BOTH, 16.0))
    assert [f.read_bytes() for f in files_of(store)] == [f.read_bytes() for f in files_of(whole)]


def test_damage_to_stars_and_list_together(store: Store) -> None:
    """The list is lost, but the description still vouches for the files: the damaged one is told from the good one."""
    (store.path / "SHA256SUMS").unlink()
    file = store.file_of(25)
    file.write_bytes(file.read_bytes()[:-4] + b"PAR2")
    done = store_check.repair(store)
    assert done.dropped_deg2 == pytest.approx(regions.area_deg2(LEFT))
    assert store.pixels() == [26]
    assert store_check.faults(store) == ()


def test_list_and_description_lost_together(store: Store) -> None:
    for name in ("SHA256SUMS", "coverage.json", "hats.properties"):
        (store.path / name).unlink()
    assert store_check.faults(store)
    assert store_check.repair(store).dropped_deg2 == 0.0
    assert store_check.faults(store) == ()
    assert store.complete_to_mag(BOTH) == 16.0


def test_a_file_that_does_not_belong_there_is_found(store: Store) -> None:
    stray = store.file_of(99)
    stray.write_bytes(store.file_of(25).read_bytes())
    assert [fault.file for fault in store_check.faults(store)] == [stray]
    store_check.repair(store)
    assert not stray.exists()
    assert store.pixels() == [25, 26]


def test_reading_a_damaged_file_names_it(store: Store) -> None:
    file = store.file_of(25)
    file.write_bytes(file.read_bytes()[:-9])
    with pytest.raises(DataError, match=r"Npix=25\.parquet is damaged .*: run 'guidestar stars verify --repair'"):
        store.complete_to_mag(LEFT)
    with pytest.raises(DataError, match=r"Npix=25\.parquet is damaged"):
        store.read([25], ["g"])
    (store.path / "hats.properties").write_text("nothing")
    with pytest.raises(DataError, match=r"hats\.properties is damaged"):
        store.complete_to_mag(RIGHT)
