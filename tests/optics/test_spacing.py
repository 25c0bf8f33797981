import math

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from guidestar.optics import spacing

seeded = settings(derandomize=True, deadline=None)


def test_filter_shift_of_the_la_palma_guide():
    """La Palma observers' guide, focus offsets: a third of the thickness for n = 1.5, 0.38 of it for n = 1.6."""
    assert spacing.glass_shift_mm(3.0, 1.5) == pytest.approx(1.0)
    assert spacing.glass_shift_mm(1.0, 1.6) == pytest.approx(0.38, abs=0.006)


@pytest.mark.parametrize(("f_ratio", "shift"), [(5.0, 0.33518), (2.0, 0.34461)])
def test_exact_shift_by_snell(f_ratio, shift):
    """Computed from Snell's law for n = 1.5 (published-values, geometric optics)."""
    assert spacing.glass_shift_mm(1.0, 1.5, f_ratio) == pytest.approx(shift, abs=1e-5)


def traced_shift(thickness, index, f_ratio):
    """A marginal ray through a plate, step by step: where it crosses the axis, less where it would have."""
    slope = 0.5 / f_ratio
    height = 100.0 * slope  # focus 100 mm behind the plate's front, without it
    inside = math.asin(math.sin(math.atan(slope)) / index)
    height -= thickness * math.tan(inside)
    return thickness + height / slope - 100.0


@seeded
@given(st.floats(0.0, 30.0), st.floats(1.0, 2.5), st.floats(0.8, 30.0))
@example(8.0, 1.52, 4.0)
def test_exact_shift_equals_a_traced_ray(thickness, index, f_ratio):
    assert spacing.glass_shift_mm(thickness, index, f_ratio) == pytest.approx(
        traced_shift(thickness, index, f_ratio), abs=1e-9
    )


@seeded
@given(st.floats(0.0, 30.0), st.floats(1.0, 2.5), st.floats(0.8, 30.0))
def test_exact_shift_is_the_larger_and_tends_to_the_paraxial_one(thickness, index, f_ratio):
    paraxial = spacing.glass_shift_mm(thickness, index)
    assert 0.0 <= paraxial <= spacing.glass_shift_mm(thickness, index, f_ratio) + 1e-12
    assert spacing.glass_shift_mm(thickness, index, 1e5) == pytest.approx(paraxial, abs=1e-8)


def test_common_practice_leaves_ten_millimetres():
    """Common practice, no source: 55 mm, 17.5 mm body, 21 mm drawer, 6.5 mm flange; about 56 mm with a filter."""
    assert spacing.spacer_mm(55.0, 0.0, 17.5 + 21.0, 6.5) == pytest.approx(10.0)
    with_filter = spacing.glass_shift_mm(3.0, 1.52)
    assert 55.0 + with_filter == pytest.approx(56.0, abs=0.05)
    assert spacing.spacer_mm(55.0, 0.0, 50.0, 6.5) == pytest.approx(-1.5)


def test_a_prism_of_8_mm():
    """2.7 mm for an 8 mm prism of n = 1.52, more than a 2 mm filter's 0.7 mm."""
    prism = spacing.glass_shift_mm(8.0, 1.52)
    assert prism == pytest.approx(2.74, abs=0.005)
    assert spacing.guide_path_mm(50.0, spacing.glass_shift_mm(2.0, 1.52), prism) == pytest.approx(52.05, abs=0.01)
    assert spacing.guide_path_mm(50.0, 0.0, 0.0) == 50.0


def test_guide_path_by_tracing_both_arms():
    """One star, two arms: bring the main sensor into focus behind a filter, then find where the guide arm focuses."""
    f_ratio, ahead, filter_mm, prism_mm, index = 1000.0, 40.0, 2.0, 8.0, 1.52  # paraxial rays
    slope = 0.5 / f_ratio
    height = (ahead - traced_shift(filter_mm, index, f_ratio)) * slope  # at the prism's face, the filter ahead of us
    inside = math.asin(math.sin(math.atan(slope)) / index)
    needed = prism_mm + (height - prism_mm * math.tan(inside)) / slope
    shifts = (spacing.glass_shift_mm(filter_mm, index), spacing.glass_shift_mm(prism_mm, index))
    assert spacing.guide_path_mm(ahead, *shifts) == pytest.approx(needed, abs=1e-4)


def test_filter_cost():
    assert spacing.filter_cost_mag(500.0, 500.0) == 0.0
    assert spacing.filter_cost_mag(5.0, 500.0) == pytest.approx(5.0)
    assert spacing.filter_cost_mag(800.0, 500.0) == 0.0
