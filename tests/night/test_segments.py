import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from guidestar.angles import circular
from guidestar.night import holding
from guidestar.night.segments import Segments, hardest, turning_cells, window_moments


def parts(starts, ends):
    count = len(starts)
    return Segments(
        first=np.arange(count),
        window=np.zeros(count, np.int64),
        start_s=np.array(starts, float),
        end_s=np.array(ends, float),
        airmass=np.ones(count),
        sky_v=np.full(count, 20.0),
        flipped=np.zeros(count, bool),
    )


def test_moments_are_ends_flips_and_quarter_hours():
    found = window_moments(1000.0, 5000.0, [3000.0, 9000.0])
    assert found.tolist() == [1000.0, 1800.0, 2700.0, 3000.0, 3600.0, 4500.0, 5000.0]


def test_moments_that_all_but_coincide_are_looked_at_once():
    assert window_moments(890.0, 2710.0, [1795.0]).tolist() == [890.0, 1795.0, 2710.0]


def test_a_window_shorter_than_a_quarter_hour_has_its_ends():
    assert window_moments(1000.0, 1100.0, []).tolist() == [1000.0, 1100.0]


@settings(derandomize=True, deadline=None)
@given(st.lists(st.tuples(st.floats(1, 5), st.floats(16, 22)), min_size=1, max_size=30))
def test_every_air_and_sky_is_outdone_by_one_that_is_kept(pairs):
    airmass, sky = (np.array(column) for column in zip(*pairs, strict=True))
    kept = hardest(airmass, sky)
    for x, v in pairs:
        assert np.any((airmass[kept] >= x) & (sky[kept] <= v))
    for one in kept:
        others = kept[kept != one]
        assert not np.any((airmass[others] >= airmass[one]) & (sky[others] <= sky[one]))


def test_cells_follow_the_turning_camera():
    fine = np.arange(0.0, 1801.0, 10.0)
    angle = 30.0 * np.sin(fine / 1800.0 * np.pi)
    cells = turning_cells(parts([0.0, 900.0], [900.0, 1800.0]), fine, angle, 0.5)
    assert cells.start_s[0] == 0.0
    assert cells.end_s[-1] == 1800.0
    assert cells.start_s[1:].tolist() == cells.end_s[:-1].tolist()
    assert np.all(cells.high_deg - cells.low_deg <= 1.1)
    for i in range(len(cells)):
        inside = (fine >= cells.start_s[i]) & (fine <= cells.end_s[i])
        assert angle[inside].min() == pytest.approx(cells.low_deg[i])
        assert angle[inside].max() == pytest.approx(cells.high_deg[i])


def test_dial_angles_stay_in_the_set_while_the_camera_turns():
    assert holding.dial_arcs(np.array([[10.0, 30.0]]), -2.0, 3.0).tolist() == [[12.0, 27.0]]
    assert holding.dial_arcs(np.array([[10.0, 12.0]]), 0.0, 3.0).shape == (0, 2)
    assert holding.dial_arcs(circular.FULL_CIRCLE, -2.0, 3.0).tolist() == [[0.0, 360.0]]


arcs = st.lists(st.tuples(st.integers(-720, 720), st.integers(1, 300), st.integers(1, 9)), min_size=1, max_size=12)


@settings(derandomize=True, deadline=None)
@given(arcs)
def test_the_heaviest_angles_equal_those_counted_one_by_one(made):
    spans = np.array([[start, start + wide] for start, wide, _ in made], float)
    weights = np.array([weight for *_, weight in made], float)
    found, most = holding.heaviest(spans, weights)
    looks = np.arange(0.5, 360.0, 1.0)
    ahead = np.mod(looks[:, None] - spans[:, 0], 360.0)
    sums = ((ahead < spans[:, 1] - spans[:, 0]) * weights).sum(axis=1)
    assert most == sums.max()
    assert circular.contains(found, looks).tolist() == (sums == sums.max()).tolist()


def test_nothing_is_heaviest_of_nothing():
    found, most = holding.heaviest(circular.NOTHING, np.empty(0))
    assert (len(found), most) == (0, 0.0)
