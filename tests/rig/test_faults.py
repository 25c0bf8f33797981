"""Everything that can be wrong with a rig, each in one sentence with the value and the remedy, and all at once."""

import copy
import math

import pytest

from guidestar.errors import ExitStatus, RigError
from guidestar.rig import rig_from_dict

SOUND = {
    "name": "test rig",
    "telescope": {"focal_length_mm": 2000.0, "aperture_mm": 200.0},
    "camera": {"width_mm": 11.3, "height_mm": 11.3, "pixel_um": 3.76},
    "prism": {"width_mm": 14.0, "height_mm": 8.0, "offset_mm": 14.0, "ahead_mm": 50.0},
    "guide_camera": {"width_mm": 5.6, "height_mm": 3.2, "pixel_um": 2.9},
    "site": {"latitude_deg": 50.0, "longitude_deg": 10.0},
    "train": {"parts": [{"name": "body", "length_mm": 17.5}]},
}


def faults_of(**changes):
    """Faults of the sound rig with keys changed: section__key=value; None takes the key out."""
    values = copy.deepcopy(SOUND)
    for path, value in changes.items():
        section, _, key = path.partition("__")
        table = values.setdefault(section, {}) if key else values
        if value is None:
            del table[key or section]
        else:
            table[key or section] = value
    with pytest.raises(RigError) as caught:
        rig_from_dict(values)
    return list(caught.value.faults)


def test_the_sound_rig_is_sound():
    assert rig_from_dict(SOUND).warnings == ()


@pytest.mark.parametrize(
    ("path", "value", "fault"),
    [
        # wrong types
        ("telescope.focal_length_mm", "2000", 'found "2000" (text), must be a number from 50 to 20000 mm'),
        ("telescope.focal_length_mm", True, "found true, must be a number from 50 to 20000 mm"),
        ("telescope.focal_length_mm", [2000], "found a list, must be a number from 50 to 20000 mm"),
        ("telescope.focal_length_mm", {}, "found a table, must be a number from 50 to 20000 mm"),
        ("guide_camera.binning", 2.0, "found 2.0, must be a whole number from 1 to 16"),
        ("guide_camera.binning", True, "found true, must be a whole number from 1 to 16"),
        ("camera.mirrored", 1, "found 1, must be true or false"),
        ("camera.mirrored", "no", 'found "no" (text), must be true or false'),
        ("name", 5, "found 5, must be text of one line, 1 to 200 characters"),
        ("name", " ", 'found " " (text), must be text of one line, 1 to 200 characters'),
        ("camera", 3, "found 3, must be a table of keys"),
        ("train", [1], "found a list, must be a table of keys"),
        ("train.parts", "body", 'found "body" (text), must be a list of parts [{ name = …, length_mm = … }]'),
        # out of range, negative, nan, infinite
        ("telescope.focal_length_mm", 49.9, "found 49.9, must be a number from 50 to 20000 mm"),
        ("telescope.focal_length_mm", 20001, "found 20001, must be a number from 50 to 20000 mm"),
        ("telescope.aperture_mm", -200.0, "found -200.0, must be a number from 10 to 10000 mm"),
        ("telescope.aperture_mm", math.nan, "found nan, must be a number from 10 to 10000 mm"),
        ("telescope.aperture_mm", math.inf, "found inf, must be a number from 10 to 10000 mm"),
        ("telescope.exit_pupil_mm", math.nan, "found nan, must be a number more than 0 mm (inf allowed)"),
        ("telescope.exit_pupil_mm", -math.inf, "found -inf, must be a number more than 0 mm (inf allowed)"),
        ("telescope.image_circle_mm", math.nan, "found nan, must be a number from 2 to 500 mm"),
        ("telescope.transmission", 85, "found 85, must be a number more than 0, at most 1"),
        ("prism.offset_mm", -14.0, "found -14.0, must be a number more than 0, at most 500 mm"),
        ("prism.side_deg", 360, "found 360, must be a number from 0 to less than 360°"),
        ("guiding.faintest_mag", math.nan, "found nan, must be a number from 0 to 25 mag"),
        ("guiding.min_stars", 0, "found 0, must be a whole number from 1 to 100"),
        ("guiding.airmass", 0.9, "found 0.9, must be a number from 1 to 40"),
        ("guiding.airmass", 10**400, "found a whole number of more than 15 digits, must be a number from 1 to 40"),
        ("sky.brightness_mag_arcsec2", 30, "found 30, must be a number from 5 to 23 mag/arcsec²"),
        ("site.latitude_deg", 91, "found 91, must be a number from -90 to 90°"),
        # words
        ("mount.kind", "germn", 'found "germn" (text), must be "german", "fork" or "altaz"; did you mean german?'),
        ("mount.kind", 3, 'found 3, must be "german", "fork" or "altaz"'),
        (
            "prism.side",
            "botom",
            'found "botom" (text), '
            'must be "top", "left", "bottom" or "right" (any other angle as side_deg); did you mean bottom?',
        ),
        ("prism.side", 90, 'found 90, must be "top", "left", "bottom" or "right" (any other angle as side_deg)'),
        (
            "site.time_zone",
            "Mars/Base",
            'found "Mars/Base" (text), must be a name of the tz database such as Europe/Paris or Etc/UTC',
        ),
        (
            "site.time_zone",
            "../etc/passwd",
            'found "../etc/passwd" (text), must be a name of the tz database such as Europe/Paris or Etc/UTC',
        ),
        (
            "site.time_zone",
            "Europe/Pariss",
            'found "Europe/Pariss" (text), must be a name of the tz database such as Europe/Paris or Etc/UTC; '
            "did you mean Europe/Paris?",
        ),
        (
            "site.time_zone",
            "new york",
            'found "new york" (text), must be a name of the tz database such as Europe/Paris or Etc/UTC; '
            "did you mean America/New_York?",
        ),
        (
            "site.horizon_deg",
            [[90, 20], [0, 30]],
            "found a list, must be one altitude from -5 to 90°, or [[azimuth, altitude], …] with azimuths from 0 to "
            "360° in ascending order",
        ),
        ("mount.flip_after_min", 400, "found 400, must be a number from -180 to 180 min"),
        # missing
        ("telescope.aperture_mm", None, "missing, must be a number from 10 to 10000 mm"),
        (
            "prism.ahead_mm",
            None,
            "missing, must be a number more than 0, at most 2000 mm, or follow from prism_at_mm of a train part",
        ),
        ("name", None, "missing, must be text of one line"),
        ("camera", None, "missing, must be a table [camera] with at least width_mm, height_mm, pixel_um"),
        # unknown
        ("telescope.focal_lenght_mm", 1, "unknown key; did you mean focal_length_mm?"),
        ("prism.sied", "top", "unknown key; did you mean side?"),
        ("gide_camera", {}, "unknown section; did you mean guide_camera?"),
        ("exposure_s", 2, "unknown key; it belongs in [guiding]"),
        ("camera.focal_length_mm", 2, "unknown key; it belongs in [telescope]"),
        ("mount.zzz", 2, "unknown key; known here: kind, flip_after_min"),
        # keys that do not go together
        ("prism.offset_mm", 3.0, "found 3.0, must be more than half the prism's height (4.0 mm)"),
        ("prism.offset_mm", 4.0, "found 4.0, must be more than half the prism's height (4.0 mm)"),
        ("telescope.central_obstruction_mm", 200, "found 200.0, must be less than the aperture (200.0 mm)"),
        (
            "telescope.exit_pupil_mm",
            50,
            "found 50.0, must be more than prism.ahead_mm (50.0 mm): the prism stands behind the exit pupil",
        ),
        ("prism.ahead_mm", 2000, "found 2000.0, must be less than the focal length (2000.0 mm)"),
        ("guiding.edge_margin_mm", 1.6, "found 1.6, must be less than half the guide sensor's shorter side (1.6 mm)"),
        (
            "telescope.aperture_mm",
            5000,
            "found 5000.0, must be at most 4000.0 mm at a focal length of 2000.0 mm: no light cone is wider than f/0.5",
        ),
    ],
)
def test_each_fault_is_one_sentence(path, value, fault):
    assert faults_of(**{path.replace(".", "__"): value}) == [f"{path}: {fault}"]


@pytest.mark.parametrize(
    ("part", "fault"),
    [
        ({"name": "body", "lenght_mm": 3.0, "length_mm": 3}, "lenght_mm: unknown key; did you mean length_mm?"),
        (
            {"name": "body", "length_mm": 9, "prism_at_mm": 9.5},
            "prism_at_mm: found 9.5, must be at most the part's length (9.0 mm)",
        ),
    ],
)
def test_faults_of_a_part_say_which_part(part, fault):
    other = {"name": "spacer", "length_mm": 5.0}
    assert faults_of(train__parts=[other, part]) == [f"train.parts[2].{fault}"]


@pytest.mark.parametrize(
    "horizon",
    ["low", True, math.nan, 91, -6.0, [], [30.0], [[0, 10], [0, 20]], [[90, 10], [20, 20]], [[0, 10, 1]], [[0, 95]],
     [[361, 5]], [["N", 5]], [[0, math.nan]], {"0": 10}, [[0, 10**400]]],
)  # fmt: skip
def test_a_horizon_is_one_altitude_or_pairs_in_ascending_azimuth(horizon):
    (fault,) = faults_of(site__horizon_deg=horizon)
    assert fault.startswith("site.horizon_deg: found ")
    assert "one altitude from -5 to 90°, or [[azimuth, altitude], …]" in fault


def test_a_side_is_given_one_way_only():
    (fault,) = faults_of(prism__side="left", prism__side_deg=0.0)
    assert fault == 'prism.side: found "left" (text) next to side_deg = 0.0, must be given one way only'


def test_only_one_part_holds_the_prism():
    body = {"name": "body", "length_mm": 20.0, "prism_at_mm": 9.0}
    (fault,) = faults_of(train__parts=[body, body])
    assert fault.startswith("train.parts[2].prism_at_mm: a second prism")


def test_a_faulty_train_is_not_also_a_missing_ahead_mm():
    body = {"name": "body", "lenght_mm": 20.0, "prism_at_mm": 9.0}
    assert faults_of(train__parts=[body], prism__ahead_mm=None) == [
        "train.parts[1].lenght_mm: unknown key; did you mean length_mm?",
        "train.parts[1].length_mm: missing, must be a number from 0 to 1000 mm",
    ]


def test_a_faulty_key_is_not_also_a_fault_of_the_default_that_leans_on_it():
    assert len(faults_of(telescope__focal_length_mm="long")) == 1
    assert len(faults_of(prism__width_mm=None)) == 1


def test_everything_at_once_also_rules_across_sections():
    faults = faults_of(
        name=None,
        telescope__focal_lenght_mm=2000,
        telescope__central_obstruction_mm=250.0,
        camera__pixel_um="3.76",
        prism__offset_mm=3.0,
        prism__glass_index=math.nan,
        guide_camera__turned=5,
        guiding__edge_margin_mm=2,
        mount__kind="tripod",
        site__longitude_deg=None,
        weather={},
    )
    blamed = [fault.split(": ")[0] for fault in faults]
    assert sorted(blamed) == sorted(
        [
            "weather",
            "name",
            "telescope.focal_lenght_mm",
            "telescope.central_obstruction_mm",
            "camera.pixel_um",
            "prism.offset_mm",
            "prism.glass_index",
            "guide_camera.turned",
            "guiding.edge_margin_mm",
            "mount.kind",
            "site.longitude_deg",
        ]
    )


def test_a_rule_is_not_checked_on_a_value_that_is_itself_at_fault():
    assert faults_of(prism__height_mm=-8.0) == ["prism.height_mm: found -8.0, must be a number from 1 to 100 mm"]


def test_what_a_person_typed_is_shown_printable_and_short():
    (fault,) = faults_of(mount__kind="a\nb\x1b[31m" + "c" * 500)
    assert "\n" not in fault
    assert "\x1b" not in fault
    assert len(fault) < 200
    (fault,) = faults_of(**{"x\ny" * 100: 1})
    assert fault.isprintable()
    assert len(fault) < 250


def test_an_error_says_where_and_exits_as_bad_input():
    with pytest.raises(RigError) as caught:
        rig_from_dict({"name": "x"}, where="my-rig.toml")
    assert caught.value.status is ExitStatus.BAD_INPUT
    lines = str(caught.value).splitlines()
    assert len(lines) == len(caught.value.faults) == 4
    assert all(line.startswith("my-rig.toml: ") for line in lines)


def test_something_that_is_no_table_at_all():
    with pytest.raises(RigError, match="found a list, must be a table of sections"):
        rig_from_dict([1])
