"""The strips of a night: where things are drawn, and that they are the result's."""

from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise

import numpy as np
import pytest
from support.inks import red_light
from support.planned import MOUNTS, one

from guidestar.errors import InputError
from guidestar.report import palette
from guidestar.report.night_figure import _DARK, _TWILIGHT, hour_name, night_page, save_night
from guidestar.rig import Site


def found(axes, gid):
    return axes.findobj(lambda item: item.get_gid() == gid)


def since(result, moment):
    return (moment - result.dark.whole.start).total_seconds() / 3600.0


@pytest.mark.parametrize("mount", MOUNTS)
def test_each_run_is_a_bar_of_its_own_length(mount):
    result, night, _ = one(mount)
    (axes,) = night_page(result).axes
    bars = [bar for kind in ("sure", "usable", "none") for bar in found(axes, f"run {kind}")]
    drawn = np.array(sorted((bar.get_x(), bar.get_x() + bar.get_width()) for bar in bars))
    assert drawn == pytest.approx(np.array([(since(result, r.start), since(result, r.end)) for r in night.runs]))
    assert len(found(axes, "run none")) == sum(run.star_id is None for run in night.runs)
    assert bool(found(axes, "run sure")) == (night.choice.holds == "sure")
    assert all(bar.get_hatch() for bar in found(axes, "run usable"))


def test_the_heavy_line_is_where_it_can_be_imaged():
    result, night, _ = one("german")
    (axes,) = night_page(result).axes
    (line,) = found(axes, "can be imaged")
    at, height = line.get_data()
    assert (at[0], at[-1]) == pytest.approx(
        (since(result, night.windows[0].start), since(result, night.windows[0].end))
    )
    assert height[-1] == pytest.approx(20.0, abs=0.05)
    assert max(height) == pytest.approx(night.transit_altitude_deg, abs=0.1)


def test_dark_hours_flip_and_moon_are_in_their_places():
    result, night, _ = one("german")
    (axes,) = night_page(result).axes
    (dark,) = found(axes, "dark hours")
    assert dark.get_x() == pytest.approx(since(result, result.dark.spans[0].start))
    (flip,) = found(axes, "flip")
    assert flip.get_xdata()[0] == pytest.approx(since(result, night.flip))
    (moon,) = found(axes, "Moon")
    assert np.nanmax(moon.get_ydata()) == pytest.approx(result.dark.moon.curve.altitude_deg.max())
    assert len(found(axes, "moon label")) == 1


def test_many_targets_under_one_another_share_their_hours():
    result, night, _ = one("german")
    many = replace(result, targets=(night,) * 45, is_list=True)
    figure = night_page(many)
    assert len(figure.axes) == 40
    assert len({axes.get_xlim() for axes in figure.axes}) == 1
    assert sum(bool(found(axes, "moon label")) for axes in figure.axes) == 1
    words = " ".join(text.get_text() for text in figure.texts)
    assert "5 more targets not drawn" in " ".join(words.split())


def test_a_night_without_hours_and_one_without_darkness():
    south = Site(latitude_deg=-33.9, longitude_deg=151.2)
    for site, evening in (
        (south, date(2026, 11, 25)),
        (Site(latitude_deg=78.2, longitude_deg=15.6), date(2026, 6, 21)),
    ):
        result, _, _ = one("german", target=(148.9, 69.1), site=site, evening=evening)
        (axes,) = night_page(result).axes
        assert not found(axes, "can be imaged")
        assert any("no hours tonight" in text.get_text() for text in axes.texts)


def test_the_danger_is_first_on_the_page():
    result, _, _ = one("german", target=(200.0, 5.0), evening=date(2026, 12, 4))
    figure = night_page(result)
    highest = max(figure.texts, key=lambda text: text.get_position()[1])
    assert highest.get_text().startswith("DANGER")


def test_the_heading_stands_clear_of_the_strips():
    result, night, _ = one("german", target=(200.0, 5.0), evening=date(2026, 12, 4))
    names = [replace(night, target=replace(night.target, name=f"made-up target number {i}")) for i in range(9)]
    figure = night_page(replace(result, is_list=True, targets=tuple(names)))
    renderer = figure.canvas.get_renderer()
    top = max(axes.get_window_extent(renderer).y1 for axes in figure.axes)
    heading = [text.get_window_extent(renderer) for text in figure.texts if text.get_window_extent(renderer).y1 > top]
    assert len(heading) == 3
    assert min(box.y0 for box in heading) - top >= 2.0 / 25.4 * figure.dpi


def test_only_signs_that_are_drawn_are_explained():
    result, night, _ = one("german")
    words = night_page(result).texts[-1].get_text()
    assert "dashed: the Moon's" in words
    assert "meridian flip" in words
    assert "!" not in words
    down = replace(result.dark.moon.curve, altitude_deg=np.full_like(result.dark.moon.curve.altitude_deg, -5.0))
    runs = tuple(replace(run, peak_fill=1.2) for run in night.runs)
    bare = replace(
        result,
        dark=replace(result.dark, moon=replace(result.dark.moon, curve=down)),
        targets=(replace(night, flip=None, runs=runs),),
    )
    page = night_page(bare)
    labels = found(page.axes[0], "run label")
    assert labels
    assert all(text.get_text().endswith(" !") for text in labels if "no star" not in text.get_text())
    words = page.texts[-1].get_text()
    assert "Moon" not in words
    assert "flip" not in words
    assert "fills its brightest pixel" in " ".join(words.split())


def test_greys_are_told_apart_and_ink_stands_out_on_them():
    levels = [palette.luminance(colour) for colour in (palette.PAPER, _TWILIGHT, _DARK)]
    assert levels == sorted(levels, reverse=True)
    assert min(a - b for a, b in pairwise(levels)) > 0.05
    assert (levels[-1] + 0.05) / (palette.luminance(palette.ACCENT) + 0.05) > 4.5
    assert red_light(_DARK) - red_light(palette.ACCENT) > 0.5


def test_hours_have_their_dates():
    assert hour_name(datetime(2026, 11, 26, 0), dated=False) == "00\n26 Nov"
    assert hour_name(datetime(2026, 11, 25, 16), dated=True) == "16\n25 Nov"
    assert hour_name(datetime(2026, 11, 25, 18), dated=False) == "18"


def test_the_same_night_gives_the_same_bytes(tmp_path):
    result, _, _ = one("german")
    for name in ("a.svg", "b.svg"):
        save_night(result, tmp_path / name)
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    with pytest.raises(InputError, match=r"must end in \.png"):
        save_night(result, tmp_path / "a.gif")
