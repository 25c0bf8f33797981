"""The night as an object: lists, rows that are left out, options."""

import datetime
import json

import pytest
from support.planned import TARGET, invented

from guidestar import preset
from guidestar.api.night import plan_night
from guidestar.errors import DataError, InputError
from guidestar.sky.targetlist import TargetRow

RIG = preset("compound-2000-f10-prism-14x8")
WHERE = {"date": "2026-11-25", "site": "50.1 10.2 450", "time_zone": "Europe/Berlin"}


def test_a_name_a_pair_and_a_place_are_the_same_target():
    by_name = plan_night("NGC 7331", RIG, **WHERE)
    target = by_name.targets[0].target
    by_pair = plan_night((target.ra_deg, target.dec_deg), RIG, **WHERE)
    assert by_pair.targets[0].runs == by_name.targets[0].runs
    assert not by_name.is_list
    assert by_name.targets[0].row is None


def test_a_date_may_be_a_date():
    one = plan_night("M31", RIG, **WHERE)
    other = plan_night("M31", RIG, **{**WHERE, "date": datetime.date(2026, 11, 25)})
    assert one.to_json() == other.to_json()


def test_rows_that_repeat_or_cannot_be_used_are_told_and_the_rest_is_planned():
    rows = [
        TargetRow(2, "M31"),
        TargetRow(3, "Nowhere 17"),
        TargetRow(4, "10.6847 41.2690", label="the same by hand"),
        TargetRow(5, "12 00", error="Only one of right ascension and declination is given."),
        TargetRow(7, "161.0 -59.7", label="far south"),
    ]
    answer = plan_night(rows, RIG, **WHERE)
    assert [(night.row, night.target.name) for night in answer.targets] == [(2, "M 31"), (7, "far south")]
    reasons = {row.row: row.reason for row in answer.bad_rows}
    assert sorted(reasons) == [3, 4, 5]
    assert "target of row 2 again (M 31); it is planned once" in reasons[4]
    assert "never rises" in answer.targets[1].no_window
    assert "Row 4" in answer.to_text(width=100)
    assert [row.row for row in answer.with_empty_rows([6]).bad_rows] == [3, 4, 5, 6]


def test_a_list_without_a_usable_row_is_bad_input():
    with pytest.raises(InputError, match="Row 1, “Nowhere 17”"):
        plan_night(["Nowhere 17", "Nowhere 18"], RIG, **WHERE)
    with pytest.raises(InputError, match="list of targets is empty"):
        plan_night([], RIG, **WHERE)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"least_altitude": 95.0}, "--least-altitude 95: must be from 0"),
        ({"least_altitude": float("nan")}, "--least-altitude nan"),
        ({"angle": 1e9}, "--angle 1e\\+09"),
        ({"exposure": -1.0}, "exposure"),
        ({"faintest_mag": 11.0, "sky": 20.0}, "switches the reckoning of light off, so --sky"),
        ({"date": "soon"}, "cannot be read"),
    ],
)
def test_options_that_cannot_be(options, words):
    with pytest.raises(InputError, match=words):
        plan_night("M31", RIG, **{**WHERE, **options})


def test_stars_that_are_not_there():
    with pytest.raises(DataError, match="covers 0 %"):
        plan_night("M31", RIG, **WHERE, stars="store", store="/nonexistent")


def test_options_act():
    usual = plan_night("NGC 7331", RIG, **WHERE).targets[0]
    higher = plan_night("NGC 7331", RIG, **WHERE, least_altitude=50.0).targets[0]
    assert higher.hours < usual.hours
    darker = plan_night("NGC 7331", RIG, **WHERE, sky=21.5, exposure=4.0).targets[0]
    assert darker.moments[0].faintest_mag > usual.moments[0].faintest_mag
    two = plan_night("NGC 7331", RIG, **WHERE, min_stars=2).targets[0]
    assert two.moments[0].usable_fraction < usual.moments[0].usable_fraction


def test_own_stars():
    source = invented(TARGET, RIG)
    answer = plan_night(TARGET, RIG, **WHERE, stars=source)
    assert answer.targets[0].sides[0].check.stars.source == "invented stars"


def test_what_a_notebook_shows():
    answer = plan_night(["NGC 7331", "M33"], RIG, **WHERE)
    assert str(answer) == answer.to_text()
    frame = answer.to_frame()
    assert list(frame["target"]) == [night.target.name for night in answer.targets]
    json.dumps(answer.to_json(), allow_nan=False)
    assert answer.plot().axes


def test_the_card_of_a_night(tmp_path):
    pytest.importorskip("guidestar.report.card")
    (path,) = plan_night("NGC 7331", RIG, **WHERE).save_cards(tmp_path / "card.pdf")
    assert path.stat().st_size > 10_000
