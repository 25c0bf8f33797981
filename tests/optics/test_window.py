import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad
from support import light_rays

from guidestar.optics.footprint import Footprint, beam_footprint
from guidestar.optics.transmission import PrismFace, shadow_share
from guidestar.optics.window import (
    Body,
    Stop,
    clear_offsets_mm,
    disc_overlap_area,
    greatest_offset_mm,
    least_offset_mm,
    needed_offsets_mm,
    needed_stop_mm,
    shadow,
    stop_share,
)

seeded = settings(derandomize=True, deadline=None, max_examples=60)
BEAMS = [(4.0, 600.0, 0.35), (10.0, 700.0, 0.34), (6.0, math.inf, 0.0), (2.8, 1000.0, 0.4)]


def footprint_of(f_ratio, pupil_mm, obstruction, ahead_mm=55.0):
    return beam_footprint(
        focal_length_mm=1000.0, aperture_mm=1000.0 / f_ratio, central_obstruction_mm=obstruction * 1000.0 / f_ratio,
        ahead_mm=ahead_mm, exit_pupil_mm=pupil_mm,
    )  # fmt: skip


def corners_of(width, height, side_deg):
    turn = math.radians(side_deg)
    right = np.array([-1, -1, 1, 1]) * width / 2
    up = np.array([1, -1, -1, 1]) * height / 2
    return np.column_stack(
        (-right * math.cos(turn) - up * math.sin(turn), -right * math.sin(turn) + up * math.cos(turn))
    )


def rim_of(corners, count=60):
    share = np.linspace(0, 1, count, endpoint=False)[:, None, None]
    return (corners + share * (np.roll(corners, -1, axis=0) - corners)).reshape(-1, 2)


def worst_by_rays(corners, offset, body, f_ratio, pupil, obstruction, count=110):
    """Largest share of rays lost at 240 points along the sensor's rim."""
    beam = {"f_ratio": f_ratio, "pupil_mm": pupil, "obstruction": obstruction, "count": count}

    def lost(point):
        return light_rays.shadow(
            *point, offset_mm=offset, height_mm=body.height_mm, width_mm=body.width_mm, ahead_mm=55.0, **beam
        )

    return max(lost(point) for point in rim_of(corners))


@pytest.mark.parametrize("beam", BEAMS)
@pytest.mark.parametrize("side_deg", [0.0, 90.0, 35.0, 236.0])
def test_window_begins_where_traced_rays_say(beam, side_deg):
    """At the innermost clear offset no ray is lost (0 ± 0.2 %); half a millimetre further in the map says how many."""
    footprint, body = footprint_of(*beam), Body(8.0, 12.0)
    corners = corners_of(23.5, 15.7, side_deg)
    least = least_offset_mm(corners, footprint, body)
    assert worst_by_rays(corners, least, body, *beam) <= 0.002
    rim = rim_of(corners)
    mapped = float(np.max(shadow(rim[:, 0], rim[:, 1], least - 0.5, footprint, body)))
    traced = worst_by_rays(corners, least - 0.5, body, *beam)
    assert mapped > 0.003
    assert traced == pytest.approx(mapped, abs=0.005)


def test_shadow_is_the_transmission_modules_for_one_offset():
    footprint = footprint_of(4.0, 600.0, 0.35)
    x, y = np.random.default_rng(1).uniform(-12, 12, (2, 200))
    expected = shadow_share(x, y, footprint, PrismFace(8.0, 8.0, 11.0), 12.0)
    assert shadow(x, y, 11.0, footprint, Body(8.0, 12.0)) == pytest.approx(expected, abs=1e-14)


@seeded
@given(st.floats(0.2, 10.0), st.floats(0.7, 1.0), st.floats(1.0, 30.0), st.floats(-25, 25), st.floats(-25, 25))
def test_a_point_is_clear_from_its_own_offset_outward(radius, scale, width, x, y):
    footprint, body = Footprint(radius, 0.3, scale), Body(8.0, width)
    clear = float(clear_offsets_mm(x, y, footprint, body))
    if math.isinf(clear):
        assert shadow(x, y, -100.0, footprint, body) == 0.0
    else:
        assert shadow(x, y, clear, footprint, body) == pytest.approx(0.0, abs=1e-12)
        inward = clear - 0.2 * radius
        assert shadow(x, y, inward, footprint, body) > 0.0 or abs(x) * scale > width / 2 + 0.9 * radius


@seeded
@given(st.floats(0.001, 0.6), st.floats(-14, 14), st.floats(-9, 9))
def test_needed_offset_leaves_exactly_what_is_allowed(allowed, x, y):
    footprint, body = footprint_of(5.0, 800.0, 0.3), Body(8.0, 10.0)
    needed = float(needed_offsets_mm(x, y, footprint, body, allowed))
    if math.isinf(needed):
        assert shadow(x, y, -100.0, footprint, body) <= allowed
    else:
        assert shadow(x, y, needed, footprint, body) == pytest.approx(allowed, abs=1e-9)


def test_allowing_a_shadow_lets_the_prism_in_and_the_worst_point_then_has_it():
    footprint, body, corners = footprint_of(5.0, 800.0, 0.3), Body(8.0, 10.0), corners_of(23.5, 15.7, 20.0)
    offsets = [least_offset_mm(corners, footprint, body, allowed_loss=loss) for loss in (0.0, 0.01, 0.05, 0.2)]
    assert all(a > b for a, b in pairwise(offsets))
    rim = rim_of(corners, 2000)
    for loss, offset in zip((0.01, 0.05, 0.2), offsets[1:], strict=True):
        assert np.max(shadow(rim[:, 0], rim[:, 1], offset, footprint, body)) == pytest.approx(loss, abs=2e-4)


def test_a_wide_prism_over_an_edge_needs_the_side_on_offset():
    footprint = footprint_of(5.0, 800.0, 0.3)
    found = least_offset_mm(corners_of(23.5, 15.7, 0.0), footprint, Body(8.0, 10.0))
    assert found == pytest.approx(4.0 + footprint.scale * 15.7 / 2 + footprint.radius_mm, abs=1e-9)


def test_the_prism_never_crosses_the_axis():
    assert least_offset_mm(corners_of(1.0, 1.0, 0.0), Footprint(0.1, 0.0, 1.0), Body(8.0, 4.0)) == 4.6
    assert least_offset_mm(corners_of(1.0, 1.0, 0.0), Footprint(0.1, 0.0, 1.0), Body(30.0, 0.0)) > 15.0


# ---------------------------------------------------------------- outward end

FIELD = np.array([(-2.7, -1.5), (2.7, -1.5), (2.7, 1.5), (-2.7, 1.5)])


@pytest.mark.parametrize("beam", BEAMS)
def test_window_ends_where_traced_rays_begin_to_miss_the_opening(beam):
    f_ratio, pupil, obstruction = beam
    footprint = footprint_of(*beam)
    before = 90.0
    stop = Stop(26.0, 1.0 - before / pupil, before / (2 * f_ratio))
    greatest = greatest_offset_mm(FIELD, footprint, [stop])
    rays = {"radius_mm": 26.0, "before_mm": before, "f_ratio": f_ratio, "obstruction": obstruction, "pupil_mm": pupil}
    lit = [
        min(light_rays.through_opening(x, y + offset / footprint.scale, count=150, **rays) for x, y in FIELD)
        for offset in (greatest, greatest + 1.0)
    ]
    assert lit[0] == pytest.approx(1.0, abs=0.002)
    assert lit[1] < 0.999
    point = FIELD[2] + (0.0, (greatest + 1.0) / footprint.scale)
    mapped = float(stop_share(np.hypot(*point), stop, obstruction))
    assert mapped == pytest.approx(light_rays.through_opening(*point, count=200, **rays), abs=0.005)
    assert needed_stop_mm(FIELD, greatest, footprint, stop) == pytest.approx(26.0)


def test_image_circle_is_a_stop_in_the_focal_plane():
    footprint = footprint_of(5.0, 800.0, 0.3)
    greatest = greatest_offset_mm(FIELD, footprint, [Stop(20.0)])
    assert math.hypot(2.7, greatest / footprint.scale + 1.5) == pytest.approx(20.0)
    assert greatest_offset_mm(FIELD, footprint, []) == math.inf
    assert greatest_offset_mm(FIELD, footprint, [Stop(2.0)]) == -math.inf
    assert greatest_offset_mm(FIELD, footprint, [Stop(20.0, 0.9, 21.0)]) == -math.inf
    assert stop_share([19.9, 20.1], Stop(20.0), 0.3).tolist() == [1.0, 0.0]


@pytest.mark.parametrize(
    ("distance", "one", "other"), [(1.2, 1.0, 0.7), (0.5, 1.0, 0.6), (1.0, 1.0, 1.0), (3.9, 3.0, 1.1)]
)
def test_disc_overlap_equals_quadrature(distance, one, other):
    def low(x):
        return max(-math.sqrt(max(one**2 - x * x, 0)), -math.sqrt(max(other**2 - (x - distance) ** 2, 0)))

    left, right = max(-one, distance - other), min(one, distance + other)
    area = dblquad(lambda _, __: 1.0, left, right, low, lambda x: -low(x))[0]
    assert disc_overlap_area(distance, one, other) == pytest.approx(area, rel=1e-6)


def test_disc_overlap_at_its_ends():
    assert disc_overlap_area([0.0, 0.3, 1.7, 5.0], 1.0, 0.7) == pytest.approx([math.pi * 0.49] * 2 + [0.0] * 2)
    assert disc_overlap_area(0.5, 0.0, 1.0) == 0.0
