"""Mosaics: the panels' places by astropy's WCS, and their angles against what `check` says of each panel."""

from __future__ import annotations

import numpy as np
import pytest
from support.rigs import COMPOUND, NEWTONIAN, rig
from support.wcs_twin import picture_wcs

from guidestar.angles import circular
from guidestar.errors import InputError
from guidestar.field.asked import Question
from guidestar.field.check import check
from guidestar.nudge.grid import grid_of
from guidestar.nudge.mosaic import MosaicQuestion, mosaic
from guidestar.nudge.shift import ground_of
from guidestar.sky import plane
from guidestar.sky.place import Place
from guidestar.stars.tycho2 import tycho2

EPOCH = 2026.9
NEAR_AN_END_DEG = 0.02


def asked(place, some_rig, angle, tolerance=0.0):
    target = Place("here", float(place[0]), float(place[1]), "coordinates")
    return check(target, some_rig, tycho2(), epoch_year=EPOCH, question=Question(float(angle), tolerance))


def made(some_rig, place, panels, overlap=10.0, **question):
    values = {"angle_deg": None, "tolerance_deg": 1.0, "grid_angle_deg": None, "nudge_limit_arcmin": None} | question
    grid = grid_of(some_rig, *place, panels, overlap)
    ground = ground_of(some_rig, tycho2(), EPOCH)
    return mosaic(Place("m", *place, "c"), ground, grid, MosaicQuestion(**values)), grid


def centres(grid, angle):
    right, up = grid.offsets_mm().T
    return list(zip(*grid.sky(right, up, np.full(len(right), angle)), strict=True))


@pytest.mark.parametrize("mirrored", [False, True])
def test_panels_stand_where_astropys_wcs_puts_them(mirrored):
    some_rig = rig(COMPOUND, camera__mirrored=mirrored, camera__width_mm=20.0)
    grid = grid_of(some_rig, 83.0, -5.0, "3x2", 25.0)
    wcs = picture_wcs(83.0, -5.0, 35.0, 2000.0, mirrored)
    ra, dec = np.array(centres(grid, 35.0)).T
    right, up = wcs.wcs_world2pix(ra, dec, 0)
    assert right + 1 == pytest.approx([-15, 0, 15, -15, 0, 15], abs=1e-6)
    assert up + 1 == pytest.approx(np.repeat([4.2375, -4.2375], 3), abs=1e-6)


def test_panels_lean_as_their_meridians_do():
    """Two panels at one declination δ, Δα apart: close to Δα·sin δ, half of it each way.

    North of the equator meridians close in upwards: the eastern panel's north, and so its picture, leans westward.
    """
    some_rig = rig(COMPOUND)
    grid = grid_of(some_rig, 50.0, 70.0, "2x1", 0.0)
    first, second = centres(grid, 0.0)
    apart = ((second[0] - first[0] + 180) % 360 - 180) * np.sin(np.radians(first[1]))
    leaning = grid.leaning_deg(0.0)
    assert first[0] > second[0]  # with north up the first, the left one, is the eastern
    assert leaning[1] - leaning[0] == pytest.approx(-apart, rel=1e-4)
    assert leaning[0] < 0 < leaning[1]
    assert leaning[0] == pytest.approx(-leaning[1])


CASES = {
    "two panels, light": (rig(COMPOUND), (290.0, 11.0), "2x1"),
    "mirrored, three panels": (rig(NEWTONIAN, guiding__faintest_mag=10.0), (290.0, 11.0), "3x1"),
    "near the pole": (rig(NEWTONIAN, guiding__faintest_mag=10.5), (0.0, 88.0), "2x2"),
    "two stars at once": (
        rig(NEWTONIAN, guiding__faintest_mag=11.0, guiding__min_stars=2, prism__offset_accuracy_mm=0.5),
        (290.0, 11.0),
        "2x1",
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_its_angles_are_the_intersection_of_the_panels_own_answers(name):
    some_rig, place, panels = CASES[name]
    found, grid = made(some_rig, place, panels)
    ends = np.ravel(found.usable_angles_deg + found.sure_angles_deg)
    beside = np.concatenate((ends + 1.05 * NEAR_AN_END_DEG, ends - 1.05 * NEAR_AN_END_DEG))
    rng = np.random.default_rng(11)
    angles = np.concatenate((rng.uniform(0, 360, 15), rng.choice(beside, 25)))
    yes, no = 0, 0
    ground = ground_of(some_rig, tycho2(), EPOCH)  # asks as `check` does, without what else that finds out
    for angle in np.mod(angles, 360.0):
        panel_answers = [ground.asked(*map(float, c), Question(angle, 0.0)) for c in centres(grid, angle)]
        for kind, intervals in (("usable", found.usable_angles_deg), ("sure", found.sure_angles_deg)):
            edges = np.ravel(intervals)
            if len(edges) and np.min(np.abs((edges - angle + 180) % 360 - 180)) < NEAR_AN_END_DEG:
                continue
            every = all(getattr(item, kind) for item in panel_answers)
            assert bool(circular.contains(intervals, angle)) == every, (angle, kind)
            yes, no = yes + every, no + (not every)
    assert yes > 5
    assert no > 5


def test_a_fixed_grids_angles_are_the_exact_intersection():
    some_rig = rig(NEWTONIAN, guiding__faintest_mag=10.0)
    found, grid = made(some_rig, (120.0, 40.0), "2x2", grid_angle_deg=25.0)
    usable, sure = circular.FULL_CIRCLE, circular.FULL_CIRCLE
    for centre in centres(grid, 25.0):
        own = asked(centre, some_rig, 0.0).usable
        usable = circular.intersection(usable, own.angles_deg)
        sure = circular.intersection(sure, own.sure_angles_deg)
    assert found.usable_angles_deg == circular.as_tuples(usable)
    assert found.sure_angles_deg == circular.as_tuples(sure)


@pytest.mark.parametrize("question", [{}, {"angle_deg": 77.0}, {"grid_angle_deg": 10.0}])
def test_the_panels_are_judged_as_check_judges_them_and_nudged_so_that_they_hold(question):
    some_rig = rig(COMPOUND)
    found, grid = made(some_rig, (202.47, 47.2), "3x2", nudge_limit_arcmin=5.0, **question)
    grid_angle = question.get("grid_angle_deg", found.angle_deg)
    assert found.asked_for == ("angle_deg" in question)
    nudged = 0
    for panel, centre in zip(found.panels, centres(grid, grid_angle), strict=True):
        assert (panel.ra_deg, panel.dec_deg) == pytest.approx(centre)
        there = asked(centre, some_rig, found.angle_deg, 1.0).asked
        assert (there.usable, there.sure, there.star_ids) == (
            panel.asked.usable,
            panel.asked.sure,
            panel.asked.star_ids,
        )
        assert (panel.nudge is None) == there.usable
        if panel.nudge is not None and panel.nudge.best is not None:
            best = panel.nudge.best
            assert best.shift_arcmin <= 5.0
            assert best.angle_deg == pytest.approx(found.angle_deg)
            assert asked((best.ra_deg, best.dec_deg), some_rig, best.angle_deg, 1.0).asked.usable
            nudged += 1
    assert [(panel.row, panel.column) for panel in found.panels[:4]] == [(1, 1), (1, 2), (1, 3), (2, 1)]
    assert nudged > 0 or not found.asked_for


def test_the_best_angle_has_the_most_panels():
    some_rig = rig(COMPOUND)
    found, grid = made(some_rig, (202.47, 47.2), "2x2", tolerance_deg=0.0)
    ground = ground_of(some_rig, tycho2(), EPOCH)
    for angle in np.arange(0.0, 360.0, 7.0):
        answers = [ground.asked(*map(float, centre), Question(angle, 0.0)) for centre in centres(grid, angle)]
        assert sum(item.usable for item in answers) <= found.usable_panels


def test_half_a_turn_leaves_the_grid_as_it_is():
    some_rig = rig(NEWTONIAN, guiding__faintest_mag=10.5)
    found, grid = made(some_rig, (290.0, 11.0), "2x1")
    safe = found.flip_safe_angles_deg
    assert safe
    assert circular.as_tuples(circular.turned(safe, 180.0)) == pytest.approx(np.array(safe))
    one, other = centres(grid, 40.0), centres(grid, 220.0)
    assert plane.separation_deg(*one[0], *other[1]) < 1e-9
    fork, _ = made(rig(NEWTONIAN, mount__kind="fork", guiding__faintest_mag=10.5), (290.0, 11.0), "1x1")
    assert fork.flip_safe_angles_deg is None


def test_one_panel_is_the_check_itself():
    some_rig = rig(COMPOUND)
    found, _ = made(some_rig, (339.27, 34.42), "1x1")
    own = asked((339.27, 34.42), some_rig, 0.0).usable
    assert np.array(found.usable_angles_deg) == pytest.approx(np.array(own.angles_deg), abs=1e-4)
    assert np.array(found.sure_angles_deg) == pytest.approx(np.array(own.sure_angles_deg), abs=1e-4)


def test_where_no_panel_has_a_star_nothing_is_promised():
    found, _ = made(rig(COMPOUND, guiding__faintest_mag=1.0), (202.47, 47.2), "2x1")
    assert (found.usable_angles_deg, found.margin_deg, found.usable_panels) == ((), None, 0)


def test_near_the_pole_gaps_are_foreseen():
    some_rig = rig(NEWTONIAN, guiding__faintest_mag=9.0)
    assert made(some_rig, (0.0, 89.0), "2x2", overlap=5.0)[0].gaps
    assert not made(some_rig, (0.0, 20.0), "2x2", overlap=5.0)[0].gaps


@pytest.mark.parametrize(
    ("panels", "overlap", "says"),
    [
        ("3by2", 10, '--panels "3by2": give columns and rows'),
        ("", 10, '--panels ""'),
        ("3x", 10, '--panels "3x"'),
        ("0x2", 10, "--panels 0x2: a mosaic has at least one column"),
        ("11x10", 10, "110 panels"),
        ("2x2", 100, "--overlap 100"),
        ("2x2", -1, "--overlap -1"),
        ("2x2", float("nan"), "--overlap nan"),
    ],
)
def test_a_grid_that_is_none(panels, overlap, says):
    with pytest.raises(InputError) as caught:
        grid_of(rig(COMPOUND), 10.0, 10.0, panels, overlap)
    assert says in str(caught.value)


def test_a_mosaic_too_wide_for_a_plane():
    lens = rig(COMPOUND | {"telescope": {"focal_length_mm": 50.0, "aperture_mm": 25.0}}, prism__ahead_mm=20.0)
    with pytest.raises(InputError, match="plan it in parts"):
        grid_of(lens, 10.0, 10.0, "10x10", 0.0)
