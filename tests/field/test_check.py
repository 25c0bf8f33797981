"""What `check` promises whatever the stars: invariants, rankings, hints. All stars here are invented."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.rigs import COMPOUND, NEWTONIAN, rig
from support.stars import sky_around

from guidestar.angles import circular
from guidestar.errors import InputError
from guidestar.field.asked import Question
from guidestar.field.check import check, check_at_shortest_exposure
from guidestar.field.light import USUAL_EXPOSURES_S
from guidestar.sky.place import Place
from guidestar.stars.flags import StarFlag

HERE = (80.0, 20.0)
TARGET = Place("somewhere", *HERE, "coordinates")

skies = st.lists(
    st.tuples(st.floats(10.0, 20.0), st.floats(0.0, 359.99), st.floats(6.0, 12.0)), min_size=0, max_size=12
).map(lambda stars: np.array(stars, dtype=float).reshape(-1, 3))
quiet = settings(derandomize=True, deadline=None, max_examples=60)


def answer(camera, stars, question=None, **more):
    sky = sky_around(HERE, camera, stars[:, 0], stars[:, 1], stars[:, 2], **more)
    return check(TARGET, camera, sky, epoch_year=2026.9, question=question)


def same(first, second, tolerance=1e-4):
    """Two sets of angles agree up to rounding (the sphere and back moves a star by some 1e-10 mm)."""
    apart = circular.total_deg(circular.difference(first, second)) + circular.total_deg(
        circular.difference(second, first)
    )
    return apart < tolerance


@given(skies, st.floats(0, 359))
@quiet
def test_turning_the_sky_turns_the_answer(stars, by):
    turned = stars + np.array([0, by, 0])
    first, second = answer(rig(COMPOUND), stars).usable, answer(rig(COMPOUND), turned).usable
    assert same(circular.turned(first.angles_deg, by), second.angles_deg)
    assert same(circular.turned(first.sure_angles_deg, by), second.sure_angles_deg)


@given(skies, st.floats(0, 359))
@quiet
def test_moving_the_prism_to_another_side_turns_the_answer_back(stars, side):
    first = answer(rig(COMPOUND), stars).usable
    second = answer(rig(COMPOUND, prism__side_deg=side), stars).usable
    assert same(circular.turned(first.angles_deg, -side), second.angles_deg)


@given(skies)
@quiet
def test_mirroring_the_picture_mirrors_the_answer_about_the_sky(stars):
    # A mirrored camera on a mirrored sky (PA → −PA) sees what it saw: its angles change sign with the sky's.
    camera = rig(COMPOUND, prism__side_deg=70.0, guide_camera__turned_deg=25.0)
    other = rig(COMPOUND, prism__side_deg=70.0, guide_camera__turned_deg=25.0, camera__mirrored=True)
    sky = stars * np.array([1, -1, 1])
    first, second = answer(camera, stars).usable, answer(other, sky).usable
    assert same(circular.mirrored(first.angles_deg), second.angles_deg)
    assert same(circular.mirrored(first.sure_angles_deg), second.sure_angles_deg)


@given(skies, st.floats(6, 12), st.floats(0, 3))
@quiet
def test_a_brighter_limit_never_adds_angles(stars, limit, less):
    deep = answer(rig(COMPOUND, guiding__faintest_mag=limit), stars).usable
    shallow = answer(rig(COMPOUND, guiding__faintest_mag=max(limit - less, 0)), stars).usable
    assert circular.total_deg(circular.difference(shallow.angles_deg, deep.angles_deg)) < 1e-6
    assert circular.total_deg(circular.difference(shallow.sure_angles_deg, deep.sure_angles_deg)) < 1e-6


@given(skies, st.integers(1, 3))
@quiet
def test_more_stars_wanted_never_adds_angles(stars, count):
    few = answer(rig(COMPOUND, guiding__min_stars=count), stars).usable
    more = answer(rig(COMPOUND, guiding__min_stars=count + 1), stars).usable
    assert circular.total_deg(circular.difference(more.angles_deg, few.angles_deg)) < 1e-6


@given(skies)
@quiet
def test_the_parts_of_an_answer_agree(stars):
    result = answer(rig(COMPOUND), stars)
    usable = result.usable
    assert usable.fraction == pytest.approx(circular.total_deg(usable.angles_deg) / 360)
    assert circular.total_deg(circular.difference(usable.sure_angles_deg, usable.angles_deg)) < 1e-6
    both = circular.intersection(usable.angles_deg, circular.turned(usable.angles_deg, 180))
    assert same(both, usable.flip_safe_angles_deg)
    united = [arc for star in result.guide_stars for arc in star.angles_deg]
    assert same(circular.at_least(united), usable.angles_deg)
    magnitudes = [star.g_mag for star in result.guide_stars]
    assert magnitudes == sorted(magnitudes)
    assert (result.best is None) == (usable.fraction == 0)
    if result.best is not None and usable.fraction < 1:
        widths = [end - start for start, end in usable.angles_deg]
        assert result.best.margin_deg == pytest.approx(max(widths) / 2)
        assert circular.holds(usable.angles_deg, result.best.angle_deg - result.best.margin_deg + 1e-9,
                              result.best.angle_deg + result.best.margin_deg - 1e-9)  # fmt: skip
        on_chip = {item.star_id for item in result.best.placements if item.usable}
        assert on_chip == set(result.best.star_ids)


def test_empty_sky():
    result = answer(rig(COMPOUND), np.empty((0, 3)))
    assert result.usable.fraction == 0
    assert result.usable.angles_deg == result.usable.sure_angles_deg == result.usable.flip_safe_angles_deg == ()
    assert result.best is result.best_sure is result.best_flip_safe is None
    assert result.guide_stars == result.hints == ()
    assert result.stars.candidates == 0


def test_full_circle_has_a_margin_of_half_a_turn_and_names_the_brightest_star():
    stars = np.array([[15.3, pa, 9.0 if pa else 7.0] for pa in range(0, 360, 15)], dtype=float)
    result = answer(rig(COMPOUND), stars)
    assert result.usable.angles_deg == ((0.0, 360.0),)
    assert result.best.margin_deg == 180.0
    assert result.best.star_ids[0] == "S0"
    assert result.best.angle_deg == pytest.approx(0.0, abs=1e-6)
    assert result.usable.flip_safe_angles_deg == ((0.0, 360.0),)


def test_a_flip_safe_setting_names_the_stars_of_both_sides():
    stars = np.array([[15.3, 10.0, 9.0], [15.3, 190.0, 10.0], [15.3, 100.0, 8.0]])
    result = answer(rig(COMPOUND, guiding__faintest_mag=11.0), stars)
    best = result.best_flip_safe
    after = answer(rig(COMPOUND, guiding__faintest_mag=11.0), stars, Question(best.angle_deg + 180.0, 0.0))
    assert {best.star_ids, best.twin_star_ids} == {("S0",), ("S1",)}
    assert best.twin_star_ids == after.asked.star_ids


@pytest.mark.parametrize(("kind", "flips"), [("german", True), ("fork", False), ("altaz", False)])
def test_only_a_german_mount_flips(kind, flips):
    stars = np.array([[15.3, 10.0, 9.0]])
    result = answer(rig(COMPOUND, mount__kind=kind), stars, Question(10.0, 1.0))
    assert (result.usable.flip_safe_angles_deg is not None) == flips
    assert (result.ranges[0].flip_safe is not None) == flips
    assert (result.asked.twin_usable is not None) == flips
    assert result.asked.usable


def test_a_double_star_ranks_after_a_clean_fainter_one():
    stars = np.array([[15.3, 10.0, 8.0], [15.3, 11.0, 9.0]])
    result = answer(rig(COMPOUND), stars, Question(10.0, 0.0), flags=np.array([int(StarFlag.DOUBLE), 0]))
    assert result.asked.star_ids == ("S1", "S0")
    assert [star.id for star in result.guide_stars] == ["S0", "S1"]
    assert "double" in result.guide_stars[0].flags


def test_tolerance_must_fit_into_the_range():
    stars = np.array([[15.3, 10.0, 8.0]])
    (start, end), *_ = answer(rig(COMPOUND), stars).usable.angles_deg
    middle, half = (start + end) / 2, (end - start) / 2
    assert answer(rig(COMPOUND), stars, Question(middle, half - 0.01)).asked.usable
    assert not answer(rig(COMPOUND), stars, Question(middle, half + 0.01)).asked.usable
    assert answer(rig(COMPOUND), stars, Question(middle - 360, 1.0)).asked.usable


@pytest.mark.parametrize("mirrored", [False, True])
def test_any_side_says_what_moving_the_prism_would_find(mirrored):
    camera = rig(NEWTONIAN, camera__mirrored=mirrored)
    stars = np.array([[18.7, 40.0, 9.0]])
    result = answer(camera, stars, Question(40.0, 1.0, any_side=True))
    for side in result.asked.sides:
        moved = rig(NEWTONIAN, camera__mirrored=mirrored, prism__side=side.side)
        alone = answer(moved, stars, Question(40.0, 1.0)).asked
        assert (side.usable, side.sure, side.star_ids) == (alone.usable, alone.sure, alone.star_ids)
    assert sum(side.usable for side in result.asked.sides) == 1


def test_hints_bring_the_star_in_when_followed():
    camera = rig(COMPOUND, guiding__faintest_mag=11.0)
    stars = np.array([[19.0, 33.0, 8.0], [15.3, 200.0, 11.7]])
    result = answer(camera, stars)
    hints = {hint.kind: hint for hint in result.hints}
    assert set(hints) == {"fainter", "offset", "shift"}
    assert hints["fainter"].star_id == "S1"
    assert hints["fainter"].amount == 11.7
    deeper = answer(rig(COMPOUND, guiding__faintest_mag=11.7), stars)
    assert circular.total_deg(deeper.usable.angles_deg) == pytest.approx(hints["fainter"].width_deg)
    moved = answer(rig(COMPOUND, guiding__faintest_mag=11.0, prism__offset_mm=14.0 + hints["offset"].amount), stars)
    assert hints["offset"].star_id == "S0"
    assert circular.total_deg(moved.usable.angles_deg) == pytest.approx(hints["offset"].width_deg)
    assert moved.usable.sure_fraction > 0
    assert followed_shift(camera, stars, hints["shift"]).usable.angles_deg


def followed_shift(camera, stars, hint):
    """Point the telescope away from the target as the hint says, with the same stars."""
    sky = sky_around(HERE, camera, stars[:, 0], stars[:, 1], stars[:, 2])
    theta, away = np.radians(hint.direction_deg), np.radians(hint.amount / 60)
    from guidestar.sky import plane

    ra, dec = plane.from_plane(np.tan(away) * np.sin(theta), np.tan(away) * np.cos(theta), *HERE)
    return check(Place("shifted", float(ra), float(dec), "coordinates"), camera, sky, epoch_year=2026.9)


@pytest.mark.parametrize(
    ("count", "seed", "kinds"),
    [
        (2, 0, {"offset"}),
        (2, 3, set()),
        (2, 8, {"fewer", "fainter", "offset"}),
        (3, 1, {"fewer", "fainter", "offset"}),
        (3, 6, {"fewer", "fainter"}),
        (3, 7, {"fewer"}),
    ],
)
def test_hints_bring_as_many_stars_as_are_wanted_at_once(count, seed, kinds):
    rng = np.random.default_rng(seed)
    stars = np.column_stack((rng.uniform(11.5, 19.5, 6), rng.uniform(0, 60, 6), rng.uniform(9.0, 12.5, 6)))
    want = {"guiding__min_stars": count, "guiding__faintest_mag": 10.2}
    camera = rig(COMPOUND, **want)
    result = answer(camera, stars)
    assert result.usable.fraction == 0
    hints = {hint.kind: hint for hint in result.hints}
    assert set(hints) == kinds
    for kind, hint in hints.items():
        changes = {
            "fainter": {"guiding__faintest_mag": hint.amount},
            "offset": {"prism__offset_mm": 14.0 + hint.amount},
            "fewer": {"guiding__min_stars": round(hint.amount)},
        }[kind]
        followed = answer(rig(COMPOUND, **(want | changes)), stars)
        assert circular.contains(np.array(followed.usable.angles_deg), hint.angle_deg)
        names = {hint.star_id, *(star_id for star_id, _ in hint.others)}
        assert len(names) == (hint.amount if kind == "fewer" else count)
        assert names <= {star.id for star in followed.guide_stars}
        if kind == "offset":
            widest = max(end - start for start, end in followed.usable.angles_deg)
            assert widest >= 2 * camera.guiding.rotation_accuracy_deg
        if kind == "fewer":
            assert circular.total_deg(followed.usable.angles_deg) == pytest.approx(hint.width_deg)
            more = answer(rig(COMPOUND, **(want | {"guiding__min_stars": round(hint.amount) + 1})), stars)
            assert more.usable.fraction == 0


def test_a_bright_star_alone_brings_no_hint_where_two_are_wanted():
    stars = np.array([[15.3, 33.0, 9.0]])
    (only,) = answer(rig(COMPOUND, guiding__min_stars=2), stars).hints
    assert (only.kind, only.amount, only.star_id) == ("fewer", 1, "S0")
    pair = np.array([[15.3, 33.0, 9.0], [15.3, 34.0, 15.4]])
    hints = {hint.kind: hint for hint in answer(rig(COMPOUND, guiding__min_stars=2), pair).hints}
    longer = hints["exposure"]
    assert {longer.star_id, *(star_id for star_id, _ in longer.others)} == {"S0", "S1"}
    assert answer(rig(COMPOUND, guiding__min_stars=2, guiding__exposure_s=longer.amount), pair).usable.fraction > 0


@pytest.mark.parametrize("limit", [None, 11.0])
def test_a_prism_is_never_advised_out_of_the_useful_light(limit):
    more = {} if limit is None else {"guiding__faintest_mag": limit}
    stars = np.array([[19.0, 33.0, 8.0]])
    wide, narrow = (
        {hint.kind: hint for hint in answer(rig(COMPOUND, telescope__image_circle_mm=circle, **more), stars).hints}
        for circle in (40.0, 35.0)
    )
    assert wide["offset"].amount > 0
    assert "offset" not in narrow
    followed = rig(COMPOUND, telescope__image_circle_mm=40.0, prism__offset_mm=14.0 + wide["offset"].amount, **more)
    assert not followed.warnings


def test_a_prism_is_never_advised_into_the_main_light():
    # Only a star far inside the ring: the least clear offset of this rig is 12.7 mm, so moving in is no remedy.
    stars = np.array([[10.3, 33.0, 8.0]])
    kinds = {hint.kind for hint in answer(rig(COMPOUND), stars).hints}
    assert "offset" not in kinds
    shift = next(hint for hint in answer(rig(COMPOUND), stars).hints if hint.kind == "shift")
    assert shift.direction_deg == pytest.approx(213.0)
    assert followed_shift(rig(COMPOUND), stars, shift).usable.angles_deg


def test_a_longer_exposure_is_advised_where_it_helps():
    camera = rig(COMPOUND, guiding__exposure_s=0.5)
    stars = np.array([[15.3, 33.0, 14.2], [15.3, 100.0, 16.9]])
    result = answer(camera, stars)
    assert result.usable.fraction == 0
    hint = next(hint for hint in result.hints if hint.kind == "exposure")
    assert hint.star_id == "S0"
    longer = answer(rig(COMPOUND, guiding__exposure_s=hint.amount), stars)
    assert circular.total_deg(longer.usable.angles_deg) == pytest.approx(hint.width_deg)
    shorter = [exposure for exposure in USUAL_EXPOSURES_S if exposure < hint.amount]
    assert answer(rig(COMPOUND, guiding__exposure_s=shorter[-1]), stars).usable.fraction == 0


def test_the_shortest_exposure_for_an_angle():
    stars = np.array([[15.3, 33.0, 14.2], [15.3, 100.0, 12.0]])
    sky = sky_around(HERE, rig(COMPOUND), stars[:, 0], stars[:, 1], stars[:, 2])
    anywhere = check_at_shortest_exposure(TARGET, rig(COMPOUND), sky, epoch_year=2026.9)
    assert (anywhere.exposure_s, anywhere.exposure_chosen) == (0.5, True)
    there = check_at_shortest_exposure(TARGET, rig(COMPOUND), sky, epoch_year=2026.9, question=Question(33.0, 1.0))
    assert there.exposure_s > 0.5
    assert there.asked.usable
    assert not there.warnings
    never = check_at_shortest_exposure(TARGET, rig(COMPOUND), sky, epoch_year=2026.9, question=Question(200.0, 1.0))
    assert never.exposure_s == USUAL_EXPOSURES_S[-1]
    assert any("200" in warning for warning in never.warnings)


@given(skies, st.floats(0.3, 1.0))
@quiet
def test_less_light_never_adds_angles(stars, transmission):
    faint = stars + np.array([0, 0, 3.5])
    clear = answer(rig(COMPOUND), faint).usable
    dull = answer(rig(COMPOUND, telescope__transmission=0.85 * transmission), faint).usable
    assert circular.total_deg(circular.difference(dull.angles_deg, clear.angles_deg)) < 1e-6
    assert circular.total_deg(circular.difference(dull.sure_angles_deg, clear.sure_angles_deg)) < 1e-4


def test_no_light_at_all_is_an_error_that_says_what_would_help():
    dark = rig(COMPOUND, telescope__image_circle_mm=10.0)
    with pytest.raises(InputError, match=r"image circle ends at 5 mm .* offset of 4\.6 mm"):
        answer(dark, np.empty((0, 3)))
    # f/2 with half the aperture obstructed: 80 mm ahead the beam's dark middle is 20 mm wide
    hole = rig(
        COMPOUND,
        telescope__focal_length_mm=400.0,
        telescope__central_obstruction_mm=100.0,
        prism__ahead_mm=80.0,
        prism__width_mm=4.0,
        prism__height_mm=4.0,
        guide_camera__width_mm=3.0,
        guide_camera__height_mm=3.0,
    )
    with pytest.raises(InputError, match=r"dark middle 20\.0 mm wide"):
        answer(hole, np.empty((0, 3)))


def test_a_limit_beyond_the_catalogue_is_answered_with_a_warning():
    stars = np.array([[15.3, 33.0, 8.0]])
    result = answer(rig(COMPOUND, guiding__faintest_mag=16.0), stars, complete_to_mag=10.8)
    assert len(result.guide_stars) == 1
    assert any("16" in text and "10.8" in text for text in result.warnings)
    assert not answer(rig(COMPOUND), stars, complete_to_mag=10.8).warnings
