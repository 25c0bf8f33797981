"""The bounds that the searches prove with: no star ever moves farther than they say, and light never rises faster."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st
from support.rigs import COMPOUND, FAST, rig

from guidestar.field import geometry
from guidestar.field.acceptance import acceptance_of
from guidestar.field.light import rig_light
from guidestar.nudge import handing
from guidestar.nudge.framings import framings, looks
from guidestar.sky import plane
from guidestar.stars.source import cone
from guidestar.stars.tycho2 import tycho2


def framings_of(some_rig, place, radius_deg=1.5):
    light = rig_light(some_rig) if some_rig.guiding.faintest_mag is None else None
    field = geometry.guide_field(some_rig, model="geometric" if light is None else "light")
    accepts = acceptance_of(some_rig, field, light)
    table = cone(tycho2(), *place, radius_deg, faintest_mag=None, epoch_year=2026.9)
    return framings(some_rig, field, accepts, table), accepts


@settings(derandomize=True, deadline=None, max_examples=60)
@given(
    dec=st.floats(-90.0, 90.0),
    by_arcmin=st.floats(0.0, 60.0),
    towards=st.floats(0.0, 360.0),
    angle=st.floats(0.0, 360.0),
)
@example(dec=90.0, by_arcmin=0.5, towards=70.0, angle=0.0)
@example(dec=89.99, by_arcmin=1.0, towards=0.0, angle=10.0)
@example(dec=-89.5, by_arcmin=20.0, towards=130.0, angle=200.0)
def test_no_star_moves_farther_than_the_bound(dec, by_arcmin, towards, angle):
    some, _ = framings_of(rig(COMPOUND, guiding__faintest_mag=12.0), (77.0, dec))
    radius = np.tan(np.radians(by_arcmin / 60))
    ra, moved_dec = plane.from_plane(
        radius * np.sin(np.radians(towards)), radius * np.cos(np.radians(towards)), 77.0, dec
    )
    here = some.places(np.array([77.0]), np.array([dec]), np.array([angle]))
    there = some.places(np.array([float(ra)]), np.array([float(moved_dec)]), np.array([angle]))
    bound = some.displaced_mm(*here, np.array([dec]), np.array([radius]), True)
    assert np.all(np.hypot(there[0] - here[0], there[1] - here[1]) <= bound + 1e-9)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(step=st.floats(0.01, 1.0), towards=st.floats(0.0, 360.0))
def test_light_never_changes_faster_than_the_bound(step, towards):
    light = rig_light(rig(FAST))
    x, y = (axis.ravel() for axis in np.meshgrid(np.linspace(-6, 6, 40), np.linspace(12, 26, 40)))
    dx, dy = step * np.sin(np.radians(towards)), step * np.cos(np.radians(towards))
    change = np.abs(light.transmission(x + dx, y + dy) - light.transmission(x, y))
    assert np.all(change <= math.sqrt(2.0) * light.steepest_per_mm * step + 1e-9)


def test_with_slack_nothing_near_is_overlooked_and_without_nothing_near_is_lost():
    """Of framings within a box: enough stars anywhere in it means hopeful; enough with the bound to spare means all."""
    some_rig = rig(FAST)
    some, accepts = framings_of(some_rig, (290.0, 11.0))
    rng = np.random.default_rng(3)
    seen = looks(1.0, accepts.accuracy_mm, 3, 3)
    tried, dropped, kept = 300, 0, 0
    for _ in range(tried):
        ra, dec, angle = rng.uniform(289.5, 290.5), rng.uniform(10.5, 11.5), rng.uniform(0, 360)
        half, turn = 10 ** rng.uniform(-6, -3.5), 10 ** rng.uniform(-4, -1.5)
        middle = some.places(np.array([ra]), np.array([dec]), np.array([angle]))
        slack = some.displaced_mm(*middle, np.array([dec]), np.array([half]), True)
        hopeful = some.enough(*middle, slack, seen, np.array([turn]))[0]
        free = -slack - np.where(np.isfinite(middle[0]), np.hypot(*middle), 0.0) * turn
        all_over = some.enough(*middle, free, seen)[0]
        spread = rng.uniform(-1, 1, (3, 40))
        spread[:2] /= np.maximum(np.hypot(*spread[:2]), 1.0)
        ras, decs = plane.from_plane(half * spread[0], half * spread[1], ra, dec)
        x, y = some.places(ras, decs, angle + np.degrees(turn) * spread[2])
        inside = some.enough(x, y, np.zeros(x.shape), seen)
        assert hopeful or not np.any(inside)
        assert not all_over or np.all(inside)
        dropped, kept = dropped + (not hopeful), kept + bool(all_over)
    assert dropped > 20
    assert kept > 20


def test_sure_by_the_moves_of_the_prism_is_what_check_says():
    from guidestar.field.asked import Question, answer
    from guidestar.field.check import sweep
    from guidestar.field.nearby import stars_around

    some_rig = rig(COMPOUND)
    place = (339.27, 34.42)
    some, accepts = framings_of(some_rig, place)
    outer = geometry.guide_field(some_rig, model="light").outer_mm + accepts.accuracy_mm
    nearby = stars_around(tycho2(), *place, some_rig, outer, 2026.9)
    swept = sweep(some_rig, nearby, accepts, accepts.light)
    angles = np.random.default_rng(5).uniform(0, 360, 400)
    x, y = some.places(np.full(400, place[0]), np.full(400, place[1]), angles)
    found = handing.sure(some, x, y, accepts.accuracy_mm, handing.no_play(x))
    assert [answer(swept, Question(a, 0.0)).sure for a in angles] == found.tolist()
    assert 50 < np.count_nonzero(found) < 350
