import math

import numpy as np
import pytest

from guidestar.optics import guidefield


def polygon(**changes):
    values = {
        "sensor_width_mm": 5.6, "sensor_height_mm": 3.2, "turned_deg": 0.0, "edge_margin_mm": 0.1,
        "prism_width_mm": 14.0, "prism_height_mm": 8.0, "centre_mm": 15.0, "face_scale": 0.9,
    }  # fmt: skip
    return guidefield.guide_polygon(**(values | changes))


def area(points):
    x, y = points.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def test_footprint_centre_published_example():
    # Geometry: image height 12 mm, pupil 1000 mm before it, seen 25 mm ahead: 11.70 mm (similar triangles).
    assert 12.0 * guidefield.face_scale(25.0, 1000.0) == pytest.approx(11.7)
    assert guidefield.field_centre_mm(11.7, 25.0, 1000.0) == pytest.approx(12.0)
    assert guidefield.field_centre_mm(14.0, 50.0, math.inf) == 14.0


def test_small_sensor_is_not_cut():
    assert area(polygon()) == pytest.approx(5.4 * 3.0)
    assert np.allclose(polygon().min(axis=0), [-2.7, 13.5])


def test_prism_cuts_a_large_sensor_without_margin():
    cut = polygon(sensor_width_mm=30.0, sensor_height_mm=20.0)
    assert area(cut) == pytest.approx((14 / 0.9) * (8 / 0.9))


def test_turned_sensor_runs_from_y_towards_x():
    # At 90° the sensor's height axis v points along +x: the 5.4 mm side then stands along y.
    turned = polygon(turned_deg=90.0)
    assert np.ptp(turned, axis=0) == pytest.approx([3.0, 5.4])
    point = np.array([1.0]), np.array([15.0])
    u, v = guidefield.to_sensor(*point, 15.0, 90.0)
    assert (u[0], v[0]) == pytest.approx((0.0, 1.0))


def test_turned_sensor_keeps_its_area_and_is_counter_clockwise():
    for turned in range(0, 360, 17):
        assert area(polygon(turned_deg=turned)) == pytest.approx(5.4 * 3.0)


def test_corners_are_on_the_edges():
    outline = polygon(sensor_width_mm=12.0, sensor_height_mm=7.0, turned_deg=25.0)
    planes = guidefield.half_planes(outline)
    excess = planes[:, :2] @ outline.T - planes[:, 2:]
    assert excess.max() == pytest.approx(0.0, abs=1e-12)
    assert np.allclose(np.hypot(planes[:, 0], planes[:, 1]), 1.0)


def test_swept_radii():
    assert guidefield.swept_radii_mm(polygon()) == pytest.approx((13.5, math.hypot(2.7, 16.5)))
    assert guidefield.swept_radii_mm(polygon(centre_mm=1.0))[0] == 0.0
    # A corner nearest to the axis: a square turned by 45°.
    inner, _ = guidefield.swept_radii_mm(polygon(sensor_width_mm=3.2, turned_deg=45.0))
    assert inner == pytest.approx(15.0 - 1.5 * math.sqrt(2))


def test_margin_may_leave_nothing():
    assert polygon(edge_margin_mm=1.6).shape == (0, 2)
