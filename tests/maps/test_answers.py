"""The Python interface of the sky map and of comparisons."""

import numpy as np
import pandas as pd
import pytest
from support.sky_maps import invented_stars

import guidestar as gs
from guidestar.api.compare import compare
from guidestar.api.maps import sky_map
from guidestar.errors import InputError
from guidestar.maps.result import COLUMNS
from guidestar.rig import preset_toml

STARS = invented_stars(30_000, complete_to_mag=20.0)
EPOCH = {"epoch": 2027.0, "stars": STARS}


@pytest.fixture(scope="module")
def rig():
    return gs.preset("refractor-480-f6-prism-8x8")


@pytest.fixture(scope="module")
def answer(rig, tmp_path_factory):
    path = tmp_path_factory.mktemp("lists") / "targets.csv"
    path.write_text("M 51\nnonsense 7\n", encoding="utf-8")
    return sky_map(rig, nside=4, targets=path, sparse=0.5, **EPOCH)


def test_a_map_shows_itself(answer, rig):
    assert str(answer).startswith(f"{rig.name}\n")
    assert answer.to_json()["stars"]["source"] == "invented stars"
    frame = answer.to_frame()
    assert isinstance(frame, pd.DataFrame)
    assert list(frame.columns) == ["ipix", "ra_deg", "dec_deg", *COLUMNS]
    assert len(frame) == 192
    assert frame["usable_fraction"].mean() == pytest.approx(answer.summary.whole.usable.mean)
    assert np.array_equal(answer.sparse, frame["ipix"][frame["usable_fraction"] < 0.5])
    assert len(answer.plot().axes) >= 3
    assert [row.error is None for row in answer.targets] == [True, False]


def test_a_map_saves_itself(answer, tmp_path):
    paths = answer.save(tmp_path / "new")
    assert [path.name for path in paths] == [
        "coverage.fits", "coverage.png", "latitudes.csv", "sparse.moc.fits", "summary.json",
    ]  # fmt: skip
    assert all(path.parent == tmp_path / "new" and path.stat().st_size for path in paths)


def test_a_map_tells_how_far_it_is(rig):
    seen = []
    sky_map(rig, nside=2, progress=seen.append, **EPOCH)
    assert seen == sorted(seen)
    assert seen[-1] == pytest.approx(1.0)


def test_options_act_on_the_rig(rig):
    found = sky_map(rig, nside=1, faintest_mag=9.5, min_stars=2, bounds=(-50.0, 50.0), **EPOCH)
    assert found.sky.sweep.rig.guiding.min_stars == 2
    assert found.sky.sweep.stars.faintest_mag == 9.5
    assert found.sky.bounds_deg == (-50.0, 50.0)
    with pytest.raises(InputError, match="leave one of the two out"):
        sky_map(rig, exposure=2.0, faintest_mag=9.5)


def test_rigs_are_compared_as_objects_files_and_presets(rig, tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(preset_toml("compound-2000-f10"), encoding="utf-8")
    found = compare([rig, path, "newtonian-1000-f5"], nside=1, **EPOCH)
    assert [item.rig.telescope.focal_length_mm for item in found.rigs] == [480.0, 2000.0, 1000.0]
    assert "3 rigs side by side" in str(found)
    frame = found.to_frame()
    assert len(frame) == 3
    assert frame["usable_minus_first"][0] == 0.0
    assert found.to_json()["schema"] == "guidestar.compare/1"
    assert len(found.plot().axes) >= 4
    assert [saved.name for saved in found.save(tmp_path / "out")] == [
        "compare.png", "compare.csv", "differences.fits", "compare.json",
    ]  # fmt: skip


def test_what_to_vary_may_be_a_mapping_or_text(rig):
    one = compare([rig], vary={"prism.width_mm": [4, 8]}, nside=1, **EPOCH)
    other = compare([rig], vary=["prism.width_mm=4,8"], nside=1, **EPOCH)
    third = compare([rig], vary="prism.width_mm=4,8", nside=1, **EPOCH)
    assert one.to_json() == other.to_json() == third.to_json()
    assert list(one.to_frame()["prism.width_mm"]) == [4, 8]


def test_all_rigs_have_the_same_stars_and_options(rig):
    found = compare([rig], vary={"prism.width_mm": [4, 8]}, nside=1, min_stars=2, **EPOCH)
    assert {item.rig.guiding.min_stars for item in found.rigs} == {2}
    assert len({item.sky.sweep.stars.source for item in found.rigs}) == 1
