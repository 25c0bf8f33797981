"""`build_train` and `judge_flat`: the same answers as `guidestar train`, as objects."""

import json

import numpy as np
import pytest
from astropy.io import fits
from support import flats
from support.trains import train_rig

from guidestar.api.train import build_train, judge_flat
from guidestar.cli.main import main
from guidestar.errors import InputError
from guidestar.rig import preset_toml

TRAIN = """
[train]
back_focus_mm = 40.0
camera_flange_mm = 6.5
parts = [ { name = "pick-off body", length_mm = 17.5, prism_at_mm = 9.0 } ]
"""


@pytest.fixture(scope="module")
def shadowed():
    return flats.shadowed_flat(1, "top", 0.2).pixels


@pytest.fixture(scope="module")
def answer(shadowed):
    return judge_flat(shadowed)


def test_a_train_shows_itself():
    answer = build_train(train_rig())
    assert answer.spacing.spacer_mm == pytest.approx(10.0)
    assert str(answer).startswith("The imaging train\n")
    assert answer.to_text(checklist=True).startswith("Building the train\n")
    assert answer.to_json()["schema"] == "guidestar.train/1"
    assert answer.to_json(with_checklist=True)["checklist"] == answer.steps
    assert (answer.problems, answer.cannot_be_built) == ([], "")
    assert len(answer.plot().axes) == 3


def test_options_of_a_train():
    tight = build_train(train_rig()).window
    assert build_train(train_rig(), allowed_loss=0.05).window.min_offset_mm < tight.min_offset_mm
    assert build_train(train_rig(), clear_share=0.9).window.min_offset_mm < tight.min_offset_mm
    glass = train_rig(train__filter_thickness_mm=2.0)
    assert build_train(glass, ray_exact=True).spacing.spacer_mm > build_train(glass).spacing.spacer_mm
    assert build_train(glass, order="filter drawer, pick-off body").filter.place == "ahead"


def test_a_train_that_cannot_be_built_is_an_answer_all_the_same():
    answer = build_train(train_rig(train__back_focus_mm=40.0))
    assert answer.spacing.spacer_mm == pytest.approx(-5.0)
    assert answer.cannot_be_built.startswith("The train is 5 mm too long")
    assert answer.problems[0] == answer.cannot_be_built == answer.to_json()["problems"][0]


def test_a_rig_may_be_a_path(tmp_path, capsys):
    path = tmp_path / "rig.toml"
    text = preset_toml("newtonian-1000-f5-prism-8x8").replace("ahead_mm = 40.0", "ahead_mm = 15.0")
    path.write_text(text + TRAIN, encoding="utf-8")
    assert main(["train", "--rig", str(path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == build_train(path).to_json()


def test_a_flat_shows_itself(answer):
    assert (answer.verdict, answer.place, answer.name, answer.sensor) == ("shadow", "top", "flat", None)
    assert answer.depth == pytest.approx(0.2, rel=0.1)
    assert "Shadow of the prism: top" in str(answer)
    assert answer.to_json()["schema"] == "guidestar.flat/1"
    assert len(answer.plot().axes) == 2


def test_a_file_gives_the_same_as_its_pixels(tmp_path, shadowed, answer):
    path = tmp_path / "flat.fits"
    fits.PrimaryHDU(shadowed[::-1]).writeto(path)  # a FITS file's first row is the lowest
    from_file = judge_flat(path)
    assert from_file.name == str(path)
    assert from_file.to_json() == answer.to_json() | {"flat": str(path)}


def test_which_way_up_an_array_lies(shadowed, answer):
    assert judge_flat(shadowed[::-1], first_row="bottom").to_json() == answer.to_json()


def test_a_flat_with_its_rig(shadowed):
    rig = train_rig(camera__pixel_um=23500 / 600)
    answer = judge_flat(shadowed, rig)
    assert answer.place == "top"
    assert answer.to_json()["rig_offset_mm"] == 17.0
    with pytest.raises(InputError, match="the rig's camera gives about 600 × 401"):
        judge_flat(np.resize(shadowed, (300, 400)), rig)
