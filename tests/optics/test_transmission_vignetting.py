import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from guidestar.optics.vignetting import vignetting


def test_no_image_circle_means_no_loss():
    radius = np.array([0.0, 10.0, 1e6])
    assert vignetting(radius, None, 5.0) == pytest.approx([1, 1, 1])
    assert vignetting(radius, math.inf, 5.0) == pytest.approx([1, 1, 1])


def test_straight_fall_outside_the_circle():
    radius = np.array([0.0, 20.0, 22.5, 25.0, 30.0])
    assert vignetting(radius, 40.0, 5.0) == pytest.approx([1.0, 1.0, 0.5, 0.0, 0.0])


def test_beam_without_width_is_cut_at_once():
    assert vignetting([19.9, 20.0, 20.1], 40.0, 0.0) == pytest.approx([1.0, 1.0, 0.0])


@settings(derandomize=True, deadline=None)
@given(st.floats(1.0, 100.0), st.floats(0.0, 50.0))
@example(1.0, 2.2250738585e-313)
def test_never_rises_with_radius_and_stays_a_share(circle, fall):
    light = vignetting(np.linspace(0.0, 120.0, 500), circle, fall)
    assert np.all(np.diff(light) <= 0)
    assert np.all((light >= 0) & (light <= 1))
