"""The nudge against brute force, against `check` at the shifted centre, at the poles and over long shifts.

The grid of shifts is 0.05′; its framings are sifted by a slow twin that asks rectangles one by one, and the nearest
that passes is confirmed by `check` itself.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from support.places import PLACES
from support.rigs import COMPOUND, NEWTONIAN, REFRACTOR, rig
from support.stars import MadeUpSky
from support.wcs_twin import distances, picture_wcs, rig_frame

from guidestar.field.asked import Question
from guidestar.field.check import check
from guidestar.field.light import rig_light
from guidestar.nudge.shift import in_picture, nudge
from guidestar.nudge.wish import Wish, furthest_arcmin, side_arcmin
from guidestar.sky import plane
from guidestar.sky.place import Place
from guidestar.stars.tycho2 import tycho2

EPOCH = 2026.9
GRID_ARCMIN = 0.05
NEVER_LONGER_ARCMIN = 0.005
"""0.001 mm of accuracy and 0.1″ kept free, at 2000 mm: 0.2″ together."""


def asked(place, some_rig, source, angle, tolerance=1.0):
    """What `check` says of one framing: usable, sure."""
    target = Place("here", float(place[0]), float(place[1]), "coordinates")
    return check(target, some_rig, source, epoch_year=EPOCH, question=Question(angle, tolerance))


def sky(place, focal_mm, places_mm, g_mag):
    """Stars at (east, north) mm in the focal plane about a place."""
    places_mm = np.asarray(places_mm, float)
    ra, dec = plane.from_plane(places_mm[:, 0] / focal_mm, places_mm[:, 1] / focal_mm, *place)
    return MadeUpSky(np.atleast_1d(ra), np.atleast_1d(dec), np.full(len(places_mm), g_mag))


def shifted(place, shift_arcmin, direction_deg):
    radius = np.tan(np.radians(np.asarray(shift_arcmin) / 60))
    turn = np.radians(direction_deg)
    return plane.from_plane(radius * np.sin(turn), radius * np.cos(turn), *place)


def looked_at(some_rig, centres, source, angle, kind, tolerance=1.0):
    """The slow twin, on many centres at once: rectangles asked one by one at 9 turns and 21 moves of the prism."""
    xi, eta = plane.to_plane(source.ra_deg, source.dec_deg, centres[0][:, None], centres[1][:, None])
    focal, sign = some_rig.telescope.focal_length_mm, -1 if some_rig.camera.mirrored else 1
    accuracy = some_rig.prism.offset_accuracy_mm / (1 - some_rig.prism.ahead_mm / some_rig.telescope.exit_pupil_mm)
    light = None if some_rig.guiding.faintest_mag else rig_light(some_rig)
    good = np.ones(len(centres[0]), bool)
    for turn in np.linspace(-tolerance, tolerance, 9):
        psi = np.radians(angle + turn + sign * some_rig.prism.side_deg)
        x = sign * focal * (xi * np.cos(psi) - eta * np.sin(psi))
        y = focal * (xi * np.sin(psi) + eta * np.cos(psi))
        inside, slope = distances(some_rig, x, y)
        if light is not None:
            inside, slope = inside[:4], slope[:4]  # the prism's edge acts through the light alone
            needed = light.needed_transmission(np.hypot(x, y), np.broadcast_to(source.g_mag, x.shape))
        for move in np.linspace(-accuracy, accuracy, 21) if kind == "sure" else [0.0]:
            there = np.all(inside + slope[:, None, None] * move >= 0, axis=0)
            if light is not None:
                there &= light.transmission(x, y - move) >= needed
            good &= np.count_nonzero(there, axis=1) >= some_rig.guiding.min_stars
    return good


def brute(place, some_rig, source, angle, kind, near):
    """Least shift of a grid of 0.05′ out to `near` that the twin lets pass and `check` then confirms."""
    steps = np.arange(-np.ceil(near / GRID_ARCMIN), np.ceil(near / GRID_ARCMIN) + 1) * GRID_ARCMIN
    east, north = (axis.ravel() for axis in np.meshgrid(steps, steps))
    shift = np.hypot(east, north)
    order = np.argsort(shift, kind="stable")
    order = order[shift[order] <= near]
    centres = shifted(place, shift[order], np.degrees(np.arctan2(east[order], north[order])))
    for i in np.flatnonzero(looked_at(some_rig, centres, source, angle, kind)):
        if getattr(asked((centres[0][i], centres[1][i]), some_rig, source, angle).asked, kind):
            return float(shift[order][i])
    return None


# Against a grid of shifts

FIXED = rig(COMPOUND, guiding__faintest_mag=12.0)
LIT = rig(COMPOUND)
TURNED = rig(NEWTONIAN, guiding__faintest_mag=12.0, telescope__focal_length_mm=2000.0)
PAIR = rig(COMPOUND, guiding__faintest_mag=12.0, guiding__min_stars=2)
CASES = {
    "one star beyond a corner": (FIXED, [(3.9, 18.1)], 11.0, 0.0),
    "one star too near": (FIXED, [(-1.0, 12.6)], 11.0, 0.0),
    "one star and light": (LIT, [(3.2, 18.2)], 14.3, 0.0),
    "a picky star": (LIT, [(2.0, 18.2)], 14.75, 0.0),
    "two stars that hand over": (rig(COMPOUND, guiding__faintest_mag=12.0), [(3.6, 14.1), (3.7, 16.3)], 11.0, 0.0),
    "two stars at once": (PAIR, [(3.4, 15.4), (0.2, 15.9)], 11.0, 0.0),
    "mirrored, turned sensor, side left": (TURNED, [(-2.9, 23.3), (9.0, 16.0)], 11.0, 75.0),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("kind", ["usable", "sure"])
def test_never_longer_than_the_grids_best_and_equal_within_the_grid(name, kind):
    some_rig, places, g_mag, angle = CASES[name]
    place = (150.0, 41.0)
    source = sky(place, some_rig.telescope.focal_length_mm, places, g_mag)
    found = getattr(nudge(asked(place, some_rig, source, angle), source, Wish(furthest_arcmin(some_rig))), kind)
    assert found is not None
    assert found.proved
    assert found.shift_arcmin > 0.5
    best = brute(place, some_rig, source, angle, kind, found.shift_arcmin + GRID_ARCMIN)
    assert best is not None, "the grid has none within a step of what was found"
    assert found.shift_arcmin <= best + NEVER_LONGER_ARCMIN
    assert found.shift_arcmin >= best - GRID_ARCMIN * np.sqrt(2)


def test_handing_over_spares_a_part_of_the_way():
    """Two stars are sure together at a shift at which neither is by itself."""
    some_rig, places, g_mag, angle = CASES["two stars that hand over"]
    place = (150.0, 41.0)
    together = sky(place, 2000.0, places, g_mag)
    found = nudge(asked(place, some_rig, together, angle), together, Wish(furthest_arcmin(some_rig))).sure
    assert len(found.star_ids) == 2
    for one in places:
        alone = sky(place, 2000.0, [one], g_mag)
        assert not asked((found.ra_deg, found.dec_deg), some_rig, alone, angle).asked.sure
        longer = nudge(asked(place, some_rig, alone, angle), alone, Wish(furthest_arcmin(some_rig))).sure
        assert longer.shift_arcmin > found.shift_arcmin + 0.1


@pytest.mark.parametrize("x_mm", [0.0, 1.9, 2.6, 4.1])
def test_one_star_in_closed_form(x_mm):
    """The guide field is a rectangle; with no tolerance and a prism known exactly the shift is the way to it."""
    some_rig = rig(COMPOUND, guiding__faintest_mag=12.0, prism__offset_accuracy_mm=0.0)
    place, y_mm = (200.0, -35.0), 19.0
    source = sky(place, 2000.0, [(x_mm, y_mm)], 10.0)
    field = check(Place("p", *place, "c"), some_rig, source, epoch_year=EPOCH, question=Question(0.0, 0.0))
    found = nudge(field, source, Wish(10.0))
    (low_x, low_y), (high_x, high_y) = field.field.outline_mm.min(axis=0), field.field.outline_mm.max(axis=0)
    way = np.hypot(x_mm - np.clip(x_mm, low_x, high_x), y_mm - np.clip(y_mm, low_y, high_y))
    # The plane is about the target here and about the new centre there: 2nd order, 1e-5 of 6 mm in 2000.
    assert found.usable.shift_arcmin == pytest.approx(np.degrees(np.arctan(way / 2000.0)) * 60, abs=0.006)
    assert found.sure is found.usable


# What it finds holds


def places_without(some_rig, angle, count):
    """Twenty places of the real sky without a star at the angle: the awkward ones first, then seeded at random."""
    rng = np.random.default_rng(7)
    wanted = [place for place in PLACES.values() if abs(place[1]) < 90]
    for place in [*wanted, *zip(rng.uniform(0, 360, 300), np.degrees(np.arcsin(rng.uniform(-1, 1, 300))), strict=True)]:
        result = asked(place, some_rig, tycho2(), angle)
        if not result.asked.usable:
            count -= 1
            yield place, result
        if count == 0:
            return


@pytest.mark.slow
def test_twenty_places_without_a_star_have_one_at_the_shifted_centre():
    some_rig = rig(COMPOUND)
    found = 0
    for place, result in places_without(some_rig, 40.0, 20):
        answer = nudge(result, tycho2(), Wish(furthest_arcmin(some_rig)))
        for kind, shift in (("usable", answer.usable), ("sure", answer.sure), ("usable", answer.turned)):
            if shift is not None:
                there = asked((shift.ra_deg, shift.dec_deg), some_rig, tycho2(), shift.angle_deg).asked
                assert getattr(there, kind), (place, kind)
                assert there.star_ids == shift.star_ids
        assert answer.usable is not None, place
        assert answer.usable.shift_arcmin > 0
        found += 1
    assert found == 20


def test_it_holds_as_it_is_printed():
    """The centre to 0.01 s and 0.1″, the camera angle to 0.1°."""
    some_rig = rig(COMPOUND, guiding__faintest_mag=12.0)
    place = (150.0, 41.0)
    source = sky(place, 2000.0, [(3.9, 18.1)], 11.0)
    shift = nudge(asked(place, some_rig, source, 0.0), source, Wish(furthest_arcmin(some_rig))).sure
    ra = np.round(shift.ra_deg * 240, 2) / 240 + np.array([-1, 0, 1]) * 0.004 / 240
    dec = np.round(shift.dec_deg * 3600, 1) / 3600
    assert all(asked((a, dec), some_rig, source, 0.0).asked.sure for a in ra)


# The sphere


@pytest.mark.parametrize("place", [(0.0, 90.0), (123.0, -90.0), (40.0, 89.95), (250.0, -89.7), (10.0, 88.0)])
def test_at_and_beside_the_poles(place):
    """At the pole itself the guide field always looks across it, so the star has to stand within its ring."""
    some_rig = rig(COMPOUND, guiding__faintest_mag=12.0)
    source = sky(place, 2000.0, [(4.6, 14.1), (-13.0, -9.0)], 11.0)
    answer = nudge(asked(place, some_rig, source, 0.0), source, Wish(furthest_arcmin(some_rig)))
    assert answer.usable is not None
    assert answer.sure is not None
    for shift in (answer.usable, answer.sure):
        there = asked((shift.ra_deg, shift.dec_deg), some_rig, source, 0.0).asked
        assert there.sure if shift.sure else there.usable
        away = plane.separation_deg(*place, shift.ra_deg, shift.dec_deg) * 60
        assert shift.shift_arcmin == pytest.approx(away, abs=1e-6)


def test_beside_the_pole_the_shortest_of_a_polar_grid():
    """6′ from the pole a shift of 1′ turns north by 10°: the plane's answer would be wrong."""
    some_rig = rig(COMPOUND, guiding__faintest_mag=12.0, prism__offset_accuracy_mm=0.0)
    place = (40.0, 89.9)
    source = sky(place, 2000.0, [(3.9, 18.1)], 11.0)
    found = nudge(asked(place, some_rig, source, 0.0), source, Wish(furthest_arcmin(some_rig))).usable
    best = brute(place, some_rig, source, 0.0, "usable", found.shift_arcmin + 6 * GRID_ARCMIN)
    assert best is not None
    assert found.shift_arcmin <= best + NEVER_LONGER_ARCMIN


def test_a_shift_of_three_degrees():
    """A lens of 135 mm: the star stands 3° from the field's edge."""
    telescope = {"focal_length_mm": 135.0, "aperture_mm": 50.0}
    values = {"prism__ahead_mm": 30.0, "prism__offset_mm": 24.0, "guiding__faintest_mag": 9.0}
    lens = rig(COMPOUND | {"telescope": telescope}, camera__width_mm=36.0, camera__height_mm=24.0, **values)
    place = (30.0, 60.0)
    outer = asked(place, lens, sky(place, 135.0, [(0.0, 1.0)], 8.0), 0.0).field.outline_mm[:, 1].max()
    source = sky(place, 135.0, [(0.0, outer + 135.0 * np.tan(np.radians(3.0)))], 8.0)
    found = nudge(asked(place, lens, source, 0.0), source, Wish(furthest_arcmin(lens))).usable
    assert 150 < found.shift_arcmin < 210
    assert asked((found.ra_deg, found.dec_deg), lens, source, 0.0).asked.usable
    shorter, turn = (a.ravel() for a in np.meshgrid(np.linspace(0.0, 0.999, 60), np.arange(0.0, 360.0, 1.0)))
    assert not np.any(looked_at(lens, shifted(place, shorter * found.shift_arcmin, turn), source, 0.0, "usable"))


# Where the target then stands


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("angle", [0.0, 37.0, 290.0])
def test_the_targets_place_in_the_picture_by_astropys_wcs(mirrored, angle):
    some_rig = rig(COMPOUND, camera__mirrored=mirrored)
    place, centre = (83.0, -5.4), (83.05, -5.43)
    found = in_picture(some_rig, place, centre, angle)
    right, up = picture_wcs(*centre, angle, 2000.0, mirrored).wcs_world2pix(*place, 0)
    assert (found.right_mm, found.up_mm) == pytest.approx((right + 1.0, up + 1.0), abs=1e-6)
    assert found.right_px == pytest.approx(1000 * found.right_mm / 3.76)
    assert found.up_percent == pytest.approx(100 * found.up_mm / 11.3)


def test_the_star_stands_where_astropys_wcs_puts_it():
    some_rig = rig(NEWTONIAN, guiding__faintest_mag=12.0)
    place = (150.0, 41.0)
    source = sky(place, 1000.0, [(-22.5, 9.5)], 11.0)
    shift = nudge(asked(place, some_rig, source, 20.0), source, Wish(furthest_arcmin(some_rig))).usable
    x, y = rig_frame(some_rig, (shift.ra_deg, shift.dec_deg), 20.0, source.ra_deg, source.dec_deg)
    assert (shift.placements[0].x_mm, shift.placements[0].y_mm) == pytest.approx((x[0], y[0]), abs=1e-6)


# Shift and turn, any angle, none


def test_turning_is_weighed_against_shifting():
    some_rig = rig(COMPOUND, guiding__faintest_mag=12.0)
    place = (150.0, 41.0)
    source = sky(place, 2000.0, [(5.5, 15.0)], 11.0)
    result = asked(place, some_rig, source, 0.0)
    cheap, dear = (nudge(result, source, Wish(9.0, cost)) for cost in (0.5, 40.0))
    assert dear.turned is None
    turned = cheap.turned
    assert turned.cost_arcmin < 0.9 * cheap.best.cost_arcmin
    assert turned.cost_arcmin == pytest.approx(
        turned.shift_arcmin + abs(turned.turn_deg) * side_arcmin(some_rig, 0.005), abs=1e-9
    )
    assert turned.angle_deg == pytest.approx(turned.turn_deg % 360.0)
    assert asked((turned.ra_deg, turned.dec_deg), some_rig, source, turned.angle_deg).asked.sure
    # No combination on a grid is cheaper.
    for turn in np.arange(-25.0, 25.1, 0.5):
        left = turned.cost_arcmin - abs(turn) * cheap.turn_cost_arcmin - 0.05
        if left > 0:
            shift, direction = (a.ravel() for a in np.meshgrid(np.arange(0.0, left, 0.1), np.arange(0.0, 360.0, 10.0)))
            assert not np.any(looked_at(some_rig, shifted(place, shift, direction), source, turn, "sure"))


def test_any_camera_angle_goes_straight_towards_the_star():
    some_rig = rig(COMPOUND, guiding__faintest_mag=12.0, prism__offset_accuracy_mm=0.0)
    place = (150.0, 41.0)
    source = sky(place, 2000.0, [(0.0, 19.0)], 11.0)
    target = Place("p", *place, "c")
    found = nudge(check(target, some_rig, source, epoch_year=EPOCH), source, Wish(6.0))
    shift = found.usable
    there = asked((shift.ra_deg, shift.dec_deg), some_rig, source, shift.angle_deg)
    assert there.asked.usable
    assert (found.angle_deg, found.turned) == (None, None)
    centre = shifted(place, shift.shift_arcmin - 0.1, shift.direction_deg)
    nearly = check(Place("p", *(float(v) for v in centre), "c"), some_rig, source, epoch_year=EPOCH)
    assert all(item.width_deg < 2.0 for item in nearly.ranges)


def test_none_within_the_limit_names_the_nearest_beyond():
    some_rig = rig(COMPOUND, guiding__faintest_mag=12.0)
    place = (150.0, 41.0)
    source = sky(place, 2000.0, [(0.0, 20.0)], 11.0)
    found = nudge(asked(place, some_rig, source, 0.0), source, Wish(1.0))
    assert (found.sure, found.usable, found.best) == (None, None, None)
    assert 4.0 < found.beyond.shift_arcmin < found.furthest_arcmin
    nobody = dataclasses.replace(source, g_mag=source.g_mag + 5)
    empty = nudge(asked(place, some_rig, nobody, 0.0), nobody, Wish(1.0))
    assert (empty.best, empty.beyond, empty.turned) == (None, None, None)


def test_none_is_needed_where_it_is_sure_already():
    some_rig = rig(REFRACTOR, guiding__faintest_mag=12.0)
    place = (150.0, 41.0)
    result = asked(place, some_rig, tycho2(), 0.0)
    assert result.asked.sure
    found = nudge(result, tycho2(), Wish(3.0))
    assert found.sure is found.usable
    assert found.sure.shift_arcmin == 0.0
    assert found.sure.star_ids == result.asked.star_ids
