"""The card: what it says equals the result, what has to be known first stands first, things stand where they belong."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from support import nights
from support.cards import (
    CASES,
    GUIDE_SIDE,
    LAYOUTS,
    SUN,
    arrow,
    bounds,
    boxes,
    card_of,
    drawn,
    everything,
    made,
    patches,
    with_train,
    words,
)
from support.rigs import COMPOUND, FAST, NEWTONIAN, rig
from support.wcs_twin import picture_wcs

from guidestar.report import wording as w

# What it says


def local(moment, zone="Europe/Berlin"):
    return f"{(moment + timedelta(seconds=30)).astimezone(ZoneInfo(zone)):%H:%M}"


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("name", ["sure, with a flip", "mirrored, prism left, sensor turned"])
def test_every_number_is_the_results(name, layout):
    result, _ = made(name)
    (night,) = result.targets
    figure = drawn(name, layout)
    assert words(figure, "dial") == [w.angle(night.choice.angle_deg)]
    lines = words(figure, "dial line")
    assert lines == [
        "give or take 7.7° (sure all night)",
        f"The flip by itself makes it {w.angle(night.sides[1].camera_angle_deg)}.",
    ]
    assert words(figure, "time") == ["18:20 to 05:53", "18:20, dusk", "22:20", "05:53, dawn"]
    assert local(night.flip) == "22:20"
    assert "Times of Europe/Berlin, UTC+1." in everything(figure)
    for side, run in zip(night.sides, night.runs, strict=True):
        assert run.star_id in words(figure, "guide star")
        (star,) = [item for item in side.check.asked.placements if item.star_id == run.star_id]
        rows = words(figure, "star row")
        assert f"{star.u_px:.0f}, {star.v_px:.0f}" in rows
        assert f"G {run.g_mag:.2f}" in rows
        assert f"{run.exposure_s:g} s" in rows
    captions = " ".join(words(figure, "frame caption"))
    for side in night.sides:
        assert f"N {w.angle(side.camera_angle_deg)}" in captions
    assert f"{result.rig.prism.offset_mm:g} ± 1 mm from the axis" in words(figure, "train")


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_trains_numbers(layout):
    name = "no flip, a train"
    _, built = made(name)
    assert words(drawn(name, layout), "train") == [
        "10 mm; of your own: 7 + 3 mm",
        "17 ± 1 mm from the axis",
        f"drawn out {w.plain(built.focus.focuser_mm)} mm",
    ]
    assert built.focus.focuser_mm == pytest.approx(6.2, abs=0.05)


def test_what_is_not_known_of_the_train_is_said():
    assert "not known: no [train] in the rig file" in words(drawn("sure, with a flip", "a4"), "train")
    assert "not known: no stalk_mm" in " ".join(words(drawn("a train without its guide side", "a4"), "train"))
    assert "none fits: the train is 5 mm too long" in words(drawn("a train too long", "a4"), "train")


def test_own_spacers_that_do_not_reach_are_said():
    result, built = with_train(train__spacers_mm=(5.0, 3.0))
    said = " ".join(words(card_of(result, built, "phone"), "train"))
    assert "10 mm; of your own: 5 + 3 mm, which leaves it 2 mm too short" in said


def test_a_guide_focus_out_of_reach_is_said():
    result, built = with_train(**{**GUIDE_SIDE, "train__focuser_travel_mm": 2.0})
    assert built.focus.in_travel is False
    said = " ".join(words(card_of(result, built, "phone"), "train"))
    assert "out of reach as built (would need 6.2 mm drawn out)" in said


def test_what_serves_when_is_listed():
    result, _ = made("only partly")
    (night,) = result.targets
    figure = drawn("only partly", "phone")
    rows = words(figure, "run")
    for run in night.runs:
        assert f"{local(run.start)} to {local(run.end)}" in rows
    assert sum(row == "no star" for row in rows) == sum(run.star_id is None for run in night.runs)
    own = [side.own_angle_deg for side in night.sides]
    said = " ".join(words(figure, "dial line"))
    assert f"Angles that hold on one side of the flip: {w.angle(own[0])} before and {w.angle(own[1])} after it." in said


def test_what_a_longer_exposure_would_bring_is_said():
    result = nights.night(holds="partly", flip_hour=None)
    (night,) = result.targets
    gap = replace(night.runs[0], star_id=None, g_mag=None, exposure_s=8.0, would_be_id="TYC 1-22-1")
    figure = card_of(replace(result, targets=(replace(night, runs=(gap,)),)), None, "phone")
    assert "no star; with 8 s TYC 1-22-1 would do" in " ".join(words(figure, "run"))


def test_more_stretches_than_there_is_room_for_are_counted():
    result, _ = made("a long name, many stars")
    rows = words(drawn("a long name, many stars", "letter"), "run")
    listed = sum(" to " in row and "more" not in row for row in rows)
    more = [int(row.split()[1]) for row in rows if "more" in row]
    assert listed + sum(more) == len(result.targets[0].runs)
    assert more


def test_a_rig_without_light_model_has_no_exposure():
    fixed = rig(COMPOUND, guiding__faintest_mag=11.5)
    result = nights.night(rig=fixed, sky=nights.sky_of(fixed, stars=500))
    (night,) = result.targets
    runs = tuple(replace(run, exposure_s=None) for run in night.runs)
    figure = card_of(replace(result, targets=(replace(night, runs=runs),)), None, "a4")
    assert words(figure, "star row").count("as usual") == 2


def test_two_windows_have_a_pause_and_nautical_darkness_its_name():
    figure = drawn("two windows, nautical", "a4")
    labels = words(figure, "time label")
    assert labels == ["dark (nautical)", "start", "pause", "end"]
    assert words(figure, "time")[2] == f"{local(nights.at(2))} to {local(nights.at(6))}"


def test_a_mount_that_turns_back_has_three_sides():
    figure = drawn("turning back below the pole", "phone")
    assert words(figure, "side") == ["Before the flip", "After the flip", "After it turns back"]
    assert words(figure, "time label") == ["dark", "start", "flip", "flip back", "end"]


def test_an_alt_azimuth_mount_has_start_end_zenith_and_longest_exposure():
    result, _ = made("an alt-azimuth mount")
    (night,) = result.targets
    figure = drawn("an alt-azimuth mount", "a4")
    said = " ".join(words(figure, "dial line"))
    assert "at 18:20; it turns with the sky, by 80.0° in all." in said
    assert "In the picture the zenith stays 312.3° clockwise from up." in said
    assert "Round 21:20, the fastest, main exposures of up to 6.8 s stay sharp" in said  # 6.87 rounded down
    captions = " ".join(words(figure, "frame caption"))
    assert w.angle(night.choice.angle_deg) in captions
    assert w.angle(night.choice.angle_deg + 80.0) in captions


def test_a_field_that_turns_too_fast_is_said():
    (night,) = made("an alt-azimuth mount")[0].targets
    fast = replace(night, turning=replace(night.turning, exposure_limit_s=0.04))
    result = replace(made("an alt-azimuth mount")[0], targets=(fast,))
    assert "too fast for any exposure" in everything(card_of(result, None, "phone"))


def test_clocks_that_change_are_shown_with_their_hours():
    figure = drawn("clocks change", "phone")
    assert words(figure, "zone")[0].startswith("Times of Europe/Berlin, whose clocks change")
    assert all("(UTC+1)" in row for row in words(figure, "time"))


@pytest.mark.parametrize(
    ("zone", "said"),
    [
        ("Etc/UTC", "Times are UTC."),
        ("America/St_Johns", "Times of America/St_Johns, UTC−3:30."),
        ("Pacific/Chatham", "Times of Pacific/Chatham, UTC+13:45."),
    ],
)
def test_the_clocks_are_named(zone, said):
    result = nights.no_hours(site=replace(nights.SITE, time_zone=zone))
    assert words(card_of(result, None, "a4"), "zone") == [said]


@pytest.mark.parametrize(
    ("evening", "said"),
    [
        ((2026, 11, 25), "Night of 25 to 26 November 2026."),
        ((2027, 4, 30), "Night of 30 April to 1 May 2027."),
        ((2026, 12, 31), "Night of 31 December 2026 to 1 January 2027."),
    ],
)
def test_the_night_is_named_by_both_its_dates(evening, said):
    start = nights.DUSK.replace(year=evening[0], month=evening[1], day=evening[2])
    result = nights.no_hours(dark=nights.dark_of(start, start + timedelta(hours=8)))
    assert words(card_of(result, None, "a4"), "subtitle")[0].startswith(said)


# What stands first


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize(
    ("name", "order"),
    [
        ("the Sun, and nothing sure", ["warning head", "warning", "trouble head", "trouble", "name"]),
        ("not tonight", ["warning head", "warning", "trouble head", "trouble", "name"]),
        ("only partly", ["doubt head", "doubt", "trouble head", "trouble", "name"]),
        ("no star at all", ["trouble head", "trouble", "name"]),
        ("sure, with a flip", ["name"]),
        ("a train at odds with its rig", ["doubt head", "doubt", "name"]),
    ],
)
def test_warnings_come_first_then_what_is_not_sure(name, order, layout):
    found = sorted(boxes(drawn(name, layout)), key=lambda box: (box[1], box[0]))
    gids = [text.get_gid().replace("target", "name") for *_, text in found]
    assert list(dict.fromkeys(gids))[: len(order)] == order


@pytest.mark.parametrize(
    ("name", "head"),
    [
        ("the Sun, and nothing sure", "No star is sure"),
        ("only partly", "Not sure, and not all night"),
        ("no star at all", "No guide star"),
        ("no star at the angle asked for", "No guide star"),
        ("not tonight", "Not tonight"),
        ("polar day", "Not tonight"),
    ],
)
def test_what_is_wrong_is_named(name, head):
    assert words(drawn(name, "a4"), "trouble head") == [head]


def test_the_whole_warning_is_on_the_page():
    for layout in LAYOUTS:
        assert " ".join(words(drawn("the Sun, and nothing sure", layout), "warning")) == SUN


def test_an_angle_that_means_nothing_is_not_shown():
    figure = drawn("no star at all", "a4")
    assert not words(figure, "dial")
    assert not patches(figure, "guide sensor")
    assert words(drawn("no star at the angle asked for", "a4"), "dial") == ["10.0°"]


@pytest.mark.parametrize("name", list(CASES))
def test_every_card_has_its_safety_lines(name):
    said = " ".join(words(drawn(name, "a4"), "safety"))
    for must in ("near the Sun", "Cold", "Dark", "Tripping", "Mains, damp", "rules of the place come first"):
        assert must in said


# Where things stand


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("angle_deg", [0.0, 37.0, 90.0, 211.5, 300.0])
def test_north_and_east_stand_as_in_a_solved_picture(mirrored, angle_deg):
    """The camera as an astropy WCS, in millimetres right and up of the picture's centre, is the authority."""
    own = rig(COMPOUND, camera__mirrored=mirrored)
    figure = card_of(nights.night(rig=own, angle_deg=angle_deg), None, "a4")
    ra, dec = nights.PLACE
    for number, turned in enumerate((angle_deg, angle_deg + 180.0)):
        wcs = picture_wcs(ra, dec, turned, 2000.0, mirrored)
        step = 1e-3
        for name, there in (("N", (ra, dec + step)), ("E", (ra + step / np.cos(np.radians(dec)), dec))):
            seen = np.array(wcs.wcs_world2pix([there], 0)[0]) + 1.0
            assert arrow(figure, f"arrow {name} {number}") == pytest.approx(seen / np.hypot(*seen), abs=1e-4)


@pytest.mark.parametrize(("side", "right", "up"), [("top", 0, 1), ("left", -1, 0), ("bottom", 0, -1), ("right", 1, 0)])
@pytest.mark.parametrize("mirrored", [False, True])
def test_the_prism_is_drawn_at_its_edge(side, right, up, mirrored):
    figure = card_of(nights.night(rig=rig(COMPOUND, prism__side=side, camera__mirrored=mirrored)), None, "a4")
    frame, prism = bounds(patches(figure, "main frame 0")[0]), bounds(patches(figure, "prism 0")[0])
    middle = [((box[0] + box[2]) / 2.0, (box[1] + box[3]) / 2.0) for box in (frame, prism)]
    away = (middle[1][0] - middle[0][0], middle[0][1] - middle[1][1])
    assert np.array(away) / np.hypot(*away) == pytest.approx((right, up), abs=1e-9)
    half = (frame[2] - frame[0]) / 2.0 if right else (frame[3] - frame[1]) / 2.0
    assert np.hypot(*away) > half  # outside the frame
    assert f"({side} edge)" in " ".join(words(figure, "frame words"))


@pytest.mark.parametrize("picture_mirrored", [True, False])
@pytest.mark.parametrize("turned_deg", [0.0, 25.0])
@pytest.mark.parametrize("layout", ["letter", "phone"])
def test_stars_stand_at_their_pixels(picture_mirrored, turned_deg, layout):
    own = rig(FAST, guide_camera__picture_mirrored=picture_mirrored, guide_camera__turned_deg=turned_deg)
    result = nights.night(rig=own, sky=nights.sky_of(own, stars=200, seed=5), flip_hour=None)
    (night,) = result.targets
    figure = card_of(result, None, layout)
    left, top, right, low = bounds(patches(figure, "guide sensor")[0])
    width_px, height_px = (side * 1000.0 / own.guide_camera.pixel_um for side in (7.4, 5.0))
    expected = {
        (
            round(
                left + (right - left) * (item.u_px / width_px if picture_mirrored else 1.0 - item.u_px / width_px), 4
            ),
            round(low - (low - top) * item.v_px / height_px, 4),
        )
        for item in night.sides[0].check.asked.placements
    }
    found = {(round(x, 4), round(y, 4)) for x, y in (disc.center for disc in patches(figure, "star"))}
    assert found == expected
    corners = {text.get_text(): (box[0] + box[2]) / 2.0 for *box, text in boxes(figure) if text.get_gid() == "corner"}
    assert (corners["u 0, v 0"] < (left + right) / 2.0) == picture_mirrored
    (ring,) = patches(figure, "ring")
    star = next(item for item in night.sides[0].check.asked.placements if item.star_id == night.runs[0].star_id)
    assert (ring.center[1] - low) / (top - low) == pytest.approx(star.v_px / height_px)


def test_the_frame_has_the_cameras_shape():
    wide = drawn("mirrored, prism left, sensor turned", "a4")
    left, top, right, low = bounds(patches(wide, "main frame 0")[0])
    assert (right - left) / (low - top) == pytest.approx(23.5 / 15.7)
    left, top, right, low = bounds(patches(wide, "guide sensor")[0])
    assert (right - left) / (low - top) == pytest.approx(11.2 / 6.3)


def test_brighter_stars_have_larger_dots_and_unusable_ones_are_hollow():
    own = rig(NEWTONIAN, guiding__exposure_s=0.2)
    result = nights.night(rig=own, sky=nights.sky_of(own, stars=200, faintest=14.0), flip_hour=None)
    figure = card_of(result, None, "phone")
    stars = sorted(result.targets[0].sides[0].check.asked.placements, key=lambda item: item.g_mag)
    discs = patches(figure, "star")  # drawn from the brightest to the faintest
    assert len(discs) == len(stars) > 3
    radii = [disc.radius for disc in discs]
    assert radii == sorted(radii, reverse=True)
    assert radii[0] > 2.0 * radii[-1]
    assert [disc.get_facecolor()[0] == 0.0 for disc in discs] == [item.usable for item in stars]
    assert {item.usable for item in stars} == {True, False}
