"""The compiled angle kernels against the numpy code that they speed up: the same arcs, sets, light and sure angles."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numba import njit
from numba.extending import is_jitted
from support.rigs import COMPOUND, FAST, NEWTONIAN, REFRACTOR, rig

from guidestar.angles import (
    acceptance,
    circular,
    kernels,
    kernels_circle,
    kernels_light,
    kernels_pairs,
    kernels_places,
    kernels_sure,
    kernels_sure_lit,
)
from guidestar.angles import light as slow_light
from guidestar.angles import light_sure as slow_light_sure
from guidestar.angles import sure as slow_sure
from guidestar.field import geometry
from guidestar.field.light import rig_light
from guidestar.maps.facts import sweep_facts
from guidestar.maps.numbers import _beam, _corners, rig_numbers
from guidestar.optics.guidefield import half_planes
from guidestar.optics.vignetting import vignetting

pytestmark = pytest.mark.slow  # each kernel is compiled when it is first asked


@cache
def from_python(kernel):
    """Return an inner kernel as Python can call it: those of the package can be called by kernels only."""
    return njit(lambda *given: kernel(*given))


class Callable:
    """A module whose kernels can be called."""

    def __init__(self, module) -> None:
        self.module = module

    def __getattr__(self, name: str):
        found = getattr(self.module, name)
        return from_python(found) if is_jitted(found) else found


(kernels, kernels_circle, kernels_light, kernels_pairs, kernels_places, kernels_sure, kernels_sure_lit) = map(
    Callable, (kernels, kernels_circle, kernels_light, kernels_pairs, kernels_places, kernels_sure, kernels_sure_lit)
)

OUTLINES = {
    "rectangle": half_planes(geometry.field_polygon(rig(COMPOUND))),
    "cut by the prism": half_planes(geometry.field_polygon(rig(NEWTONIAN))),
    "octagon": half_planes(geometry.field_polygon(rig(NEWTONIAN, guide_camera__turned_deg=40.0))),
    "turned": half_planes(geometry.sensor_polygon(rig(FAST, guide_camera__turned_deg=33.0))),
    "holds the axis": half_planes(geometry.sensor_polygon(rig(COMPOUND, guide_camera__height_mm=40.0))),
}
TURN = 2 * np.pi


@pytest.mark.parametrize("name", OUTLINES)
def test_arcs_are_those_of_the_polygon(name: str) -> None:
    planes = OUTLINES[name]
    table = kernels.arc_table(planes)
    radii = np.random.default_rng(1).uniform(0, table[-1, 0] * 1.02, 300)
    owner, arcs = acceptance.polygon_arcs(planes, radii)
    room = np.empty((2, 16))
    for i, radius in enumerate(radii):
        number = kernels.add_arcs(table, radius, 0.7, room, 0)
        found = circular.at_least(np.degrees(room[:, :number].T))
        wanted = circular.at_least(
            acceptance.direction_to_turn(np.full(len(radii), np.degrees(0.7)), owner, arcs)[owner == i]
        )
        assert found == pytest.approx(wanted, abs=1e-7)
        assert kernels.arc_length(table, radius) == pytest.approx(np.radians(circular.total_deg(wanted)), abs=1e-9)


def test_an_empty_polygon_has_no_arcs() -> None:
    nothing = slow_sure.moved_limits(OUTLINES["rectangle"], -5.0)
    table = kernels.arc_table(nothing)
    assert kernels.arc_length(table, 15.0) == 0.0
    assert kernels.add_arcs(table, 15.0, 0.0, np.empty((2, 4)), 0) == 0


ARCS = st.lists(st.tuples(st.floats(-20, 20), st.floats(0.0, 7.0)), max_size=12)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(spans=ARCS, count=st.integers(1, 3))
def test_what_arcs_leave_open(spans: list[tuple[float, float]], count: int) -> None:
    arcs, marks = kernels_circle.room_for_arcs(20)
    for i, (start, width) in enumerate(spans):
        arcs[0, i], arcs[1, i] = start, start + min(width, TURN)
    gaps = kernels_circle.wanting(arcs, marks, len(spans), count)
    found = np.degrees(arcs[3:5, :gaps].T)
    covered = circular.at_least(np.degrees(arcs[:2, : len(spans)].T), count)
    blind = circular.complement(covered)
    assert circular.total_deg(found) == pytest.approx(circular.total_deg(blind), abs=1e-6)
    assert circular.total_deg(circular.intersection(found, covered)) == pytest.approx(0.0, abs=1e-6)
    for start, end, missing in zip(*found.T, marks[1, :gaps], strict=True):
        if end - start > 1e-6:
            middle = np.radians((start + end) / 2)
            there = sum((middle - a) % TURN < min(w, TURN) for a, w in spans)
            assert missing == count - there
    runs = kernels_circle.joined(arcs, gaps)
    widths = blind[:, 1] - blind[:, 0]
    if not np.any((widths > 0) & (widths < 1e-5)):
        assert np.degrees(kernels_circle.widest(arcs, 5, runs)) == pytest.approx(np.max(widths, initial=0), abs=1e-5)
    both = circular.intersection(blind, circular.turned(blind, 180.0))
    shared = kernels_circle.shared_half_a_turn_away(arcs, gaps)
    assert np.degrees(shared) == pytest.approx(circular.total_deg(both), abs=1e-5)


@settings(derandomize=True, deadline=None, max_examples=80)
@given(runs=st.lists(st.tuples(st.integers(0, 255), st.integers(0, 62)), max_size=20), count=st.integers(1, 2))
def test_bits_count_whole_cells(runs: list[tuple[int, int]], count: int) -> None:
    bits, depth = kernels_circle.empty_bits(count), np.zeros(256, int)
    kernels_circle.clear(bits)
    for start, length in runs:
        kernels_circle.cover(bits, start, length)
        np.add.at(depth, (start + np.arange(length)) % 256, 1)
    on = np.array([(bits[count, cell >> 6] >> (cell & 63)) & 1 for cell in range(256)], bool)
    assert np.array_equal(on, depth >= count)
    assert kernels_circle.all_covered(bits) == on.all()
    for start, length in ((0, 256), (250, 12), (3, 0), (60, 130)):
        assert kernels_circle.range_covered(bits, start, length) == on[(start + np.arange(length)) % 256].all()
    arcs, _ = kernels_circle.room_for_arcs(300)
    number = kernels_circle.add_covered(bits, arcs, 0)
    assert np.sum(arcs[1, :number] - arcs[0, :number]) == pytest.approx(count * on.sum() * kernels_circle.CELL)


LIGHTS = {
    "compound": rig(COMPOUND, prism__width_mm=7.0),
    "ring of light": rig(FAST),
    "no hole": rig(REFRACTOR, telescope__image_circle_mm=30.0),
}


@pytest.mark.parametrize("name", LIGHTS)
def test_light_is_that_of_the_optics(name: str) -> None:
    light = rig_light(LIGHTS[name])
    beam = _beam(light)
    chance = np.random.default_rng(3)
    x, y = chance.uniform(-12, 12, 400), chance.uniform(5, 30, 400)
    found = [kernels_light.transmission(beam, *point) for point in zip(x, y, strict=True)]
    assert found == pytest.approx(light.transmission(x, y), abs=1e-13)
    assert kernels_light.transmission(beam, 0.0, light.face.offset_mm / beam.scale) > 0.2
    radii = np.linspace(0, 40, 60)
    passed = vignetting(radii, light.image_circle_mm, light.footprint.diameter_mm)
    assert [kernels_light.vignetting(beam, radius) for radius in radii] == pytest.approx(passed, abs=1e-14)


@pytest.mark.parametrize("name", ["compound", "ring of light", "no hole"])
def test_lit_arcs_are_those_of_the_scan(name: str) -> None:
    light = rig_light(LIGHTS[name])
    beam, sensor = _beam(light), light.sensor
    chance = np.random.default_rng(4)
    table = kernels.arc_table(sensor.sensor)
    scan = [
        np.empty(kernels_light.MOST_POINTS),
        np.empty(kernels_light.MOST_POINTS),
        np.empty((kernels_light.MOST_SPANS, 2)),
    ]
    inner, outer = table[:-1][table[:-1, 1] != 0][0, 0], table[-1, 0]
    seen = 0
    for radius in chance.uniform(inner, outer, 60):
        level = chance.uniform(light.grid_transmission.min(), light.grid_transmission.max() * 1.02)
        _, wanted = slow_light.lit_arcs(sensor, np.array([radius]), np.array([level]), -1.0)
        owner, whole = acceptance.polygon_arcs(sensor.sensor, np.array([radius]))
        found = []
        for start, end in np.radians(whole):
            number = kernels_light.lit_spans(
                beam, kernels_light.ON_CIRCLE, radius, 0.0, level, start, end, radius * (end - start), *scan
            )
            found += np.degrees(scan[2][:number]).tolist()
        assert circular.at_least(np.reshape(found, (-1, 2))) == pytest.approx(circular.at_least(wanted), abs=1e-6)
        seen += len(wanted)
        assert len(owner) == len(whole)
    assert seen > 20


@pytest.mark.parametrize("name", OUTLINES)
@pytest.mark.parametrize("mirrored", [False, True])
def test_runs_of_squares_are_certain(name: str, mirrored: bool) -> None:
    """Inner cells are wholly covered by any star of the square; what any star covers lies in outer cells."""
    planes, side = OUTLINES[name], 0.9
    table, corners = kernels.arc_table(planes), _corners(planes)
    polar = np.column_stack((np.arctan2(corners[:, 0], corners[:, 1]), np.hypot(*corners.T)))
    half = float(polar[:, 1].max())
    inside = np.all(planes[:, 2] > 0)
    inner, outer = kernels_places.empty_runs(), kernels_places.empty_runs()
    kernels_places.fill(inner, outer, table, polar[:0] if inside else polar, half, side, mirrored)
    scale, room, cell = kernels_places.squares_a_mm(half), np.empty((2, 16)), kernels_circle.CELL
    chance, certain, total = np.random.default_rng(6), 0.0, 0.0
    for x, y in chance.uniform(-half, half, (1500, 2)):
        phase = (-np.arctan2(x, y) if mirrored else np.arctan2(x, y)) - side
        number = kernels.add_arcs(table, float(np.hypot(x, y)), float(phase), room, 0)
        own = np.degrees(room[:, :number].T)
        run = [kernels_places.run_at(runs, scale, x, y) for runs in (inner, outer)]
        first, length = (kernels_places.first_cell(run[0]), kernels_places.cells_of(run[0]))
        sure = np.degrees([[first * cell, (first + length) * cell]]) if length else circular.NOTHING
        assert circular.total_deg(circular.difference(sure, own)) < 1e-9
        first, length = (kernels_places.first_cell(run[1]), kernels_places.cells_of(run[1]))
        touched = np.degrees([[first * cell, (first + length) * cell]]) if length else circular.NOTHING
        assert circular.total_deg(circular.difference(own, touched)) < 1e-9
        certain, total = certain + circular.total_deg(sure), total + circular.total_deg(own)
    assert inside or certain > 0.7 * total


def stars_on(planes: np.ndarray, accuracy: float, number: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return radii and phases (degrees) of stars that some move brings inside."""
    corners = _corners(slow_sure.moved_limits(planes, accuracy))
    chance = np.random.default_rng(seed)
    low, high = np.hypot(*corners.T).min() * 0.9, np.hypot(*corners.T).max()
    return chance.uniform(low, high, number), chance.uniform(0, 360, number)


@pytest.mark.parametrize("name", ["rectangle", "cut by the prism", "octagon", "turned"])
@pytest.mark.parametrize(("count", "number"), [(1, 25), (1, 60), (2, 60)])
def test_sure_turns_are_those_of_the_slow_code(name: str, count: int, number: int) -> None:
    """All stars are put forward on pieces between the turns at which one comes into reach or leaves it."""
    planes, accuracy = OUTLINES[name], 0.8
    radius, phase = stars_on(planes, accuracy, number, seed=count + number)
    wanted = slow_sure.sure_turns(planes, radius, phase, count, accuracy)
    owner, arcs = acceptance.polygon_arcs(slow_sure.moved_limits(planes, accuracy), radius)
    reach = acceptance.direction_to_turn(phase, owner, arcs)
    marks = np.unique(np.append(np.mod(reach, 360.0), [0.0, 360.0]))
    gamma = np.radians(phase)
    stars = np.column_stack((radius * np.sin(gamma), radius * np.cos(gamma), radius, np.zeros(number)))
    room, smooth = kernels_sure.room_for(4 * number), kernels_sure.is_smooth(planes)
    total = 0.0
    for low, high in pairwise(marks):
        middle = (low + high) / 2
        on = np.unique(owner[np.mod(middle - reach[:, 0], 360.0) < reach[:, 1] - reach[:, 0]])
        chosen = np.vstack((np.zeros(len(on), int), on))
        found = kernels_sure.sure_width(
            planes, smooth, stars, chosen, len(on), np.radians(low), np.radians(high), count, accuracy, room
        )
        here = circular.total_deg(circular.intersection([[low, high]], wanted))
        assert np.degrees(found) == pytest.approx(here, abs=1e-4)
        total += found
    assert np.degrees(total) == pytest.approx(circular.total_deg(wanted), abs=1e-3)
    assert 5 < circular.total_deg(wanted) < 355


def rectangle(left: float, right: float, low: float, high: float) -> np.ndarray:
    """Return a rectangle's half-planes."""
    return np.array([[-1.0, 0.0, -left], [1.0, 0.0, right], [0.0, -1.0, -low], [0.0, 1.0, high]])


RECTANGLES = {
    "usual": (OUTLINES["rectangle"], 0.8),
    "aside, and hardly higher than 2δ": (rectangle(-1.0, 3.0, 12.0, 13.7), 0.8),
    "wide and near the axis": (rectangle(-9.0, 9.0, 1.0, 6.0), 0.9),
    "prism known exactly": (OUTLINES["rectangle"], 0.0),
}


@pytest.mark.parametrize("name", RECTANGLES)
@pytest.mark.parametrize("number", [2, 12, 40])
def test_sure_turns_of_a_rectangle_in_closed_form(name: str, number: int) -> None:
    planes, accuracy = RECTANGLES[name]
    field = kernels_pairs.rectangle_of(planes, accuracy, 1)
    assert field.known
    radius, phase = stars_on(planes, accuracy, number, seed=number)
    wanted = slow_sure.sure_turns(planes, radius, phase, 1, accuracy)
    bits, strips = kernels_circle.empty_bits(1), kernels_pairs.room_for_strips(number)
    kernels_circle.clear(bits)
    arcs, marks = kernels_circle.room_for_arcs(4 * number**2)
    count = (0, 0, 0)
    for rho, gamma in zip(radius, np.radians(phase), strict=True):
        place = (rho * np.sin(gamma), rho * np.cos(gamma))
        count = kernels_pairs.add_parts(field, *place, rho, bits, arcs, strips, count)
    n = kernels_pairs.add_pairs(field, strips, count[1], count[2], bits, arcs, count[0])
    gaps = kernels_circle.wanting(arcs, marks, n, 1)
    found = circular.complement(np.degrees(arcs[3:5, :gaps].T))
    assert circular.total_deg(circular.difference(found, wanted)) == pytest.approx(0.0, abs=1e-5)
    assert circular.total_deg(circular.difference(wanted, found)) == pytest.approx(0.0, abs=1e-5)
    whole = np.repeat((bits[1][:, None] >> np.arange(64)) & 1, 2)
    ends = np.arange(513) * np.degrees(kernels_circle.CELL) / 2
    covered = circular.at_least(np.column_stack((ends[:-1], ends[1:]))[whole == 1])
    assert circular.total_deg(circular.difference(covered, wanted)) == pytest.approx(0.0, abs=1e-5)


def test_pairs_are_not_enough_elsewhere_and_a_full_room_is_told() -> None:
    usual = OUTLINES["rectangle"]
    assert not kernels_pairs.rectangle_of(usual, 0.8, 2).known
    assert not kernels_pairs.rectangle_of(usual, 1.6, 1).known
    assert not kernels_pairs.rectangle_of(rectangle(-3.0, 3.0, 0.5, 6.0), 0.8, 1).known
    for name in ("octagon", "turned", "holds the axis"):
        assert not kernels_pairs.rectangle_of(OUTLINES[name], 0.8, 1).known
    strips, bits = np.zeros((8, 4)), kernels_circle.empty_bits(1)
    strips[[1, 5]], strips[3], strips[7] = 0.1, 10.0, 11.0
    few, _ = kernels_circle.room_for_arcs(3)
    assert kernels_pairs.add_pairs(kernels_pairs.rectangle_of(usual, 0.8, 1), strips, 2, 2, bits, few, 0) == -1


LIT = {
    "narrow prism before a wide sensor": (rig(COMPOUND, prism__width_mm=4.0, guide_camera__width_mm=11.2), 1),
    "the same, two stars": (rig(COMPOUND, prism__width_mm=4.0, guide_camera__width_mm=11.2), 2),
    "ring of light": (rig(FAST), 1),
}


@pytest.mark.parametrize("name", LIT)
def test_sure_turns_with_light_against_turn_by_turn(name: str) -> None:
    """Plain stars and others together, all put forward for 20°; every 0.02° asked of the numpy code."""
    a_rig, count = LIT[name]
    light, number = rig_light(a_rig), 6
    planes, accuracy = light.sensor.sensor, geometry.accuracy_mm(a_rig)
    beam = _beam(light)
    chance = np.random.default_rng(8)
    nearest, farthest = np.hypot(*_corners(planes).T).min(), np.hypot(*_corners(planes).T).max()
    most = light.grid_transmission.max()
    turns = np.arange(0.01, 20.0, 0.02)
    some = 0.0
    for _ in range(6):
        phase = chance.uniform(-5.0, 25.0, number)
        radius = chance.uniform(nearest - accuracy, farthest, number)
        need = chance.uniform(max(light.fully_lit, 0.6 * most), most, number)
        radius[0], need[0] = nearest - accuracy / 2, 0.0  # plain, but not enough alone
        judge = slow_light_sure.LightJudge(planes, radius, phase, count, accuracy, light.sensor, need, light.fully_lit)
        wanted = np.mean(judge.sure_at(np.arange(number), turns)) * 20.0
        gamma = np.radians(phase)
        stars = np.column_stack((radius * np.sin(gamma), radius * np.cos(gamma), radius, need))
        chosen, room = np.tile(np.arange(number), (2, 1)), kernels_sure.room_for(4 * number)
        found = kernels_sure_lit.sure_with_light(
            planes, beam, stars, chosen, 1, number, 0.0, np.radians(20.0), count, accuracy, room
        )
        assert np.degrees(found) == pytest.approx(wanted, abs=0.1)
        some += wanted
    assert 5.0 < some < 75.0, "all would be easy"


@pytest.mark.parametrize("name", LIGHTS)
def test_light_never_changes_faster_than_said(name: str) -> None:
    light = rig_light(LIGHTS[name])
    most = kernels_sure_lit.steepest(_beam(light))
    x, y = np.meshgrid(np.linspace(-12, 12, 481), np.linspace(2, 34, 641))
    slopes = np.hypot(*np.gradient(light.transmission(x, y), 0.05))
    assert most / 4 < slopes.max() <= most


def test_no_number_of_a_rig_is_lost() -> None:
    """The kernels' ring holds the field wherever the prism is, and a plain star is one that is lit everywhere."""
    a_rig = rig(NEWTONIAN)
    facts = sweep_facts(a_rig)
    field = rig_numbers(facts).numbers
    accuracy = geometry.accuracy_mm(a_rig)
    assert field.accuracy_mm == accuracy
    assert field.inner_mm < facts.field.inner_mm
    assert field.outer_mm > facts.field.outer_mm
    for move in (-accuracy, 0.0, accuracy):
        corners = _corners(slow_sure.moved(field.planes, move))
        assert np.all(np.hypot(*corners.T) <= field.outer_mm + 1e-9)
    assert 0 < field.plain_need <= facts.light.fully_lit
