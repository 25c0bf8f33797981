"""What is said of a flat, from results made by hand."""

import json

import numpy as np
import pytest

from guidestar.flat.result import Body, FlatResult, Sensor
from guidestar.report.flat_report import flat_page, flat_to_json, render_flat, save_flat
from guidestar.report.flat_sentences import FAINT_FOUND_PERCENT, ROUND_TAKEN_PERCENT

SENSOR = Sensor(23.5, 15.7, 3.76, 0.0, Body(0.96, 3.6, 0.35, 8.0, 8.0, 15.0))


def result(**changes):
    rows = np.linspace(0.18, 0.0, 40)[:, None] * np.ones(60)
    values = {
        "verdict": "shadow", "place": "top", "depth": 0.18, "width": 0.4, "reach": 0.06, "confidence": 0.96,
        "draw_out_mm": 1.24, "width_mm": 9.4, "offset_mm": 13.2, "colour": False, "width_px": 6248, "height_px": 4176,
        "measured": rows, "fitted": rows,
    }  # fmt: skip
    return FlatResult(**values | changes)


def said(found, sensor=SENSOR):
    return " ".join(render_flat(found, sensor, "f.fits", width=90).split())


def test_a_shadow_with_the_rig_known():
    text = said(result())
    assert (
        "Shadow of the prism: top, 18 % darker at the worst place; a prism's shape accounts for 96 % of that darkness"
        in text
    )
    assert "Draw the prism out by 1.2 mm, to an offset of 14.4 mm" in text
    assert "stands at 13.2 mm now, by the rig file at 15 mm" in text


def test_without_a_rig():
    assert "With --rig the tool says" in said(result(draw_out_mm=None, width_mm=None, offset_mm=None), None)


def test_a_shadow_at_another_side_than_the_rigs():
    assert "puts the prism at the top, the shadow lies bottom" in said(result(place="bottom"))
    assert "puts the prism" not in said(result(place="top right"))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"verdict": "possible", "depth": 0.05}, "Possible shadow of the prism: top, about 5 % darker"),
        ({"verdict": "other", "draw_out_mm": None}, "not shaped like this prism: top"),
        ({"verdict": "none", "place": "", "depth": 0.0, "draw_out_mm": None}, "No one-sided darkening"),
    ],
)
def test_other_verdicts(changes, words):
    text = said(result(**changes))
    assert words in text
    assert ("Draw the prism out" in text) is (changes["verdict"] == "possible")


def test_json():
    values = json.loads(json.dumps(flat_to_json(result(), SENSOR, "f.fits"), allow_nan=False))
    assert values["schema"] == "guidestar.flat/1"
    assert (values["side"], values["verdict"], values["depth"], values["draw_out_mm"]) == ("top", "shadow", 0.18, 1.24)
    assert flat_to_json(result(verdict="none", place=""), None, "f")["side"] is None


def drawn(figure):
    return " ".join(" ".join(text.get_text() for text in figure.texts).split())


def test_how_far_it_can_be_trusted_is_said_and_in_the_json():
    assert f"about {ROUND_TAKEN_PERCENT} of 100" in said(result())
    assert "as faint as this" not in said(result())
    edge, corner = FAINT_FOUND_PERCENT
    assert f"in about {edge} of 100 rendered flats along an edge, in {corner} in a corner" in said(
        result(verdict="possible", depth=0.05)
    )
    rates = flat_to_json(result(), SENSOR, "f")["rates_on_rendered_flats"]
    assert list(rates.values()) == [edge / 100, corner / 100, ROUND_TAKEN_PERCENT / 100]


def test_the_figure_names_the_rigs_prism_and_what_to_do():
    assert "Draw the prism out by 1.2 mm" in drawn(flat_page(result(), SENSOR))
    other = result(verdict="other", draw_out_mm=None)
    assert "not shaped like this prism" in drawn(flat_page(other, SENSOR))
    assert "not shaped like a prism" in drawn(flat_page(other))


def test_the_cross_stands_at_the_worst_place_within_the_frame():
    for axes in flat_page(result()).axes:
        (cross,) = (line for line in axes.lines if line.get_gid() == "worst")
        x, y = cross.get_xdata()[0], cross.get_ydata()[0]
        assert x == pytest.approx(30.0, abs=0.5)
        assert 38.5 < y < 40.0
    nothing = flat_page(result(verdict="none", place="", fitted=np.zeros((40, 60))))
    assert not [line for axes in nothing.axes for line in axes.lines]


def test_figure(tmp_path):
    left, right = flat_page(result()).axes
    assert left.get_aspect() == right.get_aspect() == 1.0
    first, second = (save_flat(result(), tmp_path / f"{name}.png").read_bytes() for name in "ab")
    assert first == second
    flat_page(result(verdict="none", fitted=np.zeros((40, 60))))


def test_the_picture_explains_only_what_it_shows():
    clean = flat_page(result()).texts[-1].get_text()
    assert "Lines, from outside in: 3, 5 and 10 % of loss." in clean
    assert "dust" not in clean
    spotted = np.array(result().fitted)
    spotted[-5:, 20:25] = 0.04
    assert "dust" in flat_page(result(measured=spotted)).texts[-1].get_text()
    nothing = flat_page(result(verdict="none", place="", fitted=np.zeros((40, 60)), measured=np.zeros((40, 60))))
    assert "Lines" not in nothing.texts[-1].get_text()


def test_wide_lines_carry_their_figures():
    deep = np.linspace(0.30, 0.0, 40)[:, None] * np.ones(60)
    for axes in flat_page(result(measured=deep, fitted=deep, depth=0.3)).axes:
        assert {"5", "10", "20"} <= {text.get_text() for text in axes.texts}
