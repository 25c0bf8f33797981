"""The report for a person: what it says, in which order, and that it fits the page."""

from __future__ import annotations

import dataclasses
import re

import pytest

from guidestar.field.result import Hint
from guidestar.report import wording as w
from guidestar.report.text import TargetRow, render, render_rows


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("width", [46, 60, 80, 120])
def test_no_line_is_longer_than_the_page(result, width):
    text = render(result, width=width, colour=False)
    assert max(map(len, text.splitlines())) <= width
    assert "…" not in text
    assert w.NBSP not in text


@pytest.mark.parametrize("width", [46, 80])
def test_designations_are_never_cut(result, width):
    text = render(result, width=width, colour=False)
    for item in result.ranges:
        assert item.brightest_id in text
    assert all(not line.endswith("TYC") for line in text.splitlines())


def test_sure_comes_before_usable_and_both_before_the_table(samples):
    text = render(samples["many ranges"](), width=80, colour=False)
    places = [text.index(word) for word in ("NGC 0000", "Rig “", "SURE", "USABLE", "BEST SURE", "brightest", "FLIP")]
    assert places == sorted(places)


def test_shares_and_ranges_are_the_results(samples):
    result = samples["many ranges"]()
    text = flat(render(result, width=80, colour=False))
    assert f"SURE {100 * result.usable.sure_fraction:.0f} % of all camera angles" in text
    for start, end in result.usable.sure_angles_deg:
        assert f"{start:.1f}° to {end % 360:.1f}°" in text
    assert f"Set the camera to {result.best_sure.angle_deg:.1f}°" in text


def test_the_best_angles_stars_stand_in_mm_and_pixels(samples):
    result = samples["many ranges"]()
    text = render(result, width=80, colour=False).replace("−", "-")
    for item in result.best_sure.placements:
        if item.usable:
            assert re.search(
                rf"{item.star_id} +{item.g_mag:.2f} +[+-]{abs(item.u_mm):.2f} mm +[+-]{abs(item.v_mm):.2f} mm "
                rf"+{item.u_px:.0f} +{item.v_px:.0f}",
                text,
            )


def test_columns_line_up(samples):
    lines = render(samples["many ranges"](), width=80, colour=False).splitlines()
    first = next(i for i, line in enumerate(lines) if line.lstrip().startswith("from"))
    table = lines[first : first + 1 + len(samples["many ranges"]().ranges)]
    assert len({line.index("TYC") for line in table[1:]}) == 1
    assert table[0].index("brightest") == table[1].index("TYC")


def test_flip_is_named_only_for_mounts_that_flip(samples):
    assert "flip" not in render(samples["fork mount"](), width=80, colour=False).lower()
    assert "MERIDIAN FLIP" in render(samples["many ranges"](), width=80, colour=False)


def test_the_flip_names_the_stars_before_and_after(samples):
    result = next(r for r in (make() for make in samples.values()) if r.best_flip_safe and r.usable.fraction < 1)
    text = flat(render(result, width=100))
    before, after = result.best_flip_safe.star_ids[0], result.best_flip_safe.twin_star_ids[0]
    assert f"Before the flip you guide on {before}" in text
    assert f"after it on {after}" in text


def test_nothing_usable_is_said_plainly_with_hints(samples):
    text = flat(render(samples["nothing usable"](), width=80, colour=False))
    assert "NO GUIDE STAR However you turn the camera, no star down to G 11.00" in text
    assert "reaches G 11.62" in text
    assert "Move the prism 1.25 mm inward" in text
    assert "Point the telescope about 3.2′ off the target, towards the north-east" in text
    assert "'check --nudge' finds the smallest shift" in text
    assert "SURE" not in text


def test_with_the_light_model_the_reach_is_named_as_the_best_one(samples):
    result = samples["nothing usable"]()
    light = dataclasses.replace(result, field=dataclasses.replace(result.field, model="light"))
    text = flat(render(light, width=80, colour=False))
    assert "no star bright enough (your guide camera reaches G 11.00 at best) crosses the guide field" in text
    assert "no star down to" not in text.split("STARS")[0]


def test_hints_for_several_stars_name_them_all(samples):
    result = samples["nothing usable"]()
    several = dataclasses.replace(result.rig.guiding, min_stars=3)
    fewer = Hint("fewer", "S0", 10.8, 2, None, 119.9, 7.56, (("S1", 12.7),))
    longer = Hint("exposure", "S1", 12.7, 3.0, None, 119.9, 7.5, (("S0", 10.8), ("S2", 13.0)))
    rig = dataclasses.replace(result.rig, guiding=several)
    text = flat(render(dataclasses.replace(result, rig=rig, hints=(fewer, longer)), width=80))
    assert (
        "Do with 2 stars at once instead of 3: 2.1 % of all camera angles have that many, such as 119.9°, with S0 "
        "(G 10.80) and S1 (G 12.70)." in text
    )
    assert "for 3 s: S0 (G 10.80), S1 (G 12.70) and S2 (G 13.00) are then bright enough at 119.9°" in text


def test_a_result_without_hints_says_so(samples):
    bare = dataclasses.replace(samples["nothing usable"](), hints=())
    assert "No small change" in flat(render(bare, width=80, colour=False))


def test_the_asked_angle_comes_first_with_twin_and_sides(samples):
    result = samples["asked with sides"]()
    text = render(result, width=80, colour=False)
    assert text.index("YOUR ANGLE") < text.index("SURE")
    words = flat(text)
    assert "113.0°, give or take 1°: yes, if the prism sits where you measured it. It is not sure" in words
    assert f"After the meridian flip (293.0°, give or take 1°): {'yes' if result.asked.twin_usable else 'no'}." in words
    for side in result.asked.sides:
        answer = "no" if not side.usable else "yes, surely" if side.sure else "yes, but not surely"
        assert f"{side.side}: {answer}" in words


def test_asked_in_vain_and_only_just(samples):
    result = samples["asked in vain"]()
    assert "95.0°, give or take 1°: no." in flat(render(result, width=80, colour=False))
    star = result.guide_stars[0]
    near = dataclasses.replace(result, asked=dataclasses.replace(result.asked, star_ids=(star.id,)))
    assert f"only just. {star.id} (G {star.g_mag:.2f})" in flat(render(near, width=80, colour=False))


def test_too_few_stars_at_the_asked_angle_are_a_plain_no(samples):
    result = samples["two stars at once"]()
    asked = samples["asked in vain"]().asked
    one = dataclasses.replace(result, asked=dataclasses.replace(asked, star_ids=(result.guide_stars[0].id,)))
    text = flat(render(one, width=80, colour=False))
    assert "95.0°, give or take 1°: no. You will not find at least 2 guide stars there." in text


def test_margin_is_weighed_against_what_can_be_set(samples):
    result = samples["many ranges"]()
    narrow = dataclasses.replace(result, best_sure=dataclasses.replace(result.best_sure, margin_deg=0.96))
    text = flat(render(narrow, width=80, colour=False))
    assert "only 0.9° either way" in text
    assert "so there is room" in flat(render(result, width=80, colour=False))


def test_narrow_ranges_are_marked_and_the_mark_explained(samples):
    result = samples["many ranges"]()
    first = dataclasses.replace(result.ranges[0], settable=False)
    text = render(dataclasses.replace(result, ranges=(first, *result.ranges[1:])), width=80, colour=False)
    assert [line.endswith(" *") for line in text.splitlines() if line.lstrip().startswith(w.angle(first.start_deg))]
    assert "*: narrower than you can set the camera (±1°)" in flat(text)
    assert "*:" not in render(result, width=80, colour=False)


def test_a_long_bad_row_is_cut():
    text = render_rows([TargetRow(1, "a line of prose that is no target at all", "no target")], width=100)
    assert flat(text).count("a line of prose that is no tar…") == 2


def test_completeness_speaks_both_ways(samples):
    result = samples["one range"]()
    deep = dataclasses.replace(result, stars=dataclasses.replace(result.stars, complete_to_mag=12.0))
    assert "the gaps are real" in flat(render(deep, width=80, colour=False))
    assert "more usable angles than shown, not fewer" in flat(render(result, width=80, colour=False))


def test_warnings_are_printed(samples):
    warned = dataclasses.replace(samples["one range"](), warnings=("the prism shadows the main sensor",))
    assert "WARNING the prism shadows the main sensor." in flat(render(warned, width=80, colour=False))


def test_colour_adds_codes_and_nothing_else(result):
    plain, coloured = (render(result, width=80, colour=colour) for colour in (False, True))
    assert "\x1b[" not in plain
    assert "\x1b[" in coloured
    bare = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert [line.rstrip() for line in bare.splitlines()] == plain.splitlines()


def test_a_name_with_brackets_is_not_markup(samples):
    result = samples["one range"]()
    named = dataclasses.replace(result, target=dataclasses.replace(result.target, name="[bold]M 1[/bold] :star:"))
    assert render(named, width=80, colour=False).startswith("[bold]M 1[/bold] :star:\n")


@pytest.mark.parametrize("width", [50, 80, 100])
def test_rows_hold_every_target_and_say_why_one_failed(samples, width):
    names = sorted(samples)
    rows = [TargetRow(number, name, samples[name]()) for number, name in enumerate(names, start=2)]
    assert "cannot be used" not in render_rows(rows, width=width, colour=False)
    rows.append(TargetRow(40, "NGC 99999", "no object is called “NGC 99999”; did you mean NGC 999?"))
    text = render_rows(rows, width=width, colour=False)
    assert max(map(len, text.splitlines())) <= width
    assert "…" not in text
    assert flat(text).startswith(f"WARNING 1 of {len(rows)} rows cannot be used.")
    assert "Row 40, “NGC 99999”: no object is called “NGC 99999”; did you mean NGC 999?" in flat(text)
    assert len(re.findall(r"NGC 0000 \(invented\)", flat(text))) == len(names)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        (w.angle(359.97), "0.0°"),
        (w.angle(-10.0), "350.0°"),
        (w.width(0.04), "under 0.1°"),
        (w.width(0.0), "0.0°"),
        (w.margin(0.96), "0.9°"),
        (w.margin(0.05), "under 0.1°"),
        (w.span(350.0, 372.34), "350.0° to 12.3°"),
        (w.span(0.0, 360.0), "the whole circle"),
        (w.share(0.0), "0 %"),
        (w.share(1.0), "100 %"),
        (w.share(0.9999), "over 99.9 %"),
        (w.share(0.00001), "under 0.1 %"),
        (w.share(0.256), "26 %"),
        (w.right_ascension(359.99999), "00h 00m 00.0s"),
        (w.right_ascension(339.2671), "22h 37m 04.1s"),
        (w.declination(-0.5), "−00° 30′ 00″"),
        (w.declination(-0.00001), "+00° 00′ 00″"),
        (w.declination(34.99999), "+35° 00′ 00″"),
        (w.compass(350.0), "north"),
        (w.compass(225.0), "south-west"),
        (w.joined(["a", "b", "c"]), "a, b and c"),
        (w.plain(-0.001, 2), "0"),
        (w.plain(2000.0), "2000"),
    ],
)
def test_wording(written, expected):
    assert written.replace(w.NBSP, " ") == expected


@pytest.mark.parametrize(
    ("b_deg", "words"),
    [(0.2, "on the Milky Way's plane"), (38.0, "38° north"), (-89.6, "90° south"), (90.0000001, "90° north")],
)
def test_galactic_place(b_deg, words):
    assert w.galactic_place(b_deg).startswith(words)
