import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from guidestar.angles import acceptance, circular, twin
from guidestar.optics.guidefield import guide_polygon, half_planes, swept_radii_mm

fields = st.builds(
    lambda width, height, turned, prism_w, prism_h, centre: guide_polygon(
        sensor_width_mm=width, sensor_height_mm=height, turned_deg=turned, edge_margin_mm=0.1,
        prism_width_mm=prism_w, prism_height_mm=prism_h, centre_mm=centre, face_scale=0.93,
    ),
    st.floats(1, 20), st.floats(1, 12), st.floats(-180, 180), st.floats(3, 20), st.floats(3, 12), st.floats(0, 25),
)  # fmt: skip


def by_looking(planes, radius, step=0.05):
    """Slow twin: the share of a fine grid of directions at which the point is inside."""
    rows = [tuple(row) for row in planes.tolist()]
    directions = np.radians(np.arange(0, 360, step))
    hits = sum(twin.inside(rows, radius * math.sin(a), radius * math.cos(a)) for a in directions)
    return hits * step


@given(fields, st.floats(0, 1))
@example(
    guide_polygon(
        sensor_width_mm=5.6,
        sensor_height_mm=3.2,
        turned_deg=0.0,
        edge_margin_mm=0.1,
        prism_width_mm=14.0,
        prism_height_mm=8.0,
        centre_mm=15.0,
        face_scale=0.9,
    ),
    5e-324,
)  # a radius so small that an edge's distance over it overflows
@settings(derandomize=True, deadline=None, max_examples=40)
def test_arcs_equal_looking_at_every_direction(polygon, share):
    planes = half_planes(polygon)
    radius = share * swept_radii_mm(polygon)[1] * 1.1
    owner, arcs = acceptance.polygon_arcs(planes, np.array([radius]))
    # each arc's two ends may fall anywhere within a step of the grid
    assert np.sum(arcs[:, 1] - arcs[:, 0]) == pytest.approx(by_looking(planes, radius), abs=0.05 * (2 * len(arcs) + 1))
    assert np.all(owner == 0)


def test_a_circle_through_the_corners_has_several_arcs():
    # 10 × 2 mm about (0, 5): the circle of 6.2 mm leaves through the outer edge (y = 6) and comes back twice,
    # at the corners: the corner (5, 6) lies 7.81 mm out, the edge's middle 6 mm.
    polygon = guide_polygon(
        sensor_width_mm=10, sensor_height_mm=2, turned_deg=0, edge_margin_mm=0,
        prism_width_mm=30, prism_height_mm=30, centre_mm=5, face_scale=1,
    )  # fmt: skip
    _, arcs = acceptance.polygon_arcs(half_planes(polygon), np.array([6.2]))
    assert len(arcs) == 2
    outer_edge = math.degrees(math.acos(6 / 6.2))
    side = math.degrees(math.asin(5 / 6.2))
    inner_edge = math.degrees(math.acos(4 / 6.2))
    expected = [(outer_edge, min(side, inner_edge)), (-min(side, inner_edge), -outer_edge)]
    assert np.allclose(circular.at_least(arcs), circular.at_least(expected))


def test_a_field_that_holds_the_axis_takes_a_star_at_the_centre_at_every_angle():
    polygon = guide_polygon(
        sensor_width_mm=6, sensor_height_mm=6, turned_deg=30, edge_margin_mm=0,
        prism_width_mm=30, prism_height_mm=30, centre_mm=1, face_scale=1,
    )  # fmt: skip
    owner, arcs = acceptance.polygon_arcs(half_planes(polygon), np.array([0.0, 1.9, 2.5, 9.0]))
    assert np.allclose(arcs[owner == 0], [[0, 360]])
    assert np.allclose(arcs[owner == 1], [[0, 360]])
    assert 0 < np.sum(np.diff(arcs[owner == 2])) < 360
    assert 3 not in owner


def test_tangent_circle_keeps_the_square_root():
    # Just beyond the outer edge's middle the accepted arc opens as the square root of the excess.
    planes = np.array([[0.0, -1.0, -10.0]])  # y ≥ 10
    for excess in (1e-2, 1e-4, 1e-6):
        _, arcs = acceptance.polygon_arcs(planes, np.array([10.0 + excess]))
        half = (arcs[0, 1] - arcs[0, 0]) / 2
        assert half == pytest.approx(math.degrees(math.sqrt(2 * excess / 10)), rel=1e-3)


def test_nothing_in_nothing_out():
    owner, arcs = acceptance.polygon_arcs(half_planes(np.array([[0, 1], [1, 1], [1, 2.0]])), np.empty(0))
    assert len(owner) == 0
    assert arcs.shape == (0, 2)


@pytest.mark.parametrize(("mirrored", "expected"), [(False, 30.0 - 90.0 - 12.0), (True, 12.0 - 30.0 - 90.0)])
def test_camera_angle_of_a_star_in_a_given_direction(mirrored, expected):
    # DESIGN: psi = phi + beta (mirrored phi - beta); a = theta - psi (mirrored psi - theta). theta 30, beta 90, a 12.
    phase = acceptance.star_phase_deg(np.array([30.0]), 90.0, mirrored)
    turn = acceptance.direction_to_turn(phase, np.array([0]), np.array([[12.0, 12.0]]))
    angle = acceptance.turn_to_camera(turn, mirrored)[0, 0]
    psi = angle - 90 if mirrored else angle + 90
    a = psi - 30 if mirrored else 30 - psi
    assert a == pytest.approx(12.0)
    assert angle % 360 == pytest.approx((expected if not mirrored else 30 + 90 + 12) % 360)
