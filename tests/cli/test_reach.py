"""`guidestar reach`, as a person runs it."""

import json

import pytest
from support.command_line import one_sentence, strict

from guidestar import preset, reach

COMMAND = ("reach",)
PRESET = "newtonian-1000-f5-prism-8x8"


def test_it_answers_in_words(run, rig_file):
    status, out, err = run("--rig", rig_file)
    assert (status, err) == (0, "")
    assert out.startswith("Newtonian with corrector 1000 mm f/5, prism 8 × 8 mm\n")
    assert out.count("\n\n\n") == 0
    assert not out.endswith("\n\n")


def test_json_is_the_python_answer_and_nothing_else(run, rig_file):
    status, out, err = run("--rig", rig_file, "--json")
    assert (status, err) == (0, "")
    assert out.count("\n") == 1
    assert strict(out) == json.loads(json.dumps(reach(preset("newtonian-1000-f5-prism-8x8")).to_json()))


def test_options_stand_in_for_the_rigs_values(run, rig_file):
    usual = strict(run("--rig", rig_file, "--json")[1])
    changed = strict(run("--rig", rig_file, "--json", "--exposure", 4, "--airmass", 1.5, "--sky", 18)[1])
    assert (changed["exposure_s"], changed["airmass"], changed["sky_v_mag_arcsec2"]) == (4.0, 1.5, 18.0)
    assert usual["exposure_s"] == 2.0
    longer = strict(run("--rig", rig_file, "--json", "--exposure", 4)[1])
    assert longer["centre"]["faintest_mag"] == usual["exposures"][3]["centre"] > usual["centre"]["faintest_mag"]
    assert strict(run("--rig", rig_file, "--json", "--sky", 18)[1])["centre"]["faintest_mag"] < 15.9


@pytest.mark.parametrize("written", ["-1.5,16.4", " -1.5 , 16.4 "])
def test_at_holds_just_one_point(run, rig_file, written):
    found = strict(run("--rig", rig_file, "--json", "--at", written)[1])
    assert [(point["x_mm"], point["y_mm"]) for point in found["points"]] == [(-1.5, 16.4)]
    assert found["given"]["transmission"] == found["points"][0]["transmission"]
    assert {row["given"] for row in found["exposures"]}


def test_a_place_on_the_main_sensor_is_one_sentence(run, rig_file):
    status, out, err = run("--rig", rig_file, "--at", "0,0")
    assert (status, out) == (2, "")
    assert "--at 0,0: the prism sends no light there" in one_sentence(err)


@pytest.mark.parametrize("value", ["1", "1,2,3", "a,b", "", ",", "1;2", "nan,1", "1,inf"])
def test_a_junk_place_is_one_sentence(run, rig_file, value):
    status, out, err = run("--rig", rig_file, "--at", value)
    assert (status, out) == (2, "")
    assert "--at" in one_sentence(err)
    assert "two numbers in mm" in err


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--exposure", "0"),
        ("--exposure", "-2"),
        ("--exposure", "nan"),
        ("--exposure", "inf"),
        ("--exposure", "long"),
        ("--exposure", "auto"),
        ("--airmass", "0.9"),
        ("--airmass", "nan"),
        ("--airmass", "high"),
        ("--sky", "99"),
        ("--sky", "dark"),
        ("--guide-scope", "240"),
        ("--guide-scope", "240,"),
        ("--guide-scope", "x,y"),
        ("--guide-scope", "0,60"),
        ("--guide-scope", "240,-60"),
        ("--guide-scope", "nan,60"),
        ("--guide-scope", "20,60"),
        ("--main-exposure", "300"),
    ],
)
def test_bad_numbers_are_one_sentence_with_the_value(run, rig_file, option, value):
    status, out, err = run("--rig", rig_file, option, value)
    assert (status, out) == (2, "")
    wrong = {"240,-60": "-60", "240,": "240,"}.get(value, value.split(",")[0].lstrip("-"))
    assert wrong in one_sentence(err)


@pytest.mark.parametrize("value", ["0", "-1", "nan", "soon"])
def test_a_bad_main_exposure_is_one_sentence(run, rig_file, value):
    status, out, err = run("--rig", rig_file, "--guide-scope", "240,60", "--main-exposure", value)
    assert (status, out) == (2, "")
    assert "main-exposure" in one_sentence(err)


def test_a_guide_scope_is_set_beside_the_pick_off(run, rig_file):
    status, out, err = run("--rig", rig_file, "--guide-scope", "240,60")
    assert (status, err) == (0, "")
    for words in ("pick-off", "guide scope", "FLEXURE", "GOOD ENOUGH", "of 300 s"):
        assert words in out
    assert "of 600 s" in run("--rig", rig_file, "--guide-scope", "240,60", "--main-exposure", 600)[1]
    found = strict(run("--rig", rig_file, "--guide-scope", "240,60", "--json")[1])["guide_scope"]
    assert found["flexure"]["arcsec"] == pytest.approx(0.7756, abs=1e-4)
    assert found["guide_scope"]["field_area_deg2"] > 10 * found["pick_off"]["field_area_deg2"]


def dark(rig_file, **values):
    text = rig_file.read_text(encoding="utf-8")
    for before, after in values.items():
        assert before in text
        text = text.replace(before, after)
    rig_file.write_text(text, encoding="utf-8")
    return rig_file


def test_no_light_anywhere_is_one_sentence_with_the_offset_that_mends_it(run, rig_file):
    path = dark(rig_file, **{"image_circle_mm = 44.0": "image_circle_mm = 12.0"})
    status, out, err = run("--rig", path)
    assert (status, out) == (2, "")
    assert "No light reaches the guide camera" in one_sentence(err)
    assert "an offset of 5.8 mm (prism.offset_mm)" in err


def test_a_fixed_limit_is_passed_over_with_a_note(run, rig_file):
    path = dark(rig_file, **{"# faintest_mag = 12.0": "faintest_mag = 9.0"})
    status, out, _ = run("--rig", path)
    assert status == 0
    assert "guiding.faintest_mag = 9" in out
    assert "G 15.96" in out


def test_the_figure_is_drawn_after_the_answer(run, rig_file, tmp_path):
    picture = tmp_path / "reach.svg"
    status, out, _ = run("--rig", rig_file, "--figure", picture)
    assert status == 0
    assert out.endswith(f"Picture: {picture}\n")
    assert picture.read_bytes().startswith(b"<?xml")
    status, out, err = run("--rig", rig_file, "--figure", tmp_path / "no" / "reach.svg")
    assert status == 2
    assert "REACH" in out
    assert "cannot be written" in one_sentence(err)
    assert strict(run("--rig", rig_file, "--figure", picture, "--json")[1])["schema"] == "guidestar.reach/1"


@pytest.mark.parametrize(("arguments", "words"), [((), "--rig"), (("--rig", "none.toml"), "no such file")])
def test_a_rig_is_needed(run, arguments, words):
    status, out, err = run(*arguments)
    assert (status, out) == (2, "")
    assert words in one_sentence(err)
