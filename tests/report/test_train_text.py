"""The report, the checklist and the JSON of `train`: what they say for rigs whose answers are known."""

import json
import re

import pytest
from support.trains import train_rig

from guidestar.report import train_side_view
from guidestar.report.train_json import train_to_json
from guidestar.report.train_sentences import verdict
from guidestar.report.train_text import render_checklist, render_train
from guidestar.train.build import train

GUIDE_SIDE = {"train__stalk_mm": 20.0, "train__guide_flange_mm": 12.5, "train__focuser_travel_mm": 8.0}
ILL = {
    "train__filter_thickness_mm": 2.0, "train__spacers_mm": [2.0, 3.0], "train__stalk_mm": 10.0,
    "train__guide_flange_mm": 12.5, "train__focuser_travel_mm": 8.0, "prism__offset_mm": 12.0,
    "train__filter_bandwidth_nm": 7.0,
}  # fmt: skip


def said(result, width=100):
    return " ".join(render_train(result, width=width).split())


def test_a_sound_train_has_nothing_to_mend():
    text = said(train(train_rig(**GUIDE_SIDE)))
    assert "Nothing has to be mended." in text
    assert "A spacer of 10 mm is still needed." in text
    assert "throws no shadow" in text
    assert "Focus the main camera first" in text
    assert text.count("the telescope's focuser moves both at once") == 1


def test_a_rig_file_at_odds_with_itself_is_settled_before_anything_is_called_right():
    odd = train(train_rig(**GUIDE_SIDE, prism__ahead_mm=40.0))
    text = said(odd)
    assert "Nothing has to be mended." not in text
    assert "To be settled first, since what follows rests on it: - prism.ahead_mm: 40.0 mm disagrees" in text
    assert verdict(odd).replace("\N{NO-BREAK SPACE}", " ").startswith("1 thing to settle first")
    assert "The prism is drawn 40 mm before the sensor" in train_side_view.caption(odd)
    sound = train(train_rig(**GUIDE_SIDE))
    assert verdict(sound) == "nothing to mend"
    assert "The prism is drawn" not in train_side_view.caption(sound)


def test_everything_that_is_wrong_is_said_first_with_a_remedy():
    text = said(train(train_rig(**ILL)))
    head = text[: text.index("Spacing")]
    assert "Your spacers cannot reach it: 10.68 mm are missing and all of them together are 5 mm" in head
    assert "The guide camera cannot reach focus" in head
    assert "A ring of" in head
    assert "The prism stands 3.17 mm too far in and shadows the main picture: top," in head
    assert "about 4.6 magnitudes" in text


def test_a_train_too_long():
    text = said(train(train_rig(train__back_focus_mm=40.0)))
    assert "The train is 5 mm too long: parts and camera take 45 mm" in text
    assert "the longest is the filter drawer, 21 mm" in text


def test_no_combination_close_enough():
    text = said(train(train_rig(train__spacers_mm=[7.0, 16.5])))
    assert "comes closer than 3 mm: the train would be that much too short" in text


def test_no_window_and_what_gives():
    text = said(train(train_rig(train__clear_aperture_mm=42.0)))
    for words in (
        "Window: none",
        "give up a strip",
        "nearer to the sensor",
        "a larger clear aperture",
        "dimmer guide field",
    ):
        assert words in text


def test_filter_ahead_of_the_prism():
    rig = train_rig(train__filter_thickness_mm=2.0, train__filter_bandwidth_nm=7.0)
    assert "The filter stands ahead of the prism" in said(train(rig, order="filter drawer, pick-off body"))
    unknown = train_rig(train__filter_thickness_mm=2.0)
    assert "once filter_bandwidth_nm is given" in said(train(unknown, order="filter drawer, pick-off body"))


@pytest.mark.parametrize("width", [40, 60, 80, 100, 140])
@pytest.mark.parametrize("changes", [GUIDE_SIDE, ILL, {"train__clear_aperture_mm": 42.0}], ids=["sound", "ill", "none"])
def test_lines_fit_the_width_and_end_clean(width, changes):
    result = train(train_rig(**changes))
    for text in (render_train(result, width=width), render_checklist(result, width=width)):
        assert text.endswith("\n")
        for line in text.splitlines():
            assert len(line) <= width
            assert line == line.rstrip()
        assert "\N{NO-BREAK SPACE}" not in text


def test_every_number_in_the_prose_has_a_unit_or_a_name():
    text = said(train(train_rig(**ILL)), width=400)
    prose = text[text.index("Both cameras in focus") :]
    for match in re.finditer(r"(?<![\w.])\d+\.\d+(?![\w.])", prose):
        assert re.match(r" (mm|%|magnitudes|nm)", prose[match.end() :]), prose[match.start() - 30 : match.end() + 20]


def test_checklist_has_the_rigs_numbers_the_order_and_the_safety_lines():
    text = " ".join(render_checklist(train(train_rig(**GUIDE_SIDE)), width=100).split())
    steps = [text.index(f" {number}. ") for number in range(1, 10)]
    assert steps == sorted(steps)
    for words in (
        "protective film", "spacer still needed (10 mm), pick-off body (17.5 mm), filter drawer (21 mm)", "crosswise",
        "16.17 mm from the axis", "12.17 mm to its inner edge", "long side of its sensor (5.6 mm by 3.2 mm)",
        "drawn out 6.2 mm", "Rotate only while", "never pointed at or near the Sun", "rules of the place",
        "Cables off and mains power away",
    ):  # fmt: skip
        assert words in text, words
    assert text.index("focus the main camera first") < text.index("focus the guide camera by moving it alone")


def test_json_has_the_agreed_fields_and_no_nan():
    values = json.loads(json.dumps(train_to_json(train(train_rig())), allow_nan=False))
    assert values["schema"] == "guidestar.train/1"
    assert values["spacer_mm"] == 10.0
    assert values["glass_shift_mm"] == 0.0
    assert set(values["guide_path"]) >= {"needed_mm", "focuser_mm", "in_travel"}
    assert set(values["prism"]) >= {"min_offset_mm", "max_offset_mm", "best_offset_mm", "in_window"}
    assert set(values["shadow"]) >= {"worst", "corner"}
    assert values["guide_path"]["focuser_mm"] is None
    assert values["shadow"] == {"worst": 0.0, "corner": None, "area": 0.0}
    assert values["problems"] == []


def test_json_of_an_unlimited_window_and_of_none():
    assert train_to_json(train(train_rig(telescope__image_circle_mm=None)))["prism"]["max_offset_mm"] is None
    none = train_to_json(train(train_rig(train__clear_aperture_mm=42.0)))["prism"]
    assert none["best_offset_mm"] is None
    assert {item["kind"] for item in none["remedies"]} >= {"crop", "ahead", "clear aperture", "dim"}


def test_json_and_text_agree_on_what_is_wrong():
    result = train(train_rig(**ILL))
    values = train_to_json(result, with_checklist=True)
    text = said(result)
    assert len(values["problems"]) == 3
    assert all(" ".join(problem.split()) in text for problem in values["problems"])
    assert len(values["checklist"]) == 9
    assert values["shadow"]["corner"] == "top"
