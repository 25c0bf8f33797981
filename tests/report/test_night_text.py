"""What a night says, and that its numbers are the result's."""

import csv
import io
import json
import re
from dataclasses import replace
from datetime import date, datetime

import pytest
from support.planned import MOUNTS, SITE, one

from guidestar.report import wording as w
from guidestar.report.night_csv import HEADINGS, night_to_csv
from guidestar.report.night_json import night_to_json
from guidestar.report.night_sentences import held, up
from guidestar.report.night_text import render_night
from guidestar.report.night_wording import clock_of, day, hours, place
from guidestar.rig import Site


def said(result, width=100):
    return " ".join(render_night(result, width=width).split())


@pytest.mark.parametrize("mount", MOUNTS)
@pytest.mark.parametrize("width", [40, 80, 120])
def test_no_line_is_wider_than_the_page(mount, width):
    result, _, _ = one(mount)
    lines = render_night(result, width=width).splitlines()
    assert max(len(line) for line in lines) <= width
    assert "\n\n\n" not in render_night(result, width=width)


def test_the_head_names_night_place_and_clocks():
    result, _, _ = one("german")
    text = said(result)
    assert "The night of Wednesday 25 November 2026 at 50.10° N, 10.20° E; times are those of Europe/Berlin." in text
    assert "DARK 18:20 to 05:53 (11.6 h), with the Sun at least 18° below the horizon." in text
    assert re.search(r"The Moon is 9\d % lit and waning", text)


def test_times_are_the_site_s_own():
    result, night, _ = one("german")
    assert f"so the mount turns over at {clock_of(result).at(night.flip)}." in said(result)


def test_the_table_of_stars_is_the_result_s():
    result, night, _ = one("german")
    text = said(result)
    for run in night.runs:
        assert run.star_id is None or f"{run.star_id} {run.g_mag:.2f}" in text
    assert f"Set the camera to {night.choice.angle_deg:.1f}°" in text


def test_the_sun_comes_before_everything():
    result, _, _ = one("german", target=(200.0, 5.0), evening=date(2026, 12, 4))
    text = render_night(result, width=90)
    assert text.startswith("DANGER  This plan runs into dawn")
    assert "certified full-aperture solar filters" in " ".join(text.split())


@pytest.mark.parametrize(
    ("latitude", "evening", "words"),
    [
        (78.2, date(2026, 6, 21), "the Sun stays above the horizon. There is nothing to plan. The Sun does not set."),
        (63.4, date(2026, 6, 21), "the Sun goes only 3.2° below the horizon."),
        (52.5, date(2026, 6, 21), "the light of twilight is not reckoned"),
        (78.2, date(2026, 12, 21), "The Sun does not rise."),
    ],
)
def test_summer_and_winter_far_north(latitude, evening, words):
    result, _, _ = one(
        "german", target=(148.9, 69.1), site=Site(latitude_deg=latitude, longitude_deg=10.4), evening=evening
    )
    assert words in said(result)
    assert "times are UTC" in said(result)


def test_clocks_that_change_are_told_apart():
    result, _, _ = one("german", target=(148.9, 69.1), evening=date(2026, 10, 24))
    text = said(result)
    assert "from UTC+2 to UTC+1" in text
    assert "02:00 (UTC+2)" in text
    assert "02:00 (UTC+1)" in text


def test_why_there_are_no_hours_and_nothing_else():
    result, _, _ = one("german", target=(148.9, 69.1), site=Site(latitude_deg=-33.9, longitude_deg=151.2))
    text = said(result)
    assert "UP No hours tonight. It never rises here" in text
    assert "ANGLE" not in text


def test_an_alt_azimuth_mount_s_words():
    result, night, _ = one("altaz")
    text = said(result)
    assert f"upper edge of the picture {night.choice.roll_deg:.1f}° from the zenith" in text
    assert "TURNING On an alt-azimuth mount the field turns by" in text


def test_each_side_by_itself_where_no_angle_holds():
    result, night, _ = one("german", stars=40)
    assert night.choice.holds == "partly"
    assert "No angle holds all night; this one does longest." in said(result)
    assert "EACH SIDE BY ITSELF Before the flip" in said(result)


def test_a_list_ranks_and_names():
    first, one_night, _ = one("german")
    second = one("german", target=(148.9, 69.1))[1]
    result = replace(first, targets=(second, one_night), is_list=True)
    text = render_night(result, width=120)
    assert text.startswith("2 targets for tonight")
    assert re.search(r"^1 +made-up target +18:20 +05:53", text, re.MULTILINE)
    narrow = render_night(result, width=50)
    assert max(len(line) for line in narrow.splitlines()) <= 50


def test_a_horizon_line_is_called_one():
    result, night, _ = one(
        "german", site=Site(latitude_deg=50.0, longitude_deg=10.0, horizon_deg=((0.0, 20.0), (180.0, 25.0)))
    )
    assert "above your horizon line" in up(result, night, clock_of(result))
    both = replace(result, least_altitude_deg=30.0)
    assert "your horizon line and 30° of altitude" in up(both, night, clock_of(both))


def test_days_hours_and_places_in_words():
    assert day(date(2026, 11, 25)).replace("\N{NO-BREAK SPACE}", " ") == "Wednesday 25 November 2026"
    assert [hours(value).replace("\N{NO-BREAK SPACE}", " ") for value in (6.97, 7.0, 0.5, 0.005, 0.0, 0.999)] == [
        "7 h",
        "7 h",
        "30 min",
        "under 1 min",
        "0 min",
        "1 h",
    ]
    assert place(Site(latitude_deg=-33.9, longitude_deg=200.0)).replace("\N{NO-BREAK SPACE}", " ") == (
        "33.90° S, 160.00° W"
    )


@pytest.mark.parametrize("mount", MOUNTS)
def test_json_holds_what_the_result_holds(mount):
    result, night, _ = one(mount)
    out = json.loads(json.dumps(night_to_json(result), allow_nan=False))
    assert out["schema"] == "guidestar.night/1"
    (target,) = out["targets"]
    assert len(target["quarter_hours"]) == len(night.moments)
    assert target["choice"]["angle_deg"] == pytest.approx(night.choice.angle_deg, abs=1e-4)
    assert [run["star_id"] for run in target["runs"]] == [run.star_id for run in night.runs]
    assert target["usable_angles_deg"] == [pytest.approx(span, abs=1e-4) for span in night.usable]
    assert target["windows"][0]["start"].endswith("+01:00")
    assert (target["turning"] is None) == (mount != "altaz")
    assert target["sides"][0]["check"]["schema"] == "guidestar.check/1"
    assert out["site"]["time_zone"] == "Europe/Berlin"


def test_angles_stay_below_360_however_they_are_rounded():
    result, night, _ = one("german")
    just_below = replace(night, choice=replace(night.choice, angle_deg=359.99999), usable=((359.99999, 361.0),))
    (target,) = night_to_json(replace(result, targets=(just_below,)))["targets"]
    assert target["choice"]["angle_deg"] == 0.0
    assert target["usable_angles_deg"] == [[0.0, 1.0]]
    (row,) = csv.DictReader(io.StringIO(night_to_csv(replace(result, targets=(just_below,)))))
    assert float(row["camera_angle_deg"]) == 0.0


def warned(result):
    doubtful = replace(result.rig)
    object.__setattr__(doubtful, "warnings", ("prism.ahead_mm: 60 mm disagrees with the train",))
    return replace(result, rig=doubtful)


def test_what_the_rig_is_warned_of_stands_in_text_and_json_alike():
    for result in (one("german")[0], one(target=(100.0, -60.0), stars=1)[0], replace(one("german")[0], is_list=True)):
        doubtful = warned(result)
        assert night_to_json(doubtful)["warnings"] == ["prism.ahead_mm: 60 mm disagrees with the train"]
        head = said(doubtful).partition(" DARK ")[0]
        assert "WARNING prism.ahead_mm: 60 mm disagrees with the train." in head
        assert night_to_json(result)["warnings"] == []
        assert "WARNING" not in said(result)


def saturated(result, fill):
    (night,) = result.targets
    runs = tuple(replace(run, peak_fill=fill) for run in night.runs)
    return replace(result, targets=(replace(night, runs=runs),))


def test_a_star_that_fills_its_pixel_is_marked_everywhere():
    result, night, _ = one("german")
    full = saturated(result, 18.9)
    first = next(run for run in night.runs if run.star_id)
    assert re.search(rf"{first.star_id} +\S+ +{first.exposure_s:g} s !", render_night(full, width=110))
    why = "brightest pixel even with the shortest exposure that serves"
    assert why in said(full)
    assert why in next(csv.DictReader(io.StringIO(night_to_csv(full))))["remark"]
    assert night_to_json(full)["targets"][0]["runs"][0]["peak_fill"] == 18.9
    assert why in said(replace(full, is_list=True))
    assert f"{first.star_id} !" in said(replace(full, is_list=True))
    (named,) = (replace(run, star_id="TYC 1 2 3") if run is first else run for run in night.runs if run is first)
    table = night_to_csv(replace(full, targets=(replace(full.targets[0], runs=(replace(named, peak_fill=18.9),)),)))
    assert "TYC 1 2 3" in next(csv.DictReader(io.StringIO(table)))["remark"]
    assert w.NBSP not in table
    for clean in (saturated(result, 0.999), saturated(result, None)):
        assert "!" not in said(clean)
        assert "!" not in said(replace(clean, is_list=True))


def test_the_table_rounds_its_times_as_the_text_does():
    result, night, _ = one("german")
    clock, row = clock_of(result), next(csv.DictReader(io.StringIO(night_to_csv(result))))
    moments = {
        "from": night.windows[0].start, "to": night.windows[-1].end, "flip": night.flip, "transit": night.transit,
    }  # fmt: skip
    assert any(moment.second >= 30 for moment in moments.values())  # or cutting them would be as good
    for key, moment in moments.items():
        assert row[key][11:16] == clock.at(moment)
        assert abs((datetime.fromisoformat(row[key]) - moment).total_seconds()) <= 30.0


def test_the_table_makes_no_margin_larger():
    result, night, _ = one("german")
    narrow = replace(night, choice=replace(night.choice, margin_deg=8.9961))
    assert next(csv.DictReader(io.StringIO(night_to_csv(replace(result, targets=(narrow,))))))["margin_deg"] == "8.99"


def test_ranges_narrower_than_can_be_set_are_not_listed():
    result, night, _ = one("german")  # set to ±1°
    accuracy = result.rig.guiding.rotation_accuracy_deg
    odd = replace(night, sure=((10.0, 10.0 + 2.0 * accuracy), (41.6, 41.62), (60.5, 60.51)), usable=((100.0, 100.01),))
    sure, usable = held(result, odd)
    assert sure == f"SURE ALL NIGHT  10.0°\N{NO-BREAK SPACE}to\N{NO-BREAK SPACE}{10 + 2 * accuracy:.1f}°; besides " + (
        f"2\N{NO-BREAK SPACE}ranges narrower than you can set the camera (±{accuracy:g}°)."
    )
    assert "only 100.0°" in usable
    assert "narrower than you can set the camera" in usable


def test_json_of_a_night_without_hours():
    result, _, _ = one(
        "german", target=(148.9, 69.1), site=Site(latitude_deg=78.2, longitude_deg=15.6), evening=date(2026, 6, 21)
    )
    out = json.loads(json.dumps(night_to_json(result), allow_nan=False))
    assert out["dark"]["kind"] == "none"
    assert out["targets"][0]["choice"] is None
    assert "does not get dark" in out["targets"][0]["no_window"]


def test_csv_has_a_row_a_target():
    result, night, _ = one("german")
    (row,) = csv.DictReader(io.StringIO(night_to_csv(result)))
    assert tuple(row) == HEADINGS
    assert float(row["hours_guided"]) == pytest.approx(night.guidable_hours, abs=0.005)
    assert row["from"] == "2026-11-25T18:20+01:00"
    assert row["stars"].split("; ") == list(dict.fromkeys(run.star_id for run in night.runs))


def test_a_horizon_line_in_json():
    line = Site(latitude_deg=50.0, longitude_deg=10.0, horizon_deg=((0.0, 20.0), (180.0, 25.0)))
    result, _, _ = one("german", site=line)
    assert night_to_json(result)["site"]["horizon_deg"] == [[0.0, 20.0], [180.0, 25.0]]
    assert night_to_json(one("german", site=SITE)[0])["site"]["horizon_deg"] == 20.0


def test_a_prism_that_is_allowed_nothing_is_not_sure_up_to_0_mm():
    result = one("german")[0]
    (night,) = result.targets
    result = replace(result, targets=(replace(night, choice=replace(night.choice, holds="sure")),))
    for accuracy_mm, words in ((0.0, "the rig file allows nothing for"), (0.004, "0.004 mm")):
        exact = replace(result, rig=result.rig.with_values({"prism.offset_accuracy_mm": accuracy_mm}))
        for shown in (exact, replace(exact, is_list=True)):
            assert words in said(shown)
            assert " 0 mm" not in said(shown).replace("\xa0", " ")


def test_a_checks_own_warning_stands_under_its_targets_name_in_a_list():
    result = one("german")[0]
    (night,) = result.targets
    sides = tuple(
        replace(side, check=replace(side.check, warnings=("Few stars are known here.",))) for side in night.sides
    )
    doubtful = replace(result, targets=(replace(night, sides=sides),))
    assert doubtful.warnings == ("Few stars are known here.",)
    assert replace(doubtful, is_list=True).warnings == (f"{night.target.name}: Few stars are known here.",)
