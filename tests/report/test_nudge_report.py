"""What a nudge says in words, JSON and picture."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest
from support.rigs import COMPOUND, NEWTONIAN, rig
from support.wcs_twin import picture_wcs

from guidestar.api.check import check
from guidestar.nudge.result import InPicture
from guidestar.report import nudge_figure, nudge_sentences, palette, paper
from guidestar.report.figures import page
from guidestar.report.text import render
from guidestar.rig import preset

PLACE = "202.47 47.195"


def answer(some_rig=None, **asked):
    return check(PLACE, rig(COMPOUND) if some_rig is None else some_rig, stars="tycho2", epoch=2026.9, **asked)


def words(found, width=100):
    return " ".join(render(found, width=width, nudge=found.nudge).split())


@pytest.fixture(scope="module")
def moved():
    return answer(angle=100.0, nudge=3)


def test_it_says_how_far_where_to_and_on_which_star(moved):
    shift = moved.nudge.sure
    text = words(moved)
    assert f"NUDGE Move the target {shift.shift_arcmin:.1f}′ towards the right of the picture." in text
    assert f"Then {shift.star_ids[0]} serves, surely, wherever the prism sits within its accuracy." in text
    assert f"Point the telescope to {nudge_sentences.centre(shift)} (ICRS)".replace("\N{NO-BREAK SPACE}", " ") in text
    assert f"off the target towards the south (position angle {shift.direction_deg:.0f}°)" in text
    assert "pixels right of the picture's middle" in text
    assert f"OR TURN AND SHIFT Set the camera to {moved.nudge.turned.angle_deg:.1f}°" in text
    assert "shift by 1 % of the picture's shorter side" in text
    assert all(len(line) <= 72 for line in render(moved, width=72, nudge=moved.nudge).splitlines())
    assert str(moved) == render(moved, nudge=moved.nudge)


def test_a_shorter_shift_that_is_not_sure_is_named():
    found = answer(preset("compound-2000-f10-prism-14x8"), angle=30.0, nudge=3)
    assert found.nudge.sure.shift_arcmin > found.nudge.usable.shift_arcmin
    assert f"If you trust your measured prism offset, {found.nudge.usable.shift_arcmin:.2f}′ towards the" in words(
        found
    )


def test_none_within_the_limit_says_what_the_nearest_would_need():
    found = answer(angle=100.0, nudge=1)
    assert "NUDGE No shift of up to 1.0′ brings a guide star at 100.0°. The nearest would need 2.9′" in words(found)
    dark = answer(rig(COMPOUND, guiding__faintest_mag=2.0), angle=100.0, nudge=1)
    assert "nor does any other that keeps the target in the picture (up to 9.7′)" in words(dark)


def test_none_needed_and_any_angle():
    rich = rig(NEWTONIAN, guiding__faintest_mag=12.0)
    assert "NUDGE None is needed:" in words(answer(rich, angle=10.0, nudge=3))
    assert "NUDGE None is needed at the camera angle" in words(answer(nudge=3))


@pytest.mark.parametrize(
    ("right", "up", "says"),
    [(0, 1, "top"), (1, 1, "top right"), (1, 0, "right"), (1, -1, "bottom right"), (0, -1, "bottom"),
     (-1, -1, "bottom left"), (-1, 0.3, "left"), (-1, 0.5, "top left"), (0.3, 1, "top")],
)  # fmt: skip
def test_directions_in_the_picture(right, up, says):
    assert nudge_sentences.towards(InPicture(right, up, 0, 0, 0, 0)) == says


def test_json_keeps_the_schema_and_adds_the_nudge(moved):
    found = json.loads(json.dumps(moved.to_json(), allow_nan=False))
    assert found["schema"] == "guidestar.check/1"
    nudge = found["nudge"]
    assert nudge["angle_deg"] == 100.0
    assert nudge["limit_arcmin"] == 3.0
    shift = nudge["sure"]
    assert (shift["sure"], shift["proved"], shift["turn_deg"]) == (True, True, 0.0)
    assert shift["placements"][0]["id"] == shift["star_ids"][0]
    assert nudge["turned"]["cost_arcmin"] == pytest.approx(
        nudge["turned"]["shift_arcmin"] + abs(nudge["turned"]["turn_deg"]) * nudge["turn_cost_arcmin"], abs=1e-3
    )
    assert answer(angle=100.0).to_json()["nudge"] is None


def drawn(found):
    figure = paper.new_figure((4.0, 3.0))
    with paper.style():
        axes = figure.add_axes((0.0, 0.0, 1.0, 0.9))
        nudge_figure.draw_frame(axes, found, found.nudge)
    artists = [*axes.lines, *axes.patches, *axes.texts]
    return {artist.get_gid(): artist for artist in artists if artist.get_gid()}


@pytest.mark.parametrize("mirrored", [False, True])
def test_the_picture_shows_the_target_north_and_the_prism_where_they_are(mirrored):
    some_rig = rig(COMPOUND, camera__mirrored=mirrored, prism__side_deg=90.0)
    found = answer(some_rig, angle=100.0, nudge=9)
    shift, signs = found.nudge.best, drawn(found)
    wcs = picture_wcs(shift.ra_deg, shift.dec_deg, shift.angle_deg, 2000.0, mirrored)
    right, up = wcs.wcs_world2pix(202.47, 47.195, 0)
    assert (signs["target"].get_xdata()[0], signs["target"].get_ydata()[0]) == pytest.approx(
        (right + 1, up + 1), abs=1e-6
    )
    north = np.subtract(signs["arrow N"].xy, signs["arrow N"].xyann)
    right, up = wcs.wcs_world2pix(shift.ra_deg, shift.dec_deg + 1e-3, 0)
    assert north / np.hypot(*north) == pytest.approx(
        np.array([right + 1, up + 1]) / np.hypot(right + 1, up + 1), abs=1e-5
    )
    east = np.subtract(signs["arrow E"].xy, signs["arrow E"].xyann)
    right, up = wcs.wcs_world2pix(shift.ra_deg + 1e-3, shift.dec_deg, 0)
    assert east / np.hypot(*east) == pytest.approx(
        np.array([right + 1, up + 1]) / np.hypot(right + 1, up + 1), abs=1e-3
    )
    assert signs["prism"].get_xy()[:, 0].max() < -11.3 / 2  # left of the frame


def assert_within(figure):
    """No words of the page run over its rim."""
    renderer = figure.canvas.get_renderer()
    for text in figure.texts:
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0.01 * figure.bbox.width, text.get_text()
        assert box.x1 <= 0.99 * figure.bbox.width, text.get_text()
        assert box.y0 >= 0.005 * figure.bbox.height, text.get_text()


def test_the_page_takes_it_in_and_is_the_same_every_time(moved, tmp_path):
    from guidestar.report.figures import save

    with paper.style():
        figure = page(moved, moved.nudge)
    titles = [axes.get_title() for axes in figure.axes]
    assert "At 100.0°: the target 2.9′ to the right" in titles
    assert "The guide camera's picture at camera angle 100.0°, after the shift" in titles
    (guide,) = [axes for axes in figure.axes if "after the shift" in axes.get_title()]
    written = " ".join(text.get_text() for text in guide.texts)
    for item in moved.nudge.best.placements:
        assert f"({item.u_px:.0f}, {item.v_px:.0f})" in written
    assert all(text.get_fontsize() >= palette.SMALL for text in figure.texts)
    assert_within(figure)
    first = save(moved, tmp_path / "a.svg", moved.nudge).read_bytes()
    assert save(moved, tmp_path / "b.svg", moved.nudge).read_bytes() == first


def test_titles_for_none_and_beyond(moved):
    nothing = dataclasses.replace(moved.nudge, sure=None, usable=None, beyond=None)
    assert nudge_figure.title(nothing) == "No shift brings a guide star"
    beyond = dataclasses.replace(moved.nudge, sure=None, usable=None, beyond=moved.nudge.sure)
    assert nudge_figure.title(beyond).startswith("Beyond your limit: 2.9′")
