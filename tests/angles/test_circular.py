import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from guidestar.angles import circular

arcs_lists = st.lists(
    st.tuples(st.floats(-720, 720), st.floats(0.0, 400.0)).map(lambda arc: (arc[0], arc[0] + arc[1])), max_size=12
)
angles = np.arange(0.05, 360, 0.73)


def depth_by_counting(arcs, angle):
    """Slow twin: how many arcs hold the angle, asked one by one."""
    return sum((angle - start) % 360 <= min(end - start, 360) and end > start for start, end in arcs)


def near_an_end(arcs, angle):
    return any(min((angle - edge) % 360, (edge - angle) % 360) < 1e-6 for arc in arcs for edge in arc)


@pytest.mark.parametrize(
    ("arcs", "count", "expected"),
    [
        ([], 1, []),
        ([(10, 10)], 1, []),
        ([(350, 370)], 1, [(350, 370)]),
        ([(-10, 10)], 1, [(350, 370)]),
        ([(0, 180), (180, 360)], 1, [(0, 360)]),
        ([(0, 180), (180, 360)], 2, []),
        ([(10, 370)], 1, [(0, 360)]),
        ([(350, 360), (0, 5)], 1, [(350, 365)]),
        ([(20, 30), (30, 40)], 1, [(20, 40)]),
        ([(0, 10), (5, 20), (350, 366)], 2, [(0, 10)]),
        ([(0, 360), (0, 360), (5, 6)], 3, [(5, 6)]),
        ([(100, 500)], 1, [(0, 360)]),
    ],
)
def test_known_unions(arcs, count, expected):
    assert np.allclose(circular.at_least(arcs, count), np.reshape(expected, (-1, 2)))


@given(arcs_lists, st.integers(1, 4))
@settings(derandomize=True, deadline=None)
@example([(350.0, 360.0), (0.0, 5.0)], 1)
@example([(0.0, 360.0)], 2)
def test_at_least_equals_counting(arcs, count):
    found = circular.at_least(arcs, count)
    for angle in angles:
        if not near_an_end(arcs, angle):
            assert bool(circular.contains(found, angle)) == (depth_by_counting(arcs, angle) >= count)


@given(arcs_lists, st.integers(1, 3))
@settings(derandomize=True, deadline=None)
def test_normal_form(arcs, count):
    found = circular.at_least(arcs, count)
    assert np.all((found[:, 0] >= 0) & (found[:, 0] < 360))
    assert np.all((found[:, 1] > found[:, 0]) & (found[:, 1] <= found[:, 0] + 360))
    assert np.all(found[1:, 0] > found[:-1, 1])
    if len(found) > 1:
        assert found[-1, 1] - 360 < found[0, 0]


@given(arcs_lists)
@settings(derandomize=True, deadline=None)
def test_a_set_and_its_complement_share_the_circle(arcs):
    own, other = circular.at_least(arcs), circular.complement(arcs)
    assert circular.total_deg(own) + circular.total_deg(other) == pytest.approx(360.0, abs=1e-6)
    assert circular.total_deg(circular.intersection(own, other)) == pytest.approx(0.0, abs=1e-6)


@given(arcs_lists, arcs_lists)
@settings(derandomize=True, deadline=None)
def test_difference_and_intersection_make_up_the_first(first, second):
    both = circular.total_deg(circular.intersection(first, second))
    rest = circular.total_deg(circular.difference(first, second))
    assert both + rest == pytest.approx(circular.total_deg(first), abs=1e-5)


@given(arcs_lists, st.floats(-400, 400))
@settings(derandomize=True, deadline=None)
def test_turning_and_mirroring_keep_the_width(arcs, by):
    total = circular.total_deg(arcs)
    assert circular.total_deg(circular.turned(arcs, by)) == pytest.approx(total, abs=1e-6)
    assert circular.total_deg(circular.mirrored(arcs)) == pytest.approx(total, abs=1e-6)
    again = circular.mirrored(circular.mirrored(arcs))
    assert circular.total_deg(circular.difference(again, arcs)) == pytest.approx(0.0, abs=1e-5)


def test_holds_asks_for_the_whole_arc_in_one_piece():
    arcs = [(350.0, 370.0), (100.0, 140.0)]
    assert circular.holds(arcs, 352, 368)
    assert circular.holds(arcs, -8, 8)
    assert circular.holds(arcs, 100, 140)
    assert not circular.holds(arcs, 99.9, 101)
    assert not circular.holds(arcs, 365, 372)
    assert circular.holds([(0.0, 360.0)], 300, 500)
    assert not circular.holds([], 0, 0)
