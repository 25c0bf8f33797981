import numpy as np
import pytest

from guidestar.night import spans


def wave(period_s, level=0.0):
    return lambda at: np.sin(2 * np.pi * at / period_s) - level


def test_where_a_curve_is_above_its_line():
    found = spans.above(wave(10_000.0), 1.0, 19_990.0)
    assert found == pytest.approx(np.array([[1.0, 5000.0], [10_000.0, 15_000.0]]), abs=0.1)


def test_a_curve_always_or_never_above():
    assert spans.above(wave(1e4, -2.0), 5.0, 95.0).tolist() == [[5.0, 95.0]]
    assert spans.above(wave(1e4, 2.0), 5.0, 95.0).shape == (0, 2)


def test_where_a_curve_falls_through_nought():
    assert spans.falling(wave(10_000.0), 0.0, 21_000.0) == pytest.approx([5000.0, 15_000.0], abs=0.1)
    assert len(spans.falling(wave(1e4, -2.0), 0.0, 1e5)) == 0


def test_what_spans_share():
    one, other = np.array([[0.0, 10.0], [20.0, 30.0]]), np.array([[5.0, 25.0], [28.0, 40.0]])
    assert spans.common(one, other).tolist() == [[5.0, 10.0], [20.0, 25.0], [28.0, 30.0]]
    assert spans.common(one, spans.NONE).shape == (0, 2)
    assert spans.total_s(one) == 20.0
