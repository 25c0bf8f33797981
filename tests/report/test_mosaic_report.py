"""What a mosaic says in words, JSON and picture."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest
from support.rigs import COMPOUND, NEWTONIAN, rig

from guidestar.api.mosaic import mosaic
from guidestar.report import mosaic_figure, palette, paper
from guidestar.sky import plane

HOW = {"stars": "tycho2", "epoch": 2026.9}


@pytest.fixture(scope="module")
def poor():
    return mosaic("202.47 47.2", rig(COMPOUND), "2x2", angle=77.0, nudge=5, **HOW)


@pytest.fixture(scope="module")
def rich():
    return mosaic("290 75", rig(NEWTONIAN, guiding__faintest_mag=10.5), "2x1", overlap=20, **HOW)


def words(found, width=100):
    return " ".join(found.to_text(width).split())


def test_the_angles_for_all_the_best_and_a_table(rich):
    text = words(rich)
    assert (
        "A mosaic of 2 × 1 panels about 19h 20m 00.0s, +75° 00′ 00″ (ICRS). Neighbours share 20 % of a frame." in text
    )
    assert "SURE " in text
    assert "USABLE " in text
    assert f"BEST ANGLE Set the camera to {rich.angle_deg:.1f}°: 2 of 2 panels usable, 2 of them sure." in text
    assert "The grid of panels turns with the camera." in text
    for panel in rich.panels:
        assert panel.asked.star_ids[0] in text
    assert "STARS Every star down to G 10.50 counts, and Tycho-2 is complete to about G 10.50." in text


def test_what_would_help_the_panels_without_a_star(poor):
    text = words(poor)
    assert "YOUR ANGLE 77.0°, give or take 1°:" in text
    for panel in poor.panels:
        name = f"Panel {panel.row}.{panel.column}: "
        assert (name in text) == (not panel.asked.usable)
        if panel.nudge is not None and panel.nudge.best is None and panel.nudge.beyond is not None:
            assert f"{name}no shift of up to 5.0′ brings a star; the nearest: point to" in text
        elif panel.nudge is not None and panel.nudge.best is not None:
            assert f"{name}point to" in text
    assert all(len(line) <= 70 for line in poor.to_text(70).splitlines())
    assert str(poor).startswith("202.47 47.2\n")


def test_angles_too_narrow_to_be_set_are_called_so(rich):
    some = dataclasses.replace(
        rich.panels[0], asked=dataclasses.replace(rich.panels[0].asked, usable=False, sure=False)
    )
    narrow = dataclasses.replace(rich, panels=(some, rich.panels[1]))
    assert "too narrow to be set to ±1°" in words(narrow)
    assert "too narrow" not in words(rich)


def test_gaps_no_angle_and_a_fixed_grid():
    found = mosaic("0 89", rig(NEWTONIAN, guiding__faintest_mag=1.0), "2x1", overlap=5, grid_angle=30, **HOW)
    text = words(found)
    assert "WARNING So near to the pole" in text
    assert "NO ANGLE FOR ALL" in text
    assert "The grid stays put: its upper side points to 30.0°." in text
    assert "No panel has a guide star at any camera angle" in text


def test_json(poor, rich):
    found = json.loads(json.dumps(poor.to_json(), allow_nan=False))
    assert found["schema"] == "guidestar.mosaic/1"
    assert (found["columns"], found["rows"], found["overlap_percent"], found["grid_angle_deg"]) == (2, 2, 10.0, None)
    assert found["usable_panels"] == sum(panel["usable"] for panel in found["panels"])
    assert [(panel["row"], panel["column"]) for panel in found["panels"]] == [(1, 1), (1, 2), (2, 1), (2, 2)]
    assert all((panel["nudge"] is None) == panel["usable"] for panel in found["panels"])
    assert rich.to_json()["flip_safe_angles_deg"] is not None
    assert len(rich.to_frame()) == 2


def test_the_picture_shows_each_panel_and_its_verdict(poor):
    figure = paper.new_figure((6.0, 6.0))
    with paper.style():
        axes = figure.add_axes((0.0, 0.0, 1.0, 0.9))
        mosaic_figure.draw_mosaic(axes, poor)
    gids = [patch.get_gid() for patch in axes.patches]
    verdicts = ("no", "usable", "sure")
    for panel in poor.panels:
        verdict = verdicts[panel.asked.usable + panel.asked.sure]
        name = f"panel {panel.row}.{panel.column} {verdict}"
        assert gids.count(name) == 1
        xi, eta = plane.to_plane(panel.ra_deg, panel.dec_deg, poor.target.ra_deg, poor.target.dec_deg)
        corners = axes.patches[gids.index(name)].get_xy()[:4]
        assert corners.mean(axis=0) == pytest.approx(np.degrees([xi, eta]) * 60, abs=0.01)
    assert gids.count("guide field") == 4
    assert gids.count("moved panel") == sum(
        bool(panel.nudge and (panel.nudge.best or panel.nudge.beyond)) for panel in poor.panels
    )
    left, right = axes.get_xlim()
    assert left > right  # east is left


def test_the_strip_shows_the_angles_also_across_north(rich):
    over = dataclasses.replace(rich, usable_angles_deg=((350.0, 370.0),), sure_angles_deg=())
    figure = paper.new_figure((6.0, 2.0))
    with paper.style():
        axes = figure.add_axes((0.1, 0.3, 0.8, 0.4))
        mosaic_figure.draw_angles(axes, over)
    assert sorted((bar.get_x(), bar.get_width()) for bar in axes.patches) == [(0.0, 10.0), (350.0, 10.0)]


def test_the_page_is_legible_and_the_same_every_time(poor, tmp_path):
    with paper.style():
        figure = mosaic_figure.page(poor)
    assert all(text.get_fontsize() >= palette.SMALL for text in figure.texts)
    first = mosaic_figure.save_mosaic(poor, tmp_path / "a.svg").read_bytes()
    assert mosaic_figure.save_mosaic(poor, tmp_path / "b.svg").read_bytes() == first
