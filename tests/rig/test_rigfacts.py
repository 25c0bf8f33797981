"""What follows from a rig, against figures worked out another way."""

import math

import numpy as np
import pytest

from guidestar.field.rigfacts import rig_facts, ring_area_deg2
from guidestar.rig import PRESETS, preset


@pytest.fixture
def compound():
    return preset("compound-2000-f10-prism-14x8")


def test_image_scales_are_206265_arcsec_a_radian(compound):
    facts = rig_facts(compound)
    assert facts.main_scale_arcsec_per_px == pytest.approx(206.265 * 3.8 / 2000, rel=1e-5)
    assert facts.guide_scale_arcsec_per_px == pytest.approx(206.265 * 2.9 / 2000, rel=1e-5)


def test_frame_and_guide_field_on_the_sky(compound):
    facts = rig_facts(compound)
    # Small angles: 17.7 and 13.4 mm at 2000 mm, 3437.75 arcmin a radian.
    assert facts.frame_width_arcmin == pytest.approx(17.7 / 2000 * 3437.75, rel=1e-4)
    assert facts.frame_height_arcmin == pytest.approx(13.4 / 2000 * 3437.75, rel=1e-4)
    # By hand: 14.5 / (1 − 60/700) = 15.859 mm.
    assert facts.field.centre_mm == pytest.approx(15.859375)
    assert facts.field.centre_arcmin == pytest.approx(15.859375 / 2000 * 3437.75, rel=1e-4)
    assert (facts.field_width_mm, facts.field_height_mm) == pytest.approx((5.4, 3.0))


def test_how_far_the_centre_moves_if_the_light_were_telecentric(compound):
    facts = rig_facts(compound)
    telecentric = rig_facts(compound.with_values({"telescope.exit_pupil_mm": math.inf}))
    assert facts.telecentric_shift_mm == pytest.approx(facts.field.centre_mm - telecentric.field.centre_mm)
    assert facts.telecentric_shift_arcmin == pytest.approx(facts.field.centre_arcmin - telecentric.field.centre_arcmin)
    assert telecentric.telecentric_shift_mm == telecentric.telecentric_shift_arcmin == 0.0
    assert facts.telecentric_shift_mm > 1.0


def test_beam_at_the_prism(compound):
    facts = rig_facts(compound)
    assert facts.beam_diameter_mm == pytest.approx(60 / 10)
    assert facts.beam_dark_diameter_mm == pytest.approx(6.0 * 68 / 200)


def test_clear_depth_is_what_may_still_be_pushed_in(compound):
    facts = rig_facts(compound)
    deeper = compound.prism.offset_mm - facts.clear_depth_mm
    assert compound.with_values({"prism.offset_mm": deeper + 1e-6}).warnings == ()
    assert compound.with_values({"prism.offset_mm": deeper - 1e-6}).warnings != ()


def test_published_area_of_a_ring():
    # 8 to 16 mm at 1000 mm: 1.980 square degrees in the flat approximation, which is good to ρ²/f² = 3e-4.
    assert ring_area_deg2(8.0, 16.0, 1000.0) == pytest.approx(1.980, abs=1e-3)


def test_area_of_a_ring_against_counting():
    # Share of random directions (seeded) that fall in the ring, on a wide one so that few draws are needed.
    rng = np.random.default_rng(20)
    cosines = rng.uniform(-1.0, 1.0, 400_000)
    radius_mm = np.where(cosines > 0, np.sqrt(1 - cosines**2) / np.maximum(cosines, 1e-12), np.inf) * 50.0
    share = np.mean((radius_mm > 20.0) & (radius_mm < 40.0))
    whole_sky_deg2 = 41252.96
    # Three standard deviations of the count.
    assert ring_area_deg2(20.0, 40.0, 50.0) == pytest.approx(
        share * whole_sky_deg2, abs=3 * 41252.96 * math.sqrt(0.08 / 4e5)
    )


@pytest.mark.parametrize(
    ("changes", "limited_by"),
    [
        ({}, "guide sensor"),
        ({"prism.width_mm": 4.0}, "prism"),
        ({"prism.height_mm": 2.0}, "prism"),
        ({"prism.width_mm": 5.2, "guiding.edge_margin_mm": 0.1}, "guide sensor"),  # 5.4 mm seen through 5.2 / 0.914
        ({"guide_camera.width_mm": 3.0, "guide_camera.height_mm": 16.0, "guide_camera.turned_deg": 90}, "prism"),
        ({"guide_camera.width_mm": 3.0, "guide_camera.height_mm": 14.0, "guide_camera.turned_deg": 90}, "guide sensor"),
    ],
)
def test_what_limits_the_guide_field_is_what_enlarging_would_help(compound, changes, limited_by):
    rig = compound.with_values({"prism.offset_mm": 20.0, "telescope.image_circle_mm": None} | changes)
    assert rig_facts(rig).limited_by == limited_by
    larger = rig.with_values({"prism.width_mm": 40.0, "prism.height_mm": 39.0})
    grown = rig_facts(larger).turn_area_deg2 > rig_facts(rig).turn_area_deg2 * (1 + 1e-9)
    wider = rig_facts(larger).field_width_mm > rig_facts(rig).field_width_mm + 1e-9
    assert (grown or wider) is (limited_by == "prism")


@pytest.mark.parametrize("name", PRESETS)
def test_the_ring_holds_the_field_and_fits_the_light(name):
    facts = rig_facts(preset(name))
    field = facts.field
    assert field.inner_mm < field.centre_mm < field.outer_mm
    assert field.outer_mm - field.inner_mm >= facts.field_height_mm
    assert field.centre_mm <= facts.rig.telescope.image_circle_mm / 2
    flat = (
        math.pi
        * (field.outer_mm**2 - field.inner_mm**2)
        / facts.rig.telescope.focal_length_mm**2
        * math.degrees(1) ** 2
    )
    assert facts.turn_area_deg2 == pytest.approx(flat, rel=2e-3)
