"""The picture of the reach: where things are drawn, and that lines carry their figures."""

import dataclasses

import numpy as np
import pytest
from support.inks import red_light
from support.rigs import COMPOUND, FAST, NEWTONIAN, rig

from guidestar.errors import InputError
from guidestar.field.reach import reach
from guidestar.field.reach_map import reach_map
from guidestar.report import palette
from guidestar.report.reach_figure import _GREYS, LIT_LEVELS, reach_levels, reach_page, save_reach

RIGS = {
    "compound": rig(COMPOUND),
    "newtonian": rig(NEWTONIAN, telescope__image_circle_mm=36.0),
    "fast": rig(FAST),
    "dark corners": rig(COMPOUND, prism__width_mm=3.0, prism__ahead_mm=0.5),
}


@pytest.fixture(params=RIGS)
def camera(request):
    return RIGS[request.param]


def found(axes, gid):
    return axes.findobj(lambda item: item.get_gid() == gid)


def test_two_maps_with_outlines_in_their_places(camera):
    figure = reach_page(reach(camera))
    assert len(figure.axes) == 2
    drawn = reach_map(camera)
    for axes in figure.axes:
        for gid, corners in (
            ("guide sensor", drawn.sensor_mm),
            ("margin", drawn.used_mm),
            ("prism face", drawn.face_mm),
        ):
            [outline] = found(axes, gid)
            assert np.array(outline.get_xy())[:4] == pytest.approx(corners)
        assert axes.get_xlim()[0] > axes.get_xlim()[1]  # x grows to the left
        assert axes.get_ylim()[0] < axes.get_ylim()[1]
        assert not found(axes, "given")


def test_the_place_asked_about_is_marked():
    for axes in reach_page(reach(RIGS["fast"], (1.0, 19.0))).axes:
        [mark] = found(axes, "given")
        assert np.array(mark.get_xydata()).tolist() == [[1.0, 19.0]]


def test_lines_carry_their_figures(camera):
    light, faint = reach_page(reach(camera)).axes
    labels = {text.get_text().replace("\N{NO-BREAK SPACE}", " ") for text in light.texts}
    assert labels
    assert labels <= {f"{100 * level:g} %" for level in LIT_LEVELS}
    levels = reach_levels(reach_map(camera))
    assert {float(text.get_text()) for text in faint.texts} <= set(levels)
    assert levels == sorted(levels)
    assert levels[-1] <= np.nanmax(reach_map(camera).faintest_mag)


def test_no_figure_stands_on_the_sensor_s_outline(camera):
    drawn = reach_map(camera)
    for axes in reach_page(reach(camera)).axes:
        for text in axes.texts:
            place = np.array(text.get_position())
            for corners in (drawn.sensor_mm, drawn.used_mm):
                assert _from_outline(place, corners) > 0.02 * np.ptp(drawn.x_mm), text.get_text()


def _from_outline(place, corners):
    distances = []
    for one, other in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = np.clip(np.dot(place - one, other - one) / np.dot(other - one, other - one), 0.0, 1.0)
        distances.append(np.hypot(*(place - one - along * (other - one))))
    return min(distances)


def test_the_ring_is_drawn():
    # f/4, 0.4 obstructed: the 25 % line runs both inside (a dip in the middle) and outside.
    drawn = reach_map(RIGS["fast"])
    middle = len(drawn.x_mm) // 2
    row = drawn.transmission[np.argmin(np.abs(drawn.y_mm - reach(RIGS["fast"]).centre.point.y_mm))]
    assert row[middle] < 0.25 < row[np.argmin(np.abs(drawn.x_mm - 3.0))]


def test_greys_fall_with_the_light_in_grey_and_in_red_light():
    for scale in (palette.luminance, red_light):
        seen = [scale(grey) for grey in _GREYS]
        assert seen == sorted(seen)
    assert palette.luminance(_GREYS[0]) > 4 * palette.luminance(palette.INK)


@pytest.mark.parametrize("suffix", ["png", "svg", "pdf"])
def test_the_same_answer_gives_the_same_bytes(tmp_path, suffix):
    result = reach(RIGS["fast"])
    first, second = (save_reach(result, tmp_path / f"{name}.{suffix}").read_bytes() for name in "ab")
    assert first == second
    assert len(first) > 3000


def test_a_dollar_sign_in_a_name_is_one(tmp_path):
    camera = dataclasses.replace(RIGS["fast"], name="$5 rig $x^2$")
    save_reach(reach(camera), tmp_path / "a.png")
    assert any(text.get_text() == "$5 rig $x^2$" for text in reach_page(reach(camera)).texts)


@pytest.mark.parametrize("name", ["a.jpg", "a", "missing/a.png"])
def test_a_picture_that_cannot_be_written_is_an_error(tmp_path, name):
    with pytest.raises(InputError):
        save_reach(reach(RIGS["fast"]), tmp_path / name)
