"""A seeded share of the hit-rate run (`tests/benchmarks/flat_detection.py`), as pass or fail."""

import subprocess
import sys

import numpy as np
import pytest
from support import flat_sets, flats

from guidestar.flat.analyse import analyse
from guidestar.flat.frame import flat_frame


@pytest.mark.parametrize("rig", [False, True], ids=["no rig", "rig known"])
@pytest.mark.parametrize("kind", ["edge, 10–60 %", "corner, 20–60 %"])
def test_shadows_are_found_where_they_are_and_as_deep(kind, rig):
    """Side right and depth within 20 %: in at least 98 % of the full run, here in all."""
    count = 3
    tally, draw_out = flat_sets.measure(kind, count, rig=rig)
    assert tally["place"] == count
    assert tally["depth"] == count
    assert tally["shadow"] == count
    if rig:
        assert len(draw_out) == count
        assert np.max(draw_out) < 0.3


@pytest.mark.parametrize("rig", [False, True], ids=["no rig", "rig known"])
def test_no_alarm_without_a_shadow(rig):
    tally, _ = flat_sets.measure("no shadow", 3, rig=rig)
    assert tally["none"] == 3


@pytest.mark.slow
def test_round_openings_are_seldom_taken_for_the_prism():
    """They are a set of their own, with a false-alarm rate that the full run prints: here one of four at most."""
    tally, _ = flat_sets.measure("off-centre round stop", 4, rig=True)
    assert tally["shadow"] + tally["possible"] <= 1
    assert tally["other"] >= 2


def test_faint_shadows_are_called_possible():
    flat = flats.shadowed_flat(5, "left", 0.06)
    found = analyse(flat_frame(flat.pixels))
    assert (found.verdict, found.place) == ("possible", "left")
    assert found.depth == pytest.approx(0.06, rel=0.2)


def test_a_whole_frame_under_a_colour_mosaic():
    flat = flats.shadowed_flat(7, "bottom right", 0.3, colour=True, size=(1500, 1000))
    found = analyse(flat_frame(flat.pixels))
    assert (found.verdict, found.place, found.colour) == ("shadow", "bottom right", True)
    assert found.depth == pytest.approx(0.3, rel=0.1)
    assert (found.width_px, found.height_px) == (1500, 1000)
    assert 0.9 < found.confidence <= 1.0


def test_turning_the_picture_turns_the_answer():
    flat = flats.shadowed_flat(21, "top", 0.25)
    seen = {name: analyse(flat_frame(np.ascontiguousarray(turned))) for name, turned in (
        ("top", flat.pixels), ("bottom", flat.pixels[::-1]), ("right", np.rot90(flat.pixels, -1)),
    )}  # fmt: skip
    assert {name: found.place for name, found in seen.items()} == {name: name for name in seen}
    depths = [found.depth for found in seen.values()]
    assert np.ptp(depths) < 0.02


def test_a_shadow_of_another_prism_is_not_called_this_rigs():
    flat = flats.shadowed_flat(11, "top", 0.2)
    sensor = flat_sets.sensor_of(flat)
    other = flat_sets.Body(1.0, 3.0 * sensor.body.beam_mm, 0.0, 4.0 * sensor.body.width_mm, 8.0, 15.0)
    found = analyse(flat_frame(flat.pixels), flat_sets.Sensor(23.5, 15.7, 1000 * 23.5 / 600, 0.0, other))
    assert (found.verdict, found.place) == ("other", "top")
    assert found.draw_out_mm is None


def test_the_fits_run_on_one_thread_also_the_first_time():
    """Several would wait for each other on a busy machine; a library loaded too late would keep its own."""
    code = (
        "import numpy as np, guidestar.flat.analyse as a; from guidestar.flat.frame import Frame\n"
        "def threads(*_):\n"
        "    from threadpoolctl import threadpool_info\n"
        "    import scipy.optimize\n"
        "    return {pool['num_threads'] for pool in threadpool_info() if pool['user_api'] == 'blas'}\n"
        "a._analyse = threads\n"
        "print(a.analyse(Frame(np.ones((90, 120), np.float32), False, 120, 90)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() in ("{1}", "set()")  # none where the system brings its own library
