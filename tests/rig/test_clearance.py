"""The prism's shadow on the main sensor: the formula against rays, and the warnings made from it."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from guidestar.rig import least_clear_offset_mm, preset
from guidestar.rig.clearance import sensor_extent_mm

LENGTH = st.floats(2.0, 40.0)


@settings(derandomize=True, deadline=None)
@given(
    height=LENGTH,
    extent=LENGTH,
    ahead=st.floats(5.0, 150.0),
    pupil=st.floats(200.0, 5000.0),
    f_ratio=st.floats(2.0, 15.0),
)
def test_no_ray_to_the_sensor_meets_a_prism_at_the_least_clear_offset(height, extent, ahead, pupil, f_ratio):
    # Straight rays from every point of the exit pupil (a disc as wide as the cone demands) to every point of the
    # sensor, side-on, met at the prism's plane: the highest of them is where the prism's inner edge may stand.
    in_pupil = np.linspace(-1.0, 1.0, 41) * pupil / (2 * f_ratio)
    on_sensor = np.linspace(-1.0, 1.0, 41) * extent / 2
    at_prism = on_sensor[:, None] + (in_pupil[None, :] - on_sensor[:, None]) * ahead / pupil
    least = least_clear_offset_mm(
        prism_height_mm=height, sensor_extent_mm=extent, ahead_mm=ahead, exit_pupil_mm=pupil, f_ratio=f_ratio
    )
    assert least - height / 2 == pytest.approx(at_prism.max(), abs=1e-9)


def test_telecentric_light_makes_no_allowance_for_the_slant():
    least = least_clear_offset_mm(
        prism_height_mm=8.0, sensor_extent_mm=13.4, ahead_mm=60.0, exit_pupil_mm=math.inf, f_ratio=10.0
    )
    assert least == pytest.approx(4.0 + 6.7 + 3.0)


@pytest.mark.parametrize(
    ("side_deg", "extent"), [(0, 15.7), (180, 15.7), (90, 23.5), (270, 23.5), (45, (23.5 + 15.7) / math.sqrt(2))]
)
def test_the_sensor_counts_as_far_as_it_reaches_towards_the_prism(side_deg, extent):
    assert sensor_extent_mm(23.5, 15.7, side_deg) == pytest.approx(extent)


@settings(derandomize=True, deadline=None)
@given(width=LENGTH, height=LENGTH, side_deg=st.floats(0.0, 360.0))
def test_the_extent_is_the_spread_of_the_corners(width, height, side_deg):
    angle = math.radians(side_deg)
    corners = [(x * width / 2, y * height / 2) for x in (-1, 1) for y in (-1, 1)]
    along = [x * math.sin(angle) + y * math.cos(angle) for x, y in corners]
    assert sensor_extent_mm(width, height, side_deg) == pytest.approx(max(along) - min(along))


def changed(**prism):
    return preset("newtonian-1000-f5").with_values({f"prism.{key}": value for key, value in prism.items()})


def test_a_prism_in_the_light_is_a_warning_with_the_least_offset():
    # By hand: 4 + (1 − 40/1000)·15.7/2 + 40/(2·5) = 15.536.
    (warning,) = changed(offset_mm=15.5).warnings
    assert warning == (
        "prism.offset_mm: at 15.5 mm the prism shadows the main sensor; the least clear offset is 15.54 mm"
    )
    assert changed(offset_mm=15.54).warnings == ()


def test_beside_a_wide_sensor_the_prism_shadows_sooner():
    assert changed(offset_mm=17.0, side="bottom").warnings == ()
    (warning,) = changed(offset_mm=17.0, side="left").warnings
    assert "least clear offset is 19.28 mm" in warning


def test_a_guide_field_beyond_the_useful_light_is_a_warning():
    (warning,) = changed(offset_mm=21.5).warnings
    assert "outside the useful light" in warning
    assert "22.4 mm" in warning
    assert changed(offset_mm=21.5).with_values({"telescope.image_circle_mm": None}).warnings == ()
