"""The window and the shadow of whole rigs against rays traced one by one."""

import math

import numpy as np
import pytest
from support import light_rays
from support.trains import train_rig

from guidestar.report.train_text import render_train
from guidestar.rig import PRESETS, preset
from guidestar.train import depth
from guidestar.train.build import train


def lost(rig, right, up, offset):
    """Share of rays that the prism's body takes from a place of the displayed picture, ray by ray."""
    beta = math.radians(rig.prism.side_deg)
    x, y = -right * math.cos(beta) - up * math.sin(beta), -right * math.sin(beta) + up * math.cos(beta)
    return light_rays.shadow(
        x, y, offset_mm=offset, height_mm=rig.prism.height_mm,
        width_mm=max(rig.prism.width_mm, rig.prism.holder_width_mm), ahead_mm=rig.prism.ahead_mm,
        f_ratio=rig.telescope.f_ratio, obstruction=rig.telescope.obstruction_ratio,
        pupil_mm=rig.telescope.exit_pupil_mm, count=120,
    )  # fmt: skip


def picture_rim(rig, count=41):
    right = np.linspace(-1, 1, count) * rig.camera.width_mm / 2
    up = np.linspace(-1, 1, count) * rig.camera.height_mm / 2
    return [(r, s * rig.camera.height_mm / 2) for r in right for s in (-1, 1)] + [
        (s * rig.camera.width_mm / 2, u) for u in up for s in (-1, 1)
    ]


@pytest.mark.parametrize("side_deg", [0.0, 90.0, 180.0, 270.0, 310.0])
@pytest.mark.parametrize("mirrored", [False, True])
def test_window_and_map_against_rays(side_deg, mirrored):
    rig = train_rig(prism__side_deg=side_deg, prism__holder_width_mm=12.0, camera__mirrored=mirrored)
    found = depth.window(rig)
    rim = picture_rim(rig)
    assert max(lost(rig, *place, found.min_offset_mm) for place in rim) <= 0.002
    inside = rig.with_values({"prism.offset_mm": found.min_offset_mm - 0.5})
    shadow = depth.shadow(inside)
    traced = [lost(rig, *place, found.min_offset_mm - 0.5) for place in rim]
    assert shadow.worst == pytest.approx(max(traced), abs=0.005)
    deepest = rig.with_values({"prism.offset_mm": found.min_offset_mm - 4.0})
    shadow = depth.shadow(deepest)
    for row, column in [(0, 0), (0, 48), (0, 96), (32, 0), (32, 96), (64, 0), (64, 48), (64, 96), (10, 20)]:
        traced = lost(deepest, shadow.right_mm[column], shadow.up_mm[row], deepest.prism.offset_mm)
        assert shadow.loss[row, column] == pytest.approx(traced, abs=0.005)


@pytest.mark.parametrize(
    ("side_deg", "place"),
    [(0.0, "top"), (90.0, "left"), (180.0, "bottom"), (270.0, "right"), (304.0, "top right"), (56.0, "top left"),
     (124.0, "bottom left"), (236.0, "bottom right")],
)  # fmt: skip
def test_the_worst_place_is_named_as_the_picture_shows_it(side_deg, place):
    rig = train_rig(prism__side_deg=side_deg)
    clear = depth.window(rig).min_offset_mm
    shadow = depth.shadow(rig.with_values({"prism.offset_mm": clear - 2.0}))
    assert shadow.corner == place
    assert 0.0 < shadow.area < 0.5
    assert depth.shadow(rig.with_values({"prism.offset_mm": clear + 0.01})).corner == ""


def test_best_is_the_innermost_kept_clear_by_the_accuracy():
    rig = train_rig(prism__offset_accuracy_mm=0.8)
    found = depth.window(rig)
    assert found.min_offset_mm < found.best_offset_mm < found.max_offset_mm
    assert found.best_offset_mm == pytest.approx(found.min_offset_mm + 0.8)
    lit = [
        depth.field_light_mm2(depth.Depth.of(rig), o)
        for o in np.linspace(found.min_offset_mm, found.max_offset_mm + 6, 25)
    ]
    assert found.best_field_light_mm2 == pytest.approx(max(lit), rel=1e-9)
    assert lit[-1] < 0.9 * lit[0]
    assert np.all(np.diff(lit) <= 1e-9)


def test_best_of_a_narrow_window_is_its_middle():
    rig = train_rig(prism__offset_accuracy_mm=5.0)
    found = depth.window(rig)
    assert found.best_offset_mm == pytest.approx((found.min_offset_mm + found.max_offset_mm) / 2)


def test_field_light_of_a_prism_that_passes_all_is_the_sensors_area():
    rig = train_rig(prism__width_mm=40.0, prism__height_mm=40.0, prism__offset_mm=40.0, telescope__image_circle_mm=None)
    area = (5.6 - 0.2) * (3.2 - 0.2)
    assert depth.field_light_mm2(depth.Depth.of(rig), 40.0) == pytest.approx(area, rel=1e-9)


def test_nothing_limits_the_window_outward():
    found = depth.window(train_rig(telescope__image_circle_mm=None))
    assert math.isinf(found.max_offset_mm)
    assert found.limited_by is None
    assert found.in_window


def test_clear_share_gives_up_the_darkest_part_of_the_picture():
    rig = train_rig()
    whole, most = depth.window(rig), depth.window(rig, clear_share=0.95)
    assert most.min_offset_mm < whole.min_offset_mm - 0.2
    dark = depth.shadow(rig.with_values({"prism.offset_mm": most.min_offset_mm}))
    assert np.mean(dark.loss > 1e-9) == pytest.approx(0.05, abs=0.015)
    some = depth.window(rig, allowed_loss=0.05)
    assert depth.shadow(rig.with_values({"prism.offset_mm": some.min_offset_mm})).worst == pytest.approx(0.05, abs=1e-3)


NO_WINDOW = {"train__clear_aperture_mm": 42.0}


def test_every_remedy_opens_a_window():
    rig = train_rig(**NO_WINDOW)
    found = depth.window(rig)
    assert found.best_offset_mm is None
    assert not found.in_window
    assert found.limited_by == "clear aperture"
    remedies = {item.kind: item for item in found.remedies}
    assert set(remedies) >= {"crop", "ahead", "clear aperture", "dim"}
    tried = {
        "crop": {"camera.height_mm": 15.7 - 2 * remedies["crop"].amount - 1e-6},
        "ahead": {"prism.ahead_mm": remedies["ahead"].amount},
        "clear aperture": {"train.clear_aperture_mm": remedies["clear aperture"].amount + 1e-6},
    }
    for kind, values in tried.items():
        assert depth.window(rig.with_values(values)).best_offset_mm is not None, kind
    assert 0.0 < remedies["dim"].amount < 1.0


def test_two_openings_that_are_both_too_narrow_open_a_window_only_together():
    rig = train_rig(train__clear_aperture_mm=40.0, telescope__image_circle_mm=30.0)
    needed = {item.kind: item for item in depth.window(rig).remedies if item.kind in ("image circle", "clear aperture")}
    assert {item.where for item in needed.values()} == {"together"}
    changes = {
        "telescope.image_circle_mm": needed["image circle"].amount + 1e-6,
        "train.clear_aperture_mm": needed["clear aperture"].amount + 1e-6,
    }
    for key, value in changes.items():
        assert depth.window(rig.with_values({key: value})).best_offset_mm is None
    assert depth.window(rig.with_values(changes)).best_offset_mm is not None
    text = " ".join(render_train(train(rig), width=100).split())
    assert text.count("together with the other opening") == 2


def test_another_side_of_the_frame_may_have_a_window():
    rig = train_rig(prism__side="left", telescope__image_circle_mm=40.0)
    found = depth.window(rig)
    assert found.best_offset_mm is None
    sides = {item.where: item.amount for item in found.remedies if item.kind == "side"}
    assert set(sides) == {"top", "bottom"}
    assert all(depth.window(rig.with_values({"prism.side": side})).best_offset_mm is not None for side in sides)


@pytest.mark.parametrize("name", PRESETS)
def test_every_preset_stands_inside_its_window(name):
    found = depth.window(preset(name))
    assert found.in_window
    assert depth.shadow(preset(name)).corner == ""


def test_picture_and_rig_frame_are_inverse():
    rig = train_rig(prism__side_deg=33.0)
    right, up = np.array([1.0, -2.0]), np.array([3.0, 0.5])
    back = depth.to_picture(rig, *depth.to_rig_frame(rig, right, up))
    assert np.allclose(back, (right, up))
