"""Which stars `check` uses: the store where it helps, and what is said about it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from support.gaia_rows import claim, stars_in
from support.rigs import COMPOUND, rig

from guidestar import check
from guidestar.errors import DataError, InputError
from guidestar.sky import regions
from guidestar.stars import store_write
from guidestar.stars.choose import choose, choose_for_sky
from guidestar.stars.store import Store
from guidestar.stars.wholesky import sky_coverage

PLACE = (40.0, 30.0)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "store")


def fill(store: Store, faintest_mag: float, radius_deg: float = 1.0) -> None:
    region = regions.around(*PLACE, radius_deg)
    store_write.put(store, stars_in(region, 900, faintest_mag=faintest_mag), claim(region, faintest_mag))


def test_without_a_store_the_builtin_catalogue(store: Store) -> None:
    choice = choose("auto", *PLACE, 0.6, 14.0, store)
    assert (choice.source.name, choice.notes) == ("Tycho-2", ())


def test_a_store_that_is_deep_enough(store: Store) -> None:
    fill(store, 16.0)
    choice = choose("auto", *PLACE, 0.6, 14.8, store)
    assert choice.source.name == "Gaia DR3 (local store) with Tycho-2"
    assert (choice.source.complete_to_mag, choice.notes) == (16.0, ())
    assert choose("tycho2", *PLACE, 0.6, 14.8, store).source.name == "Tycho-2"


def test_a_store_that_is_shallower_than_the_rig_says_so(store: Store) -> None:
    fill(store, 13.0)
    choice = choose("auto", *PLACE, 0.6, 14.8, store)
    assert choice.source.complete_to_mag == 13.0
    assert "ends at G 13 here, and this rig uses stars to G 14.8" in choice.notes[0]


def test_a_store_that_is_no_deeper_than_the_builtin_catalogue(store: Store) -> None:
    fill(store, 10.0)
    choice = choose("auto", *PLACE, 0.6, 14.8, store)
    assert choice.source.name == "Tycho-2"
    assert "no deeper than the built-in catalogue, so Tycho-2 is used" in choice.notes[0]
    assert choose("store", *PLACE, 0.6, 14.8, store).source.complete_to_mag == 10.0


def test_a_store_that_covers_only_a_part(store: Store) -> None:
    fill(store, 16.0, 0.3)
    choice = choose("auto", *PLACE, 0.6, 14.8, store)
    assert choice.source.name == "Tycho-2"
    assert " % of the sky around the target, so Tycho-2 is used" in choice.notes[0]
    with pytest.raises(DataError, match="fetch it with 'guidestar stars fetch'"):
        choose("store", *PLACE, 0.6, 14.8, store)
    with pytest.raises(InputError, match="use auto, tycho2, store"):
        choose("gaia", *PLACE, 0.6, 14.8, store)


def test_a_damaged_store_is_named_and_not_used(store: Store) -> None:
    fill(store, 16.0)
    file = store.file_of(store.pixels()[0])
    file.write_bytes(file.read_bytes()[:-8])
    choice = choose("auto", *PLACE, 0.6, 14.8, store)
    assert choice.source.name == "Tycho-2"
    assert "is not used" in choice.notes[0]
    assert str(file) in choice.notes[0]
    with pytest.raises(DataError, match="is damaged"):
        choose("store", *PLACE, 0.6, 14.8, store)


def test_check_takes_the_store_and_warns(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    camera = rig(COMPOUND)
    before = check(PLACE, camera, store=store.path)
    fill(store, 13.0)
    after = check(PLACE, camera, store=store.path)
    assert before.stars.source == "Tycho-2"
    assert after.stars.source == "Gaia DR3 (local store) with Tycho-2"
    assert [w for w in after.warnings if "ends at G 13" in w]
    monkeypatch.setenv("GUIDESTAR_STORE", str(store.path))
    assert check(PLACE, camera).stars == after.stars
    assert check(PLACE, camera, stars="tycho2").stars == before.stars
    auto = check(PLACE, camera, exposure="auto")
    assert auto.stars.source == after.stars.source


def test_for_a_map_the_store_only_if_it_has_the_whole_sky(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    assert choose_for_sky("auto", 14.0, store).source.name == "Tycho-2"
    with pytest.raises(DataError, match="is empty: fill it with"):
        choose_for_sky("store", 14.0, store)
    fill(store, 16.0)
    assert choose_for_sky("auto", 14.0, store).source.name == "Tycho-2"
    # As if the rest of the sky were there to G 12: writing its 3,072 files would take seconds.
    some = store.coverage_in(regions.whole_sky())
    monkeypatch.setattr(Store, "coverage_in", lambda self, region: (*some, claim(regions.whole_sky(), 12.0)))
    choice = choose_for_sky("auto", 14.0, store)
    assert choice.source.complete_to_mag == 12.0
    assert "ends at G 12, and this rig uses stars to G 14.0" in choice.notes[0]
    assert choose_for_sky("auto", 11.0, store).notes == ()
    assert choose_for_sky("tycho2", 14.0, store).source.name == "Tycho-2"


def test_for_a_map_a_part_of_the_sky_if_asked(store: Store) -> None:
    fill(store, 16.0)
    choice = choose_for_sky("store", 14.0, store)
    assert choice.source.complete_to_mag == 16.0
    assert choice.notes == (
        "The local star store covers less than 1 % of the sky to G 16; elsewhere the map has no data.",
    )
    assert np.array_equal(sky_coverage(choice.source), regions.around(*PLACE, 1.0))
    with pytest.raises(InputError, match="use auto, tycho2, store"):
        choose_for_sky("gaia", 14.0, store)
    file = store.file_of(store.pixels()[0])
    file.write_bytes(file.read_bytes()[:-8])
    assert "is not used" in choose_for_sky("auto", 14.0, store).notes[0]
    with pytest.raises(DataError, match="is damaged"):
        choose_for_sky("store", 14.0, store)
