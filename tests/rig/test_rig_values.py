"""A valid rig: defaults, dependent defaults, resolved words, changed copies."""

import dataclasses
import math

import pytest

from guidestar.errors import RigError
from guidestar.rig import rig_from_dict

SMALL = {
    "name": "test rig",
    "telescope": {"focal_length_mm": 2000, "aperture_mm": 200.0},
    "camera": {"width_mm": 11.3, "height_mm": 11.3, "pixel_um": 3.76},
    "prism": {"width_mm": 14.0, "height_mm": 8.0, "offset_mm": 14.0, "ahead_mm": 50.0},
    "guide_camera": {"width_mm": 5.6, "height_mm": 3.2, "pixel_um": 2.9},
}


@pytest.fixture
def rig():
    return rig_from_dict(SMALL)


def test_absent_keys_take_the_documented_defaults(rig):
    assert rig.telescope.central_obstruction_mm == 0.0
    assert rig.telescope.image_circle_mm is None
    assert (rig.telescope.transmission, rig.telescope.fwhm_arcsec) == (0.85, 3.0)
    assert rig.camera.mirrored is False
    assert (rig.prism.offset_accuracy_mm, rig.prism.transmission, rig.prism.glass_index) == (1.0, 0.95, 1.52)
    assert (rig.prism.side, rig.prism.side_deg) == ("top", 0.0)
    guide = rig.guide_camera
    assert (guide.turned_deg, guide.picture_mirrored, guide.quantum_efficiency) == (0.0, True, 0.6)
    assert (guide.read_noise_e, guide.dark_e_per_s, guide.full_well_e, guide.binning) == (1.5, 0.1, 12000, 1)
    assert dataclasses.astuple(rig.guiding) == (2.0, 10.0, 3.0, 1.3, 1, 0.1, None, 1.0)
    assert (rig.mount.kind, rig.mount.flips) == ("german", True)
    assert dataclasses.astuple(rig.sky) == (20.5, 0.7, 0.25)
    assert rig.site is None
    assert rig.train is None
    assert rig.warnings == ()


def test_defaults_that_lean_on_another_key(rig):
    assert rig.telescope.exit_pupil_mm == 2000.0
    assert rig.prism.holder_width_mm == 14.0
    assert rig.prism.glass_path_mm == 8.0
    wider = rig.with_values({"prism.width_mm": 20, "prism.height_mm": 6})
    assert (wider.prism.holder_width_mm, wider.prism.glass_path_mm) == (20.0, 6.0)


def test_a_whole_number_stands_for_one_with_decimals(rig):
    assert rig.telescope.focal_length_mm == 2000.0
    assert isinstance(rig.telescope.focal_length_mm, float)


def test_derived_ratios(rig):
    assert rig.telescope.f_ratio == 10.0
    assert rig.with_values({"telescope.central_obstruction_mm": 50}).telescope.obstruction_ratio == 0.25


def test_an_infinite_exit_pupil_is_a_telecentric_telescope(rig):
    assert math.isinf(rig.with_values({"telescope.exit_pupil_mm": math.inf}).telescope.exit_pupil_mm)


@pytest.mark.parametrize(("word", "side_deg"), [("top", 0.0), ("left", 90.0), ("bottom", 180.0), ("right", 270.0)])
def test_a_side_is_a_word_or_an_angle(rig, word, side_deg):
    assert rig.with_values({"prism.side": word}).prism.side_deg == side_deg
    assert rig.with_values({"prism.side_deg": side_deg}).prism.side == word


def test_a_side_between_the_edges_has_no_word(rig):
    assert rig.with_values({"prism.side_deg": 45}).prism.side is None


def test_changing_the_side_replaces_the_other_way_of_giving_it(rig):
    left = rig.with_values({"prism.side": "left"})
    assert left.with_values({"prism.side_deg": 10.0}).prism.side_deg == 10.0
    assert left.with_values({"prism.side_deg": 10.0}).with_values({"prism.side": "right"}).prism.side_deg == 270.0


@pytest.mark.parametrize(("kind", "flips"), [("german", True), ("fork", False), ("altaz", False)])
def test_only_a_german_mount_flips(rig, kind, flips):
    assert rig.with_values({"mount.kind": kind}).mount.flips is flips


def test_a_rig_cannot_be_changed_in_place(rig):
    with pytest.raises(dataclasses.FrozenInstanceError):
        rig.prism.offset_mm = 3.0
    with pytest.raises(dataclasses.FrozenInstanceError):
        rig.name = "other"


def test_later_changes_of_the_source_do_not_reach_the_rig():
    values = {section: dict(part) if isinstance(part, dict) else part for section, part in SMALL.items()}
    rig = rig_from_dict(values)
    values["prism"]["offset_mm"] = 1.0
    assert rig.with_values({"name": "again"}).prism.offset_mm == 14.0


def test_changed_copies_leave_the_original_alone_and_compare_by_value(rig):
    brighter = rig.with_values({"guiding.faintest_mag": 12.0})
    assert (rig.guiding.faintest_mag, brighter.guiding.faintest_mag) == (None, 12.0)
    assert brighter != rig
    assert brighter.with_values({"guiding.faintest_mag": None}) == rig
    assert hash(brighter.with_values({"guiding.faintest_mag": None})) == hash(rig)


def test_taking_a_key_out_of_a_section_the_file_lacks_changes_nothing(rig):
    assert rig.with_values({"site.elevation_m": None, "site": None}) == rig


def test_changed_copies_are_checked_like_a_file(rig):
    with pytest.raises(RigError) as caught:
        rig.with_values({"prism.widht_mm": 12, "prism.offset_mm": 3.0, "prisn.width_mm": 4, "a.b.c": 1, "prism": None})
    faults = caught.value.faults
    assert "a.b.c: unknown key path, must be section.key such as prism.width_mm" in faults
    assert "prisn: unknown section; did you mean prism?" in faults
    with pytest.raises(RigError) as caught:
        rig.with_values({"prism.widht_mm": 12, "prism.offset_mm": 3.0})
    assert caught.value.faults == (
        "prism.widht_mm: unknown key; did you mean width_mm?",
        "prism.offset_mm: found 3.0, must be more than half the prism's height (4.0 mm)",
    )
    with pytest.raises(RigError, match=r"unknown key; did you mean width_mm\?"):
        rig.with_values({"prism.widht_mm": None})


def test_a_required_key_cannot_be_taken_out(rig):
    with pytest.raises(RigError, match=r"camera\.pixel_um: missing, must be a number from 0\.5 to 50 µm"):
        rig.with_values({"camera.pixel_um": None})


def test_a_site_is_read(rig):
    site = rig.with_values({"site.latitude_deg": -33, "site.longitude_deg": 149.1}).site
    assert dataclasses.astuple(site) == (-33.0, 149.1, 0.0, 20.0, "Etc/UTC")
    skyline = [[0, 10], [90.0, 25.5], [200, -1]]
    site = rig.with_values({"site": {"latitude_deg": 50.0, "longitude_deg": 8.0, "horizon_deg": skyline}}).site
    assert site.horizon_deg == ((0.0, 10.0), (90.0, 25.5), (200.0, -1.0))


TRAIN = {
    "camera_flange_mm": 17.5,
    "parts": [
        {"name": "spacer", "length_mm": 10.0},
        {"name": "pick-off body", "length_mm": 17.5, "prism_at_mm": 9.0},
        {"name": "filter drawer", "length_mm": 20},
    ],
}


def test_the_prisms_place_follows_from_the_train():
    # 8.5 mm of its own part are left, then 20 and 17.5 mm: added by hand.
    prism = {key: value for key, value in SMALL["prism"].items() if key != "ahead_mm"}
    rig = rig_from_dict(SMALL | {"prism": prism, "train": TRAIN})
    assert rig.prism.ahead_mm == pytest.approx(46.0)
    assert rig.warnings == ()


@pytest.mark.parametrize(("ahead_mm", "warned"), [(46.4, False), (45.6, False), (46.6, True), (45.4, True)])
def test_a_train_that_disagrees_by_more_than_half_a_millimetre_is_a_warning(ahead_mm, warned):
    rig = rig_from_dict(SMALL | {"prism": SMALL["prism"] | {"ahead_mm": ahead_mm}, "train": TRAIN})
    assert rig.prism.ahead_mm == ahead_mm
    assert bool(rig.warnings) is warned
    if warned:
        assert "disagrees with the train" in rig.warnings[0]
        assert "46.0 mm ahead" in rig.warnings[0]
        assert str(ahead_mm) in rig.warnings[0]


def test_a_train_without_a_prism_says_nothing_about_it():
    rig = rig_from_dict(SMALL | {"train": {"parts": [{"name": "spacer", "length_mm": 10.0}]}})
    assert rig.train.prism_ahead_mm is None
    assert rig.warnings == ()
