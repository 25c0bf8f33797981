import numpy as np
import pytest

from guidestar.night import explain, window
from guidestar.rig import Mount, Site
from guidestar.sky.ephemeris import Observer, moments, star_tracks

START = 1795600800.0
GRID = moments(START, START + 86400.0)
NORTH = Observer(50.0, 10.0)


def track(ra, dec, observer=NORTH):
    return star_tracks(ra, dec, GRID, observer)[0]


def site(**more):
    return Site(latitude_deg=50.0, longitude_deg=10.0, **more)


def test_a_horizon_line_goes_straight_between_its_points_and_round_past_north():
    line = site(horizon_deg=((10.0, 20.0), (90.0, 40.0), (350.0, 10.0)))
    azimuths = np.array([10.0, 50.0, 90.0, 350.0, 0.0, 355.0, 220.0])
    assert window.horizon_line(line, azimuths) == pytest.approx([20.0, 30.0, 40.0, 10.0, 15.0, 12.5, 25.0])


def test_a_horizon_line_of_one_point_or_of_nought_to_360():
    assert window.horizon_line(site(horizon_deg=((180.0, 25.0),)), np.array([0.0, 90.0])) == pytest.approx([25.0, 25.0])
    closed = site(horizon_deg=((0.0, 10.0), (180.0, 30.0), (360.0, 10.0)))
    assert window.horizon_line(closed, np.array([0.0, 90.0, 359.999])) == pytest.approx([10.0, 20.0, 10.0], abs=1e-3)


def test_a_target_is_up_from_where_it_crosses_the_line():
    there = track(0.0, 20.0)
    (start, end), *_ = window.up_spans(there, site(horizon_deg=25.0), 0.0)
    for at in (start, end):
        assert there.at(at)[0][0] == pytest.approx(25.0, abs=1e-3) or at in (GRID[0], GRID[-1])
    stricter = window.up_spans(there, site(horizon_deg=25.0), 40.0)
    assert (stricter[:, 1] - stricter[:, 0]).sum() < end - start


def test_a_tree_cuts_the_night_in_two():
    tree = site(horizon_deg=((0.0, 20.0), (170.0, 20.0), (175.0, 80.0), (185.0, 80.0), (190.0, 20.0), (359.0, 20.0)))
    assert len(window.up_spans(track(0.0, 20.0), tree, 0.0)) == 2


@pytest.mark.parametrize(("dec", "spans"), [(-60.0, 0), (75.0, 1), (90.0, 1)])
def test_never_rising_never_setting_and_the_pole(dec, spans):
    up = window.up_spans(track(100.0, dec), site(), 0.0)
    assert len(up) == spans
    if spans:
        assert up.tolist() == [[GRID[0], GRID[-1]]]


@pytest.mark.parametrize("dec", [-20.0, 20.0, 50.0, 75.0])
@pytest.mark.parametrize("delay_min", [0.0, 12.0, -30.0])
def test_a_german_mount_turns_over_after_the_transit(dec, delay_min):
    there = track(40.0, dec)
    crossings = window.meridian(there, Mount(flip_after_min=delay_min), 50.0)
    for at in crossings.upper:
        altitude, azimuth = there.at(at)
        assert min(azimuth[0], 360.0 - azimuth[0], abs(azimuth[0] - 180.0)) < 0.05 or altitude[0] > 89.0
        sidereal_s = delay_min * 60.0 * 15.0 / 15.041067
        assert np.min(np.abs(crossings.flips - at - sidereal_s)) < 0.6 + 0.003 * abs(delay_min) * 60.0
    flips = crossings.flips
    inside = flips[(flips > GRID[0] + 120) & (flips < GRID[-1] - 120)]
    before, after = (window.flipped(there, Mount(flip_after_min=delay_min), 50.0, inside + s) for s in (-60.0, 60.0))
    assert np.all(before != after)
    assert len(inside) == 2


def test_other_mounts_do_not_turn_over():
    there = track(40.0, 20.0)
    assert len(window.meridian(there, Mount(kind="fork"), 50.0).flips) == 0
    assert not window.flipped(there, Mount(kind="altaz"), 50.0, GRID).any()


def test_windows_name_what_bounds_them():
    dark = np.array([[START + 20_000.0, START + 60_000.0]])
    up = np.array([[START, START + 30_000.0], [START + 50_000.0, START + 86_400.0]])
    pairs = window.windows(up, dark)
    named = window.named(pairs, dark, (START, START + 86_400.0))
    assert [(w.begins, w.ends) for w in named] == [("dusk", "sets"), ("rises", "dawn")]
    everything = np.array([[START, START + 86_400.0]])
    (whole,) = window.named(window.windows(everything, everything), everything, (START, START + 86_400.0))
    assert (whole.begins, whole.ends) == ("night begins", "night ends")


def test_less_than_a_minute_is_no_window():
    dark = np.array([[START + 100.0, START + 200.0]])
    assert len(window.windows(np.array([[START, START + 130.0]]), dark)) == 0


def test_where_it_comes_nearest_to_the_limit_is_above_the_horizon():
    """At −3° of 2° asked it is nearer than at 10° of 40°, but nobody can see it there."""
    said = explain._too_low(np.array([-3.0, 5.0, 10.0]), np.array([2.0, 60.0, 40.0]))
    assert "at 10°, where at least 40° are asked" in said
