"""What the figures of `train` draw: places and sizes of the artists, not pixels."""

import dataclasses

import numpy as np
import pytest
from support.trains import train_rig

from guidestar.errors import InputError
from guidestar.report import train_end_view, train_shadow_map, train_side_view
from guidestar.report.paper import new_figure
from guidestar.report.train_figure import save_train, train_page
from guidestar.train.build import train

GUIDE_SIDE = {"train__stalk_mm": 20.0, "train__guide_flange_mm": 12.5, "train__focuser_travel_mm": 8.0}


def axes():
    return new_figure((6, 6)).add_axes((0, 0, 1, 1))


def artists(drawn, gid):
    return [artist for artist in drawn.get_children() if artist.get_gid() == gid]


def corners(patch):
    return patch.get_path().transformed(patch.get_patch_transform()).vertices


def test_side_view_is_to_scale():
    result = train(train_rig(train__filter_thickness_mm=2.0, **GUIDE_SIDE))
    drawn = axes()
    train_side_view.draw_side_view(drawn, result)
    assert drawn.get_aspect() == 1.0
    (body, _) = artists(drawn, "wall of pick-off body")
    assert (body.get_x(), body.get_width()) == pytest.approx((10.684, 17.5), abs=1e-3)
    (prism,) = artists(drawn, "prism")
    assert (prism.get_x(), prism.get_y()) == pytest.approx((10.684 + 9.0, 17.0 - 4.0), abs=1e-3)
    (path,) = artists(drawn, "guide path")
    x, y = path.get_xdata(), path.get_ydata()
    assert np.sum(np.hypot(np.diff(x), np.diff(y))) == pytest.approx(result.focus.needed_mm)
    (sensor,) = artists(drawn, "main sensor")
    assert sensor.get_xdata()[0] == pytest.approx(result.spacing.wanted_mm)
    assert np.ptp(sensor.get_ydata()) == pytest.approx(15.7)
    (travel,) = artists(drawn, "travel")
    (guide,) = artists(drawn, "guide sensor")
    assert travel.get_ydata()[0] <= guide.get_ydata()[0] <= travel.get_ydata()[1]


@pytest.mark.parametrize(
    ("side", "direction"), [("top", (0, 1)), ("left", (-1, 0)), ("bottom", (0, -1)), ("right", (1, 0))]
)
def test_end_view_is_turned_like_the_picture(side, direction):
    result = train(train_rig(prism__side=side, prism__offset_mm=18.0))
    drawn = axes()
    train_end_view.draw_end_view(drawn, result)
    (prism,) = artists(drawn, "prism")
    points = corners(prism)[:4]
    assert points.mean(axis=0) == pytest.approx(18.0 * np.array(direction), abs=1e-9)
    assert np.ptp(points, axis=0) == pytest.approx([8.0, 8.0])
    scale = 1 - 36.0 / 1000.0
    (sensor,) = artists(drawn, "main sensor")
    assert np.ptp(corners(sensor)[:4], axis=0) == pytest.approx([23.5 * scale, 15.7 * scale])
    (light,) = artists(drawn, "sensor light")
    assert np.ptp(corners(light), axis=0) == pytest.approx([23.5 * scale + 7.2, 15.7 * scale + 7.2], abs=0.01)
    (circle,) = artists(drawn, "image circle")
    assert circle.get_radius() == pytest.approx(22.0 * scale)


@pytest.mark.parametrize(
    ("side", "place"), [("top", (0, 7.85)), ("left", (-11.75, 0)), ("right", (11.75, 0)), ("bottom", (0, -7.85))]
)
def test_the_worst_place_is_marked_at_the_prisms_side(side, place):
    result = train(train_rig(prism__side=side, prism__offset_mm=14.0 if side in ("left", "right") else 11.0))
    drawn = axes()
    train_shadow_map.draw_shadow_map(drawn, result)
    (mark,) = artists(drawn, "worst")
    x, y = mark.get_xdata()[0], mark.get_ydata()[0]
    assert (x, y) == pytest.approx(place, abs=0.4)  # inside by the cross's own size, so that it is seen whole
    assert abs(x) < 11.5
    assert abs(y) < 7.6


def test_no_shadow_no_mark():
    drawn = axes()
    train_shadow_map.draw_shadow_map(drawn, train(train_rig()))
    assert not artists(drawn, "worst")
    assert "none" in drawn.get_title(loc="left")


ASKEW = {"prism__side_deg": 310.0, "prism__offset_mm": 12.0, "train__clear_aperture_mm": 42.0}
TOO_LONG = {"train__back_focus_mm": 40.0, "telescope__image_circle_mm": None}


@pytest.mark.parametrize("changes", [GUIDE_SIDE, ASKEW, TOO_LONG], ids=["sound", "askew", "too long"])
def test_texts_stay_on_the_page_and_small_type_is_legible(changes):
    figure = train_page(train(train_rig(**changes)))
    figure.canvas.draw()
    width, height = figure.bbox.width, figure.bbox.height
    written = [*figure.texts, *(text for drawn in figure.axes for text in drawn.texts)]
    assert len(written) > 20
    for text in written:
        if text.get_text():
            box = text.get_window_extent()
            assert box.x0 >= -1
            assert box.x1 <= width + 1
            assert box.y0 >= -1
            assert box.y1 <= height + 1, text.get_text()
            assert text.get_fontsize() >= 7.0


@pytest.mark.parametrize("suffix", ["png", "svg", "pdf"])
def test_the_same_train_gives_the_same_bytes(tmp_path, suffix):
    result = train(train_rig())
    first, second = (save_train(result, tmp_path / f"{name}.{suffix}").read_bytes() for name in "ab")
    assert first == second


def test_other_formats_are_refused(tmp_path):
    with pytest.raises(InputError, match="must end in"):
        save_train(train(train_rig()), tmp_path / "train.jpg")


def test_a_long_name_of_the_rig_stays_on_the_page():
    result = train(train_rig())
    long = dataclasses.replace(result, rig=dataclasses.replace(result.rig, name="a name that goes on " * 9))
    figure = train_page(long)
    figure.canvas.draw()
    assert max(text.get_window_extent().x1 for text in figure.texts) <= figure.bbox.width


@pytest.mark.parametrize("side", ["top", "left", "right", "bottom"])
def test_the_worst_place_has_its_figure_and_no_other_covers_the_cross(side):
    result = train(train_rig(prism__side=side, prism__offset_mm=14.0 if side in ("left", "right") else 11.0))
    drawn = axes()
    train_shadow_map.draw_shadow_map(drawn, result)
    (figure,) = artists(drawn, "worst figure")
    assert figure.get_text() == f"{100 * result.shadow.worst:.0f}"
    (mark,) = artists(drawn, "worst")
    cross = np.array([mark.get_xdata()[0], mark.get_ydata()[0]])
    places = [np.array(text.get_position()) for text in drawn.texts]
    assert min(np.max(np.abs(place - cross)) for place in places) > 0.04 * 23.5
    others = [place for text, place in zip(drawn.texts, places, strict=True) if text is not figure]
    assert min(np.max(np.abs(place - figure.get_position())) for place in others) > 0.04 * 23.5
