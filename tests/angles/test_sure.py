import numpy as np
import pytest

from guidestar.angles import circular, twin
from guidestar.angles.sure import sure_turns, usable_turns
from guidestar.optics.guidefield import guide_polygon, half_planes, swept_radii_mm


def random_case(seed):
    rng = np.random.default_rng(seed)
    polygon = guide_polygon(
        sensor_width_mm=rng.uniform(3, 14), sensor_height_mm=rng.uniform(2, 8),
        turned_deg=float(rng.choice([0, 0, 20, 45, 90, -33])), edge_margin_mm=0.1,
        prism_width_mm=rng.uniform(5, 14), prism_height_mm=8, centre_mm=rng.uniform(3, 15), face_scale=0.9,
    )  # fmt: skip
    inner, outer = swept_radii_mm(polygon)
    stars = int(rng.integers(1, 30))
    radius = rng.uniform(max(0, inner - 2), outer + 2, stars)
    return half_planes(polygon), radius, rng.uniform(0, 360, stars), int(rng.integers(1, 4)), rng.uniform(0.2, 2)


def critical_moves(planes, radius, phase, turn, accuracy):
    """Every move at which some star meets some edge, and the middles between them: enough to decide exactly."""
    direction = np.radians(phase - turn)
    x, y = radius * np.sin(direction), radius * np.cos(direction)
    sloping = np.abs(planes[:, 1]) > 1e-12
    a, b, c = planes[sloping].T[:, :, None]
    moves = np.sort(((a * x + b * y - c) / b).ravel())
    moves = np.concatenate(([-accuracy], moves[np.abs(moves) < accuracy], [accuracy]))
    return (moves[:-1] + moves[1:])[np.diff(moves) > 1e-12] / 2


@pytest.mark.parametrize("seed", range(40))
def test_sure_turns_equal_the_slow_twin(seed):
    planes, radius, phase, count, accuracy = random_case(seed)
    found = sure_turns(planes, radius, phase, count, accuracy)
    rows = [tuple(row) for row in planes.tolist()]
    step = 1.0
    edges = found.ravel() % 360
    for turn in np.arange(step / 3, 360, step):
        if len(edges) and np.min(np.abs((edges - turn + 180) % 360 - 180)) < 0.02:
            continue
        moves = critical_moves(planes, radius, phase, turn, accuracy)
        expected = twin.usable(rows, radius, phase, turn, count, moves)
        assert bool(circular.contains(found, turn)) == expected, turn


@pytest.mark.parametrize("seed", range(40))
def test_every_end_of_a_sure_range_is_one(seed):
    planes, radius, phase, count, accuracy = random_case(seed)
    rows = [tuple(row) for row in planes.tolist()]
    found = sure_turns(planes, radius, phase, count, accuracy)
    for start, end in found:
        for turn, inside in ((start + 0.005, True), (end - 0.005, True), (start - 0.005, False), (end + 0.005, False)):
            if end - start < 0.02 or bool(circular.contains(found, turn)) != inside:
                continue  # another range begins within the step
            moves = critical_moves(planes, radius, phase, turn, accuracy)
            assert twin.usable(rows, radius, phase, turn, count, moves) == inside


def test_two_stars_can_be_sure_together():
    # A field 10 mm wide and 3 mm high about (0, 10); ± 2 mm. One star low and one high in it: neither alone stays,
    # together they do.
    planes = half_planes(np.array([[-5, 8.5], [5, 8.5], [5, 11.5], [-5, 11.5]]))
    radius, phase = np.array([8.8, 11.2]), np.array([0.0, 0.0])
    for alone in (0, 1):
        assert circular.total_deg(sure_turns(planes, radius[[alone]], phase[[alone]], 1, 2.0)) == 0
    together = sure_turns(planes, radius, phase, 1, 2.0)
    assert circular.contains(together, 0.0)
    assert not len(sure_turns(planes, radius, phase, 2, 2.0))


def test_no_doubt_means_every_usable_turn_is_sure():
    planes, radius, phase, count, _ = random_case(7)
    assert np.allclose(sure_turns(planes, radius, phase, count, 0.0), usable_turns(planes, radius, phase, count))


@pytest.mark.parametrize("seed", range(20))
def test_sure_is_part_of_usable_and_shrinks_with_doubt(seed):
    planes, radius, phase, count, accuracy = random_case(seed)
    usable = usable_turns(planes, radius, phase, count)
    small, large = (sure_turns(planes, radius, phase, count, accuracy * f) for f in (0.5, 1.0))
    assert circular.total_deg(circular.difference(small, usable)) == pytest.approx(0, abs=1e-6)
    assert circular.total_deg(circular.difference(large, small)) == pytest.approx(0, abs=1e-6)
