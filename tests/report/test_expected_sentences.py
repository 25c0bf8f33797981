"""The estimate in words and in JSON: labelled, beside the confirmed share, never merged with it."""

import json
from dataclasses import replace

import pytest
from support.places import PLACES
from support.rigs import COMPOUND, rig

from guidestar.field.check import check
from guidestar.field.result import Expected
from guidestar.report.expected_sentences import estimated_share, further
from guidestar.report.json_output import to_json
from guidestar.report.text import render
from guidestar.sky.place import Place
from guidestar.stars.tycho2 import tycho2


@pytest.fixture(scope="module")
def result():
    place = Place("pole", *PLACES["north galactic pole"], "coordinates")
    return check(place, rig(COMPOUND), tycho2(), epoch_year=2026.9)


def words(result, confirmed, **changes):
    found = replace(result.expected, **changes)
    (paragraph,) = further(replace(result, expected=found, usable=replace(result.usable, fraction=confirmed)))
    return paragraph.replace("\N{NO-BREAK SPACE}", " ")


def test_the_paragraph_names_both_shares_and_says_which_is_estimated(result):
    text = words(result, 0.31, fraction=0.9, fraction_low=0.86, fraction_high=0.93, stars=2.14, stars_error=0.21)
    assert text.startswith(
        "EXPECTED  Confirmed stars serve 31 % of the circle; with fainter ones besides probably about 90 %"
    )
    assert "86 % to 93 %" in text
    assert "an estimate" in text
    assert "2.1 (± 0.2) stars" in text
    assert "guidestar stars fetch" in text


@pytest.mark.parametrize(
    ("confirmed", "changes", "part"),
    [
        (0.0, {"fraction": 0.5}, "serve no part of the circle"),
        (0.2, {"fraction": 0.997}, "probably all of it, or nearly so"),
        (0.0, {"fraction": 0.004}, "hardly any of it"),
        (1.0, {"fraction": 1.0}, "serve the whole circle without them"),
        (0.2, {"stars": 0.001, "stars_error": 0.02}, "under 0.01 (± 0.02) stars"),
        (0.2, {"stars": 65.2, "stars_error": 9.4}, "65 (± 9) stars"),
    ],
)
def test_the_paragraph_at_the_ends(result, confirmed, changes, part):
    assert part in words(result, confirmed, **changes)


@pytest.mark.parametrize(
    ("fraction", "cell"),
    [(0.99992, ">99.9 %"), (0.995, "~99.5 %"), (0.97, "~97 %"), (0.0004, "<0.1 %"), (1.0, "~100 %")],
)
def test_the_share_in_a_list_is_written_as_everywhere(result, fraction, cell):
    assert estimated_share(replace(result.expected, fraction=fraction)).replace("\N{NO-BREAK SPACE}", " ") == cell


def test_no_paragraph_where_nothing_can_be_missing(result):
    assert further(replace(result, expected=None)) == []
    assert "EXPECTED" not in render(replace(result, expected=None), width=80)


def test_the_page_holds_the_paragraph_once_and_the_confirmed_share_apart(result):
    page = render(result, width=80)
    assert page.count("EXPECTED  ") == 1
    usable = next(part for part in page.split("\n\n") if part.startswith("USABLE"))
    assert "expected" not in usable
    assert max(len(line) for line in page.splitlines()) <= 80


def test_json(result):
    answer = json.loads(json.dumps(to_json(result), allow_nan=False))
    estimate = answer["expected"]
    assert set(estimate) == set(Expected.__dataclass_fields__)
    assert estimate["fraction"] == answer["usable"]["expected_fraction"] > answer["usable"]["fraction"]
    assert [item["angle_deg"] for item in estimate["by_angle"]] == [30.0 * i for i in range(12)]
    assert to_json(replace(result, expected=None))["expected"] is None
