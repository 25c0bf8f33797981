"""The figures: where things are drawn, not which pixels they colour."""

from __future__ import annotations

import dataclasses
import os
from itertools import pairwise

import numpy as np
import pytest
from matplotlib.text import Text
from support.inks import red_light

from guidestar.errors import InputError
from guidestar.report import dial_figure, field_figure, figures, guide_picture, labels, layout, palette, paper


def new_axes():
    return paper.new_figure((6.0, 6.0)).add_axes((0.05, 0.05, 0.9, 0.85))


def artist(axes, gid):
    found = axes.findobj(lambda item: item.get_gid() == gid)
    assert len(found) == 1, (gid, len(found))
    return found[0]


def artists(axes, gid):
    return axes.findobj(lambda item: item.get_gid() == gid)


def direction_deg(point):
    """Position angle of (east, north), north through east."""
    return float(np.degrees(np.arctan2(point[0], point[1])) % 360.0)


def on_page(axes, point):
    return axes.transData.transform(point)


def test_north_is_up_and_east_is_left(samples):
    axes = new_axes()
    field_figure.draw_field(axes, samples["many ranges"]())
    centre, east, north = (on_page(axes, point) for point in ((0.0, 0.0), (5.0, 0.0), (0.0, 5.0)))
    assert east[0] < centre[0] == north[0]
    assert north[1] > centre[1] == east[1]
    for name, there in (("N", (0.0, 1.0)), ("E", (1.0, 0.0))):
        arrow = artist(axes, f"arrow {name}")
        pointing = np.array(arrow.xy) - np.array(arrow.xyann)
        assert pointing / np.hypot(*pointing) == pytest.approx(there, abs=1e-9)


@pytest.mark.parametrize(
    ("mirrored", "side", "expected_deg"),
    [
        (False, "top", 30.0),
        (False, "left", 120.0),
        (True, "left", 300.0),
        (False, "bottom", 210.0),
        (True, "right", 120.0),
    ],
)
def test_the_guide_field_lies_on_the_prisms_side(invent, mirrored, side, expected_deg):
    result = invent.result(camera__mirrored=mirrored, prism__side=side)
    axes = new_axes()
    field_figure.draw_field(axes, result, angle=30.0)
    corners = artist(axes, "guide field").get_xy()[:4]
    assert direction_deg(corners.mean(axis=0)) == pytest.approx(expected_deg, abs=1e-6)
    assert np.hypot(*corners.mean(axis=0)) == pytest.approx(result.field.centre_arcmin, rel=1e-6)
    twin = artist(axes, "after the flip").get_xy()[:4]
    assert twin == pytest.approx(-corners)


@pytest.mark.parametrize(("mirrored", "left_deg"), [(False, 120.0), (True, 300.0)])
def test_the_main_frame_is_turned_by_the_camera_angle(invent, mirrored, left_deg):
    result = invent.result(camera__mirrored=mirrored, camera__width_mm=20.0, camera__height_mm=10.0)
    axes = new_axes()
    field_figure.draw_field(axes, result, angle=30.0)
    edge = artist(axes, "upper edge").get_xydata()
    assert direction_deg(edge.mean(axis=0)) == pytest.approx(30.0)
    upper_left, lower_left = artist(axes, "main frame").get_xy()[:2]
    assert direction_deg((upper_left + lower_left) / 2.0) == pytest.approx(left_deg)
    assert np.hypot(*(edge[1] - edge[0])) == pytest.approx(20.0 * layout.arcmin_per_mm(result))


def test_guide_stars_of_the_best_angle_are_drawn_inside_the_guide_field(samples):
    from matplotlib.path import Path

    for name in ("many ranges", "mirrored and turned", "fork mount"):
        result = samples[name]()
        axes = new_axes()
        field_figure.draw_field(axes, result)
        outline = Path(artist(axes, "guide field").get_xy())
        numbers = layout.star_numbers(result)
        for star_id in result.best_sure.star_ids:
            [place] = artist(axes, f"guide star {numbers[star_id]}").get_xydata()
            assert outline.contains_point(place)


def test_the_ring_and_the_stars_have_their_places(samples):
    result = samples["many ranges"]()
    axes = new_axes()
    field_figure.draw_field(axes, result)
    ring, scale = artist(axes, "ring"), layout.arcmin_per_mm(result)
    assert ring.get_radii() == pytest.approx((result.field.outer_mm * scale,) * 2)
    assert ring.get_width() == pytest.approx((result.field.outer_mm - result.field.inner_mm) * scale)
    star = result.guide_stars[0]
    places = artist(axes, "stars").get_offsets()
    east, north = (value * scale for value in layout.guide_star_sky_mm(star))
    assert np.hypot(*(places - [east, north]).T).min() < 1e-6
    bar = artist(axes, "scale bar").get_xdata()
    assert abs(bar[1] - bar[0]) == pytest.approx(15.0)


def test_without_usable_angle_the_field_is_drawn_at_north(samples):
    axes = new_axes()
    field_figure.draw_field(axes, samples["nothing usable"]())
    assert direction_deg(artist(axes, "guide field").get_xy()[:4].mean(axis=0)) == pytest.approx(0.0, abs=1e-6)


def test_rig_frame_there_and_back(invent):
    rig = invent.rig(camera__mirrored=True, prism__side="left")
    points = np.array([[1.0, 14.0], [-2.5, 15.0], [0.0, 1.0]])
    assert layout.sky_to_rig(rig, layout.rig_to_sky(rig, points, 77.0), 77.0) == pytest.approx(points)


def test_placements_agree_with_the_projection(samples):
    for name in ("many ranges", "mirrored and turned"):
        result = samples[name]()
        stars = {star.id: star for star in result.guide_stars}
        for item in result.best_sure.placements:
            if item.star_id in stars:
                sky = np.array([layout.guide_star_sky_mm(stars[item.star_id])])
                rig = layout.sky_to_rig(result.rig, sky, result.best_sure.angle_deg)
                assert rig[0] == pytest.approx((item.x_mm, item.y_mm), abs=1e-6)
                uv = guide_picture.rig_to_sensor_mm(result, rig)
                assert uv[0] == pytest.approx((item.u_mm, item.v_mm), abs=1e-6)


def test_the_dial_starts_at_the_top_and_grows_anticlockwise(samples):
    assert dial_figure.place(0.0, 1.0) == pytest.approx((0.0, 1.0))
    assert dial_figure.place(90.0, 1.0) == pytest.approx((-1.0, 0.0))
    axes = new_axes()
    dial_figure.draw_dial(axes, samples["many ranges"]())
    x, y = artist(axes, "scale 90").get_position()
    assert x < -1.0
    assert y == pytest.approx(0.0, abs=1e-9)


def test_wedges_stand_at_their_angles(samples):
    result = samples["many ranges"]()
    axes = new_axes()
    dial_figure.draw_dial(axes, result)
    for gid, intervals, turn in (
        ("usable", result.usable.angles_deg, 0.0),
        ("sure", result.usable.sure_angles_deg, 0.0),
        ("twin", result.usable.angles_deg, 180.0),
    ):
        wedges = artists(axes, gid)
        assert len(wedges) == len(intervals)
        for wedge, (start, end) in zip(wedges, intervals, strict=True):
            assert (wedge.theta1 - 90.0 - turn, wedge.theta2 - 90.0 - turn) == pytest.approx((start, end))
    star = result.guide_stars[0]
    assert len(artists(axes, "arc of star 1")) == len(star.angles_deg)
    first = artists(axes, "arc of star 1")[0].get_xydata()
    angles = np.degrees(np.arctan2(-first[:, 0], first[:, 1])) % 360.0
    assert (angles[0], angles[-1]) == pytest.approx(star.angles_deg[0])


def test_the_dial_marks_the_angle_shown_and_its_twin(samples):
    axes, fork = new_axes(), new_axes()
    result = samples["many ranges"]()
    dial_figure.draw_dial(axes, result)
    dial_figure.draw_dial(fork, samples["fork mount"]())
    tip = artist(axes, "shown angle").get_xy()[0]
    assert np.degrees(np.arctan2(-tip[0], tip[1])) % 360.0 == pytest.approx(result.best_sure.angle_deg)
    twin = artist(axes, "flip twin of the shown angle").get_xy()[0]
    assert twin == pytest.approx(-tip)
    assert not artists(fork, "flip twin of the shown angle")
    assert not artists(fork, "twin")


def test_the_dial_counts_the_stars_it_leaves_out(samples):
    axes = new_axes()
    result = samples["full circle"]()
    dial_figure.draw_dial(axes, result)
    assert f"{len(result.guide_stars) - palette.MOST_STARS} fainter stars not drawn" in axes.get_title()


def test_lanes_keep_arcs_apart():
    lanes = dial_figure.lanes_of([((10.0, 50.0),), ((40.0, 60.0),), ((120.0, 130.0),), ((350.0, 372.0),)])
    assert lanes == [0, 1, 0, 1]


@pytest.mark.parametrize("mirrored", [True, False])
def test_the_guide_picture_is_mirrored_as_displayed(invent, mirrored):
    result = invent.result(count=140, guide_camera__picture_mirrored=mirrored)
    axes = new_axes()
    guide_picture.draw_guide_picture(axes, result)
    low, high = on_page(axes, (0.0, 0.0)), on_page(axes, (100.0, 100.0))
    assert bool(high[0] > low[0]) is mirrored
    assert high[1] > low[1]
    places = np.asarray(artist(axes, "stars").get_offsets())
    expected = [(item.u_px, item.v_px) for item in result.best_sure.placements if item.usable]
    assert places == pytest.approx(np.array(expected))
    assert artist(axes, "sensor").get_width() == pytest.approx(5600.0 / 2.9)


def test_north_and_east_of_the_guide_picture_are_those_of_the_sky(invent):
    """With the prism at the top and north up, the main picture has east left; the prism mirrors it once."""
    for mirrored, east_right in ((True, 1.0), (False, -1.0)):
        result = invent.result(guide_camera__picture_mirrored=mirrored)
        found = guide_picture.sky_directions(result, 0.0)
        assert found["N"] == pytest.approx((0.0, 1.0), abs=1e-9)
        assert found["E"] == pytest.approx((east_right, 0.0), abs=1e-9)
        assert found["target"] == pytest.approx((0.0, -1.0), abs=1e-9)


def test_the_dashed_line_is_the_edge_margin(invent):
    result = invent.result(guiding__edge_margin_mm=0.29)
    axes = new_axes()
    guide_picture.draw_guide_picture(axes, result)
    corners = artist(axes, "guide field").get_xy()
    assert corners.min(axis=0) == pytest.approx((100.0, 100.0))
    assert corners.max(axis=0) == pytest.approx((5600.0 / 2.9 - 100.0, 3200.0 / 2.9 - 100.0))


def test_pixel_positions_are_written(samples):
    result = samples["many ranges"]()
    axes = new_axes()
    guide_picture.draw_guide_picture(axes, result)
    written = " ".join(text.get_text() for text in axes.texts)
    for item in result.best_sure.placements:
        assert f"({item.u_px:.0f}, {item.v_px:.0f})" in written


def test_the_angle_asked_for_is_shown_whatever_stands_there(samples):
    assert layout.shown(samples["asked with sides"]()).angle_deg == 113.0
    in_vain = samples["asked in vain"]()
    assert layout.shown(in_vain).angle_deg == 95.0
    assert layout.best(in_vain).angle_deg == in_vain.best_sure.angle_deg
    titles = [axes.get_title() for axes in figures.page(in_vain).axes]
    assert "The sky at camera angle 95.0°" in titles
    assert "The guide camera's picture at camera angle 95.0°" in titles
    dial = new_axes()
    dial_figure.draw_dial(dial, in_vain)
    assert "95.0°" in {text.get_text() for text in dial.texts}
    assert layout.shown(samples["nothing usable"]()).placements == ()


def test_the_heading_answers_the_angle_asked_for(samples):
    for name, words in (
        ("asked with sides", "113.0°: usable, not sure"),
        ("asked in vain", "95.0°: not usable (best sure angle 107.8°, give or take"),
    ):
        heading = figures.page(samples[name]()).texts
        assert any(words in text.get_text() for text in heading)


def test_labels_keep_off_each_other():
    axes = new_axes()
    axes.set(xlim=(0, 100), ylim=(0, 100))
    wanted = [labels.Label(50.0 + 2.0 * i, 50.0, f"label {i}\n(1234, 567)") for i in range(5)]
    written = labels.place(axes, wanted)
    axes.figure.canvas.draw()  # annotations get their places only now
    renderer = axes.figure.canvas.get_renderer()
    boxes = [Text.get_window_extent(text, renderer) for text in written]  # without their leaders
    assert len(boxes) == 5
    for i, one in enumerate(boxes):
        assert not any(one.overlaps(other) for other in boxes[i + 1 :])


def test_no_type_is_smaller_than_seven_points_and_none_leaves_the_page(result):
    page = figures.page(result)
    page.canvas.draw()  # axis labels get their places only now
    renderer = page.canvas.get_renderer()
    words = [text for text in page.findobj(Text) if text.get_text().strip() and text.get_visible()]
    assert min(text.get_fontsize() for text in words) >= palette.SMALL
    for text in words:
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0.0, text.get_text()
        assert box.y0 >= 0.0, text.get_text()
        assert box.x1 <= page.bbox.x1, text.get_text()
        assert box.y1 <= page.bbox.y1, text.get_text()


def test_inks_differ_in_grey_and_in_red_light():
    order = [palette.PAPER, palette.TINT, palette.SHADE, palette.INK]
    for seen in (palette.luminance, red_light):
        levels = [seen(colour) for colour in order]
        assert all(lighter - darker > 0.15 for lighter, darker in pairwise(levels))
        assert seen(palette.SHADE) - seen(palette.ACCENT) > 0.15


def test_brighter_stars_have_larger_dots():
    areas = [palette.star_area(g_mag, 12.0) for g_mag in np.arange(4.0, 12.5, 0.5)]
    assert all(brighter >= fainter for brighter, fainter in pairwise(areas))
    assert areas[0] > 10.0 * areas[-1]


@pytest.mark.parametrize(("suffix", "head"), [("png", b"\x89PNG"), ("svg", b"<?xml"), ("pdf", b"%PDF")])
def test_saving_twice_gives_the_same_bytes(samples, tmp_path, suffix, head):
    written = [figures.save(samples["many ranges"](), tmp_path / f"{name}.{suffix}").read_bytes() for name in "ab"]
    assert written[0].startswith(head)
    assert written[0] == written[1]
    assert sorted(path.name for path in tmp_path.iterdir()) == [f"a.{suffix}", f"b.{suffix}"]


def test_every_sample_can_be_saved(result, tmp_path):
    assert figures.save(result, tmp_path / "page.PNG").stat().st_size > 20_000


def test_a_name_with_dollar_signs_is_drawn_as_it_is(samples, tmp_path):
    result = samples["one range"]()
    odd = dataclasses.replace(result, target=dataclasses.replace(result.target, name="$x^$ \\frac{"))
    assert figures.save(odd, tmp_path / "odd.svg").exists()


def test_another_suffix_is_refused_with_what_is_allowed(samples, tmp_path):
    with pytest.raises(InputError, match=r"\.png, \.svg or \.pdf.*“\.jpg”.*page\.png"):
        figures.save(samples["one range"](), tmp_path / "page.jpg")
    with pytest.raises(InputError, match="no suffix"):
        figures.save(samples["one range"](), tmp_path / "page")


def test_an_unwritable_path_is_one_sentence(samples, tmp_path):
    with pytest.raises(InputError, match=r"cannot be written to .*No such file or directory"):
        figures.save(samples["one range"](), tmp_path / "missing" / "page.png")
    (tmp_path / "folder.png").mkdir()
    with pytest.raises(InputError, match="cannot be written"):
        figures.save(samples["one range"](), tmp_path / "folder.png")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["folder.png"]


def test_a_failed_write_leaves_the_old_file(samples, tmp_path, monkeypatch):
    kept = tmp_path / "page.svg"
    kept.write_text("old")

    def refuse(self, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.replace", refuse)
    with pytest.raises(InputError, match="No space left on device"):
        figures.save(samples["one range"](), kept)
    assert kept.read_text() == "old"
    assert os.listdir(tmp_path) == ["page.svg"]  # noqa: PTH208


def test_plot_field_draws_where_it_is_told(samples):
    mine = new_axes()
    assert figures.plot_field(samples["one range"](), mine) is mine
    alone = figures.plot_field(samples["one range"]())
    assert artist(alone, "guide field") is not None


def test_drawing_leaves_the_persons_settings_alone(samples, tmp_path):
    import matplotlib as mpl

    before = dict(mpl.rcParams)
    figures.save(samples["one range"](), tmp_path / "page.svg")
    assert dict(mpl.rcParams) == before


@pytest.mark.parametrize(("number", "words"), [(1, "finds a guide star"), (3, "finds 3 guide stars at once")])
def test_where_nothing_is_usable_the_figures_say_what_was_wanted(samples, number, words):
    nothing = samples["nothing usable"]()
    rig = nothing.rig.with_values({"guiding.min_stars": number})
    result = dataclasses.replace(nothing, rig=rig)
    for draw in (dial_figure.draw_dial, guide_picture.draw_guide_picture):
        axes = new_axes()
        draw(axes, result)
        said = " ".join(text.get_text().replace("\n", " ").replace("\xa0", " ") for text in axes.texts)
        assert f"no camera angle {words}" in said
