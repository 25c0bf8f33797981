"""The night's answers against `check`, asked anew moment by moment: the slow, obvious twin."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from support.planned import EVENING, MOUNTS, SITE, TARGET, invented, one
from support.rigs import COMPOUND, rig
from support.stars import sky_around

from guidestar.angles import circular
from guidestar.field.asked import Question
from guidestar.field.check import check
from guidestar.field.geometry import centre_mm
from guidestar.field.light import USUAL_EXPOSURES_S
from guidestar.night.plan import Wanted, plan
from guidestar.rig import Site
from guidestar.sky.place import Place


def checked(result, night, source, moment):
    """What `check` says under the air and sky of a moment."""
    known = result.rig.with_values(
        {"guiding.airmass": moment.airmass, "sky.brightness_mag_arcsec2": moment.sky_v_mag_arcsec2}
    )
    place = Place("", night.target.ra_deg, night.target.dec_deg, "coordinates")
    return check(place, known, source, epoch_year=2026.9)


def turn_since_start(night, moment):
    """How far the camera has turned on the sky since the first window began."""
    if night.turning is not None:
        return moment.parallactic_deg - night.moments[0].parallactic_deg
    return 180.0 if moment.flipped != night.moments[0].flipped else 0.0


def inside(intervals, count=40, margin=1e-6):
    """Angles strewn over the inside of a set."""
    spans = np.array(intervals).reshape(-1, 2)
    if not len(spans):
        return np.empty(0)
    random = np.random.default_rng(3)
    which = random.integers(len(spans), size=count)
    share = random.uniform(0, 1, count)
    return spans[which, 0] + margin + share * (spans[which, 1] - spans[which, 0] - 2 * margin)


@pytest.mark.parametrize("mount", MOUNTS)
def test_what_holds_all_night_holds_at_every_quarter_hour(mount):
    result, night, source = one(mount, stars=150)
    assert night.usable
    for moment in night.moments[::3]:
        answer = checked(result, night, source, moment)
        turn = turn_since_start(night, moment)
        assert circular.contains(answer.usable.angles_deg, inside(night.usable) + turn).all()
        assert circular.contains(answer.usable.sure_angles_deg, inside(night.sure) + turn).all()


@pytest.mark.parametrize("mount", ["german", "fork"])
def test_nothing_that_holds_all_night_is_missing(mount):
    """What every quarter hour's `check` accepts, under the poorer air and sky of both its ends, is in the answer."""
    result, night, source = one(mount, stars=150)
    assert night.usable
    pairs = list(pairwise(night.moments))
    usable, sure = circular.FULL_CIRCLE, circular.FULL_CIRCLE
    for first, second in pairs:
        poorer = {
            "guiding.airmass": max(first.airmass, second.airmass),
            "sky.brightness_mag_arcsec2": min(first.sky_v_mag_arcsec2, second.sky_v_mag_arcsec2),
        }
        place = Place("", *TARGET, "coordinates")
        answer = check(place, result.rig.with_values(poorer), source, epoch_year=2026.9)
        back = -turn_since_start(night, first)
        usable = circular.intersection(usable, circular.turned(answer.usable.angles_deg, back))
        sure = circular.intersection(sure, circular.turned(answer.usable.sure_angles_deg, back))
    assert np.array(night.usable) == pytest.approx(usable, abs=1e-7)
    assert np.array(night.sure).reshape(-1, 2) == pytest.approx(sure.reshape(-1, 2), abs=1e-7)


@pytest.mark.parametrize(
    ("mount", "stars", "faintest"), [("german", 12, 13.0), ("fork", 12, 13.0), ("altaz", 60, 14.5)]
)
def test_the_star_that_is_named_is_there_and_where_none_is_none_is(mount, stars, faintest):
    result, night, source = one(mount, stars=stars, faintest=faintest)
    seen = {True: 0, False: 0}
    for moment in night.moments:
        (run,) = [r for r in night.runs if r.start <= moment.time < r.end] or [None]
        if run is None or min(moment.time - run.start, run.end - moment.time) < timedelta(seconds=90):
            continue
        seen[run.star_id is not None] += 1
        angle = (night.choice.angle_deg + turn_since_start(night, moment)) % 360.0
        answer = checked(result, night, source, moment)
        there = [s.id for s in answer.guide_stars if circular.contains(s.angles_deg, angle)]
        assert (run.star_id in there) if run.star_id else not circular.contains(answer.usable.angles_deg, angle)
        if run.star_id:
            shorter = result.rig.with_values(
                {
                    "guiding.airmass": moment.airmass,
                    "sky.brightness_mag_arcsec2": moment.sky_v_mag_arcsec2,
                    "guiding.exposure_s": run.exposure_s,
                }
            )
            place = Place("", *TARGET, "coordinates")
            at_that = check(place, shorter, source, epoch_year=2026.9)
            (own,) = [s for s in at_that.guide_stars if s.id == run.star_id]
            assert circular.contains(own.angles_deg, angle)
    assert seen[True] > 5


def test_runs_fill_the_windows_without_a_gap_or_an_overlap():
    for mount in MOUNTS:
        _, night, _ = one(mount, stars=40)
        assert night.runs[0].start == night.windows[0].start
        assert night.runs[-1].end == night.windows[-1].end
        assert all(a.end == b.start for a, b in pairwise(night.runs))
        assert sum(run.hours for run in night.runs) == pytest.approx(night.hours, abs=1e-9)


def test_the_flip_is_the_transit_and_the_mount_s_delay():
    _, night, _ = one("german")
    assert night.flip == night.transit
    _, later, _ = one("german", mount__flip_after_min=20.0)
    assert (later.flip - later.transit).total_seconds() == pytest.approx(
        20 * 60 * 15.0 / 15.041067 * 1.0027379, abs=6.0
    )
    assert later.transit == night.transit
    assert [side.side for side in later.sides] == ["before flip", "after flip"]
    assert later.sides[0].end == later.sides[1].start == later.flip
    before, after = later.sides
    assert (after.camera_angle_deg - before.camera_angle_deg) % 360.0 == pytest.approx(180.0)


def test_other_mounts_keep_their_side():
    for mount in ("fork", "altaz"):
        _, night, _ = one(mount)
        assert night.flip is None
        assert [side.side for side in night.sides] == ["all night"]


def test_each_side_s_own_angles_and_its_check():
    result, night, source = one("german", stars=150)
    for side in night.sides:
        assert side.check.asked.angle_deg == pytest.approx(side.camera_angle_deg)
        assert side.hardest.faintest_mag == min(
            m.faintest_mag for m in night.moments if side.start <= m.time <= side.end
        )
        for moment in night.moments[::3]:
            if side.start < moment.time < side.end:
                answer = checked(result, night, source, moment)
                assert circular.contains(answer.usable.angles_deg, inside(side.usable)).all()
                assert circular.contains(answer.usable.sure_angles_deg, inside(side.sure)).all()
    first, second = (np.array(side.usable) for side in night.sides)
    both = circular.intersection(first, circular.turned(second, 180.0))
    assert both == pytest.approx(np.array(night.usable), abs=1e-7)


def test_the_chosen_angle_is_the_middle_of_its_range_and_holds():
    _, night, _ = one("german")
    choice = night.choice
    assert choice.holds in ("sure", "usable")
    held = night.sure if choice.holds == "sure" else night.usable
    edge = choice.margin_deg - 1e-6
    assert circular.holds(held, choice.angle_deg - edge, choice.angle_deg + edge)


def test_an_angle_asked_for_is_judged_and_planned_for():
    _, best, _ = one("german", stars=150)
    within = sum(best.usable[0]) / 2.0
    _, night, _ = one("german", stars=150, asked=within + 360.0)
    assert night.choice.asked
    assert night.choice.angle_deg == pytest.approx(within)
    assert night.choice.holds in ("sure", "usable")
    assert night.runs[0].camera_angle_deg == pytest.approx(within)
    gaps = circular.complement(best.usable)
    middle = float(gaps[0].mean())
    _, poor, _ = one("german", stars=150, asked=middle)
    assert poor.choice.holds in ("partly", "never")
    assert poor.choice.margin_deg == 0.0
    assert poor.guidable_hours < poor.hours


def planned(known, source):
    place = Place("made-up target", *TARGET, "coordinates")
    return plan([Wanted(place, source)], known, SITE, EVENING, epoch_year=2026.9).targets[0]


def at_the_middle(known, position_angles, magnitudes):
    """Stars as far out as the guide field's centre: with the prism at the top they serve at these camera angles."""
    return sky_around(TARGET, known, [centre_mm(known)] * len(magnitudes), position_angles, magnitudes)


def test_where_no_angle_holds_the_one_that_does_longest_is_taken():
    """Two stars a right angle apart: each serves on either side of the flip, none on both."""
    known = rig(COMPOUND)
    night = planned(known, at_the_middle(known, [0.0, 90.0], [9.0, 9.0]))
    assert night.usable == ()
    assert night.choice.holds == "partly"
    assert night.guidable_hours == pytest.approx(max(side.hours for side in night.sides), abs=0.01)
    assert all(side.own_angle_deg is not None for side in night.sides)


@pytest.mark.parametrize(
    ("horizon", "target", "words"),
    [
        (20.0, (100.0, -25.0), "It stays too low: 15° at its highest, and at least 20° are asked."),
        (15.0, (100.0, -25.0), "It stays too low: 14.9° at its highest, and at least 15.0° are asked."),
        (
            ((0.0, 20.0), (90.0, 35.0), (180.0, 15.0)),
            (100.0, -38.0),
            "It stays too low: it comes nearest to your limit at 2°, where at least 15° are asked.",
        ),
    ],
)
def test_what_stays_too_low_says_by_how_much_in_round_figures(horizon, target, words):
    _, night, _ = one(target=target, site=replace(SITE, horizon_deg=horizon), stars=1)
    assert night.no_window == words


def test_no_star_at_all():
    _, night, _ = one("german", stars=2, seed=1, faintest=8.0, guiding__min_stars=2, guiding__exposure_s=0.5)
    assert night.choice.holds == "never"
    assert night.guidable_hours == 0.0
    assert night.star_changes == 0
    assert night.longest_run_hours == 0.0
    assert all(run.star_id is None for run in night.runs)


def test_the_shortest_exposure_that_would_help_is_named():
    known = rig(COMPOUND, mount__kind="fork", guiding__exposure_s=0.5)
    source = at_the_middle(known, [0.0], [12.2])
    (*_, gap) = planned(known, source).runs
    assert (gap.star_id, gap.would_be_id) == (None, "S0")
    place = Place("", *TARGET, "coordinates")
    served = {}
    for exposure in (e for e in USUAL_EXPOSURES_S if e > 0.5):
        longer = known.with_values({"guiding.exposure_s": exposure})
        asked = plan([Wanted(place, source)], longer, SITE, EVENING, epoch_year=2026.9, asked_deg=gap.camera_angle_deg)
        served[exposure] = all(run.star_id for run in asked.targets[0].runs)
    assert served[gap.exposure_s]
    assert not any(held for exposure, held in served.items() if exposure < gap.exposure_s)


@pytest.mark.parametrize("mount", ["german", "altaz"])
def test_how_full_a_star_s_pixel_gets_is_what_check_says_with_that_exposure(mount):
    result, night, source = one(mount, faintest=9.0, guide_camera__full_well_e=500.0)
    served = [run for run in night.runs if run.star_id is not None]
    assert any(run.saturated for run in served)
    for run in served:
        moments = [moment for moment in night.moments if run.start <= moment.time <= run.end]
        found = []
        for moment in moments:
            changes = {"sky.brightness_mag_arcsec2": moment.sky_v_mag_arcsec2, "guiding.airmass": moment.airmass}
            known = result.rig.with_values({**changes, "guiding.exposure_s": run.exposure_s})
            share = (moment.time - run.start) / (run.end - run.start)
            turned = (run.camera_angle_end_deg - run.camera_angle_deg + 180.0) % 360.0 - 180.0
            at = Question(run.camera_angle_deg + share * turned, 0.0)
            answer = check(
                Place("made-up target", *TARGET, "coordinates"), known, source, epoch_year=2026.9, question=at
            )
            found += [item.light.peak_fill for item in answer.asked.placements if item.star_id == run.star_id]
        if found:  # a quarter hour's air is the poorer of its two ends, so within a few per cent
            assert run.peak_fill == pytest.approx(max(found), rel=0.12)


def test_a_fixed_limit_makes_air_and_sky_irrelevant():
    result, night, source = one("german", stars=40, guiding__faintest_mag=11.0)
    place = Place("", *TARGET, "coordinates")
    answer = check(place, result.rig, source, epoch_year=2026.9)
    assert night.usable == pytest.approx(np.array(answer.usable.flip_safe_angles_deg), abs=1e-7)
    assert {moment.faintest_mag for moment in night.moments} == {11.0}
    assert all(run.exposure_s is None for run in night.runs)


def test_reach_falls_with_air_and_moonlight():
    _, night, _ = one("german")
    last, first = night.moments[-1], min(night.moments, key=lambda m: m.airmass)
    assert last.airmass > first.airmass
    assert last.faintest_mag < first.faintest_mag
    assert last.fwhm_arcsec == pytest.approx(3.0 * last.airmass**0.6)
    assert last.extinction_mag == pytest.approx(0.25 * last.airmass)
    dark, no_moon, _ = one("german", evening=date(2026, 11, 9))
    assert dark.dark.moon.illuminated < 0.05
    assert {m.moonlight_mag for m in no_moon.moments} == {0.0}
    assert min(m.moonlight_mag for m in night.moments) > 1.0


def test_an_alt_azimuth_field_turns():
    _, night, _ = one("altaz", stars=150)
    assert night.turning.total_deg > 20.0
    change = night.moments[-1].parallactic_deg - night.moments[0].parallactic_deg
    last = night.runs[-1]
    assert (last.camera_angle_end_deg - night.choice.angle_deg - change + 180.0) % 360.0 - 180.0 == pytest.approx(
        0.0, abs=0.02
    )
    roll = (night.choice.angle_deg - night.moments[0].parallactic_deg) % 360.0
    assert night.choice.roll_deg == pytest.approx(roll, abs=1e-6)
    rate = np.radians(night.turning.fastest_deg_per_hour) / 3600.0
    half_px = np.hypot(11.3, 11.3) / 2 * 1000 / 3.76
    assert rate * half_px * night.turning.exposure_limit_s == pytest.approx(1.0)


def test_through_the_zenith_on_an_alt_azimuth_mount():
    _, night, _ = one("altaz", target=(100.0, 50.1), evening=date(2026, 12, 4), stars=60)
    assert night.turning.fastest_deg_per_hour > 1000.0
    assert any("from the zenith" in note for note in night.notes)
    assert all(run.hours >= 1.0 / 60.0 for run in night.runs if run.star_id)


@pytest.mark.parametrize(
    ("target", "site", "evening", "words"),
    [
        ((148.9, 69.1), Site(latitude_deg=-33.9, longitude_deg=151.2), EVENING, "never rises"),
        ((148.9, 69.1), Site(latitude_deg=78.2, longitude_deg=15.6), date(2026, 6, 21), "does not get dark"),
        ((245.0, 3.0), SITE, date(2026, 12, 1), "only while it is not dark"),
        ((10.0, -30.0), SITE, EVENING, "stays too low"),
    ],
)
def test_why_there_are_no_hours(target, site, evening, words):
    _, night, _ = one("german", target=target, site=site, evening=evening)
    assert words in night.no_window
    assert (night.windows, night.moments, night.runs, night.sides, night.choice) == ((), (), (), (), None)


@pytest.mark.parametrize("target", [(0.0, 90.0), (0.0, 12.3), (359.999, -5.0), (123.0, 50.1), (200.0, 89.7)])
def test_poles_zenith_and_right_ascension_nought(target):
    for mount in ("german", "altaz"):
        _, night, _ = one(mount, target=target)
        assert night.windows
        assert night.choice is not None


def test_a_circumpolar_target_turns_back_below_the_pole():
    _, night, _ = one("german", target=(308.7, 60.2))
    sides = [side.side for side in night.sides]
    assert sides == ["after flip", "before flip"]
    assert any("never sets" in note for note in night.notes)


def test_the_best_of_the_night_comes_first():
    known = rig(COMPOUND)
    places = [(339.267, 34.416), (148.9, 69.1), (83.8, -5.4), (148.9, -69.1), (351.2, 61.6)]
    wanted = [
        Wanted(Place(f"target {i}", *place, "coordinates"), invented(place, known, seed=i), i)
        for i, place in enumerate(places, 1)
    ]
    result = plan(wanted, known, SITE, EVENING, epoch_year=2026.9)
    hours = [(round(t.guidable_hours, 2), round(t.hours, 2)) for t in result.targets]
    assert hours == sorted(hours, reverse=True)
    assert result.targets[-1].target.name == "target 4"
    alone = plan(wanted[1:2], known, SITE, EVENING, epoch_year=2026.9).targets[0]
    (same,) = [t for t in result.targets if t.row == 2]
    assert same.runs == alone.runs
    assert same.usable == alone.usable
