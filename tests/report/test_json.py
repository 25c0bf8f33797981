"""The JSON of a result: the agreed fields, plain values, intervals that keep their promises."""

from __future__ import annotations

import dataclasses
import json
import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from guidestar.report.json_output import error_row, to_json
from guidestar.report.json_values import tidy_intervals

FIELDS = {
    "target": {"name", "ra_deg", "dec_deg", "l_deg", "b_deg"},
    "field": {"model", "centre_mm", "centre_arcmin", "width_arcmin", "height_arcmin", "scale_arcsec_per_mm"},
    "stars": {"source", "band", "complete_to_mag", "faintest_mag", "candidates"},
    "usable": {
        "fraction",
        "angles_deg",
        "sure_fraction",
        "sure_angles_deg",
        "flip_safe_fraction",
        "flip_safe_angles_deg",
        "expected_fraction",
    },
}
TOP = {"schema", "target", "epoch_year", "rig", "field", "stars", "usable", "best", "best_flip_safe", "guide_stars"}
STAR = {"id", "ra_deg", "dec_deg", "g_mag", "v_mag", "separation_arcmin", "angles_deg", "flags"}


def test_every_result_is_plain_json_without_nan(result):
    found = json.loads(json.dumps(to_json(result), allow_nan=False))
    assert found["schema"] == "guidestar.check/1"
    assert set(found) >= TOP
    for part, names in FIELDS.items():
        assert set(found[part]) >= names
    for star in found["guide_stars"]:
        assert set(star) >= STAR


def test_values_are_those_of_the_result(samples):
    result = samples["many ranges"]()
    found = to_json(result)
    assert found["rig"] == result.rig.name == "invented long rig"
    assert found["best_sure"]["angle_deg"] == pytest.approx(result.best_sure.angle_deg, abs=1e-4)
    assert found["best_sure"]["star_ids"] == list(result.best_sure.star_ids)
    assert found["usable"]["angles_deg"] == pytest.approx([pytest.approx(p) for p in result.usable.angles_deg])
    assert [star["id"] for star in found["guide_stars"]] == [star.id for star in result.guide_stars]
    assert len(found["ranges"]) == len(result.ranges)
    assert found["best_sure"]["placements"][0]["u_px"] == pytest.approx(result.best_sure.placements[0].u_px, abs=0.01)
    assert found["best_flip_safe"]["twin_star_ids"] == list(result.best_flip_safe.twin_star_ids) != []


def test_full_circle_nothing_and_no_flip(samples):
    full, nothing, fork = (to_json(samples[name]()) for name in ("full circle", "nothing usable", "fork mount"))
    assert full["usable"]["angles_deg"] == [[0.0, 360.0]]
    assert full["best"]["margin_deg"] == 180.0
    assert nothing["usable"]["angles_deg"] == []
    assert nothing["best"] is None
    assert nothing["best_flip_safe"] is None
    assert [hint["kind"] for hint in nothing["hints"]] == ["fainter", "offset", "shift"]
    assert fork["usable"]["flip_safe_fraction"] is None
    assert fork["usable"]["flip_safe_angles_deg"] is None


def test_a_range_across_north_ends_beyond_360(samples):
    pairs = to_json(samples["fork mount"]())["usable"]["angles_deg"]
    assert [pair for pair in pairs if pair[1] > 360.0]
    assert all(0.0 <= start < 360.0 for start, _ in pairs)


def test_asked_holds_the_sides(samples):
    asked = to_json(samples["asked with sides"]())["asked"]
    assert {"angle_deg", "tolerance_deg", "usable", "sure", "twin_usable", "star_ids"} <= set(asked)
    assert [side["side"] for side in asked["sides"]] == ["top", "left", "bottom", "right"]
    assert to_json(samples["many ranges"]())["asked"] is None


def test_what_is_not_a_number_becomes_null(samples):
    result = samples["one range"]()
    broken = dataclasses.replace(result, stars=dataclasses.replace(result.stars, complete_to_mag=math.nan))
    assert to_json(broken)["stars"]["complete_to_mag"] is None


def test_rounding_never_breaks_the_rules_of_intervals():
    assert tidy_intervals([(359.99996, 365.0)]) == [[0.0, 5.0]]
    assert tidy_intervals([(10.0, 20.00001), (20.00004, 30.0)]) == [[10.0, 30.0]]
    assert tidy_intervals([(12.0, 12.00001)]) == [[12.0, 12.0001]]
    assert tidy_intervals([(0.00001, 5.0), (350.0, 359.99999)]) == [[350.0, 365.0]]
    assert tidy_intervals([(0.0, 360.0)]) == [[0.0, 360.0]]


@settings(derandomize=True, deadline=None)
@given(st.lists(st.floats(0.0, 359.999999), min_size=2, max_size=12, unique=True))
def test_intervals_stay_in_order_and_apart(ends):
    ends = sorted(ends)[: len(ends) // 2 * 2]
    given_deg = list(zip(ends[::2], ends[1::2], strict=True))
    found = tidy_intervals(given_deg)
    assert all(0.0 <= start < 360.0 and start < end <= start + 360.0 for start, end in found)
    assert all(before[1] < after[0] for before, after in pairwise(found))
    width = sum(end - start for start, end in given_deg)
    assert sum(end - start for start, end in found) == pytest.approx(width, abs=2e-4 * len(given_deg))


def test_a_bad_row():
    assert error_row(7, "unknown object") == {"row": 7, "error": "unknown object"}
