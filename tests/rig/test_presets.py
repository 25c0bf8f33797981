"""Presets, and the commented file that each becomes."""

import re
import tomllib
from dataclasses import fields

import pytest

from guidestar.errors import InputError
from guidestar.rig import PRESETS, preset, preset_toml, rig_from_dict
from guidestar.rig.build import SECTIONS
from guidestar.rig.model import Part

COMMENTED_OUT = re.compile(r"^# (?=\[|[a-z_0-9]+ = )", re.MULTILINE)


def test_the_kinds_and_sizes_that_are_promised():
    for kind in ("compound-2000-f10", "newtonian-1000-f5", "refractor-480-f6"):
        assert preset(kind) == preset(f"{kind}-prism-8x8")
        assert preset(f"{kind}-prism-8x8").prism.width_mm == 8.0
        assert preset(f"{kind}-prism-14x8").prism.width_mm == 14.0


@pytest.mark.parametrize("name", PRESETS)
def test_a_preset_is_what_its_name_says_and_has_no_warnings(name):
    rig = preset(name)
    focal, f_ratio = re.match(r"\w+-(\d+)-f(\d+)", name).groups()
    assert rig.telescope.focal_length_mm == float(focal)
    assert rig.telescope.f_ratio == pytest.approx(float(f_ratio))
    assert rig.warnings == ()
    assert f"prism {rig.prism.width_mm:g} × {rig.prism.height_mm:g} mm" in rig.name


@pytest.mark.parametrize("name", PRESETS)
def test_a_preset_stays_clear_of_the_sensor_within_the_offsets_accuracy(name):
    rig = preset(name)
    nearer = rig.prism.offset_mm - rig.prism.offset_accuracy_mm
    assert rig.with_values({"prism.offset_mm": nearer}).warnings == ()


def test_a_compound_telescopes_exit_pupil_is_given_and_in_its_usual_range():
    telescope = preset("compound-2000-f10").telescope
    assert 0.25 <= telescope.exit_pupil_mm / telescope.focal_length_mm <= 0.55


@pytest.mark.parametrize("name", PRESETS)
def test_reading_the_file_gives_the_presets_rig(name):
    assert rig_from_dict(tomllib.loads(preset_toml(name))) == preset(name)


def keys_of(text):
    values = tomllib.loads(text)
    return {f"{section}.{key}" for section, part in values.items() if isinstance(part, dict) for key in part}


@pytest.mark.parametrize("name", PRESETS)
def test_the_file_holds_every_key_there_is(name):
    with_all = COMMENTED_OUT.sub("", preset_toml(name))
    known = {f"{section}.{item.name}" for section, kind in SECTIONS.items() for item in fields(kind)}
    assert keys_of(with_all) == known | {"prism.side"}
    (part,) = tomllib.loads(with_all)["train"]["parts"]
    assert set(part) == {item.name for item in fields(Part)}


@pytest.mark.parametrize("name", PRESETS)
def test_the_lines_that_are_commented_out_are_valid_too(name):
    values = tomllib.loads(COMMENTED_OUT.sub("", preset_toml(name)))
    del values["prism"]["side_deg"]  # the other way to give the side
    del values["prism"]["ahead_mm"]  # follows from the parts
    rig = rig_from_dict(values)
    assert rig.prism.ahead_mm == pytest.approx(17.5 - 9.0 + 17.5)
    assert rig.guiding.faintest_mag == 12.0
    plain = preset(name)
    assert (rig.telescope.exit_pupil_mm, rig.prism.holder_width_mm, rig.prism.glass_path_mm) == (
        plain.telescope.exit_pupil_mm,
        plain.prism.holder_width_mm,
        plain.prism.glass_path_mm,
    )


@pytest.mark.parametrize("name", PRESETS)
def test_limits_and_leaning_defaults_are_commented_out_unless_set(name):
    active = keys_of(preset_toml(name))
    assert not active & {"guiding.faintest_mag", "prism.holder_width_mm", "prism.glass_path_mm", "prism.side_deg"}
    assert not any(key.startswith(("site.", "train.")) for key in active)
    assert ("telescope.exit_pupil_mm" in active) is name.startswith("compound")


def test_every_key_is_explained_and_lines_stay_readable():
    lines = preset_toml("compound-2000-f10").splitlines()
    for line in lines:
        assert len(line) <= 125
        key = re.match(r"^(?:# )?([a-z_0-9]+) = ", line)
        if key and key.group(1) not in ("name", "parts", "height_mm"):
            assert "  # " in line, line


def test_how_to_measure_and_safety_are_in_the_file():
    text = preset_toml("refractor-480-f6").lower()
    assert text.count("caliper") >= 2
    assert "how to measure offset_mm" in text
    assert "how to measure ahead_mm" in text
    assert "near the sun" in text


@pytest.mark.parametrize("call", [preset, preset_toml])
def test_an_unknown_preset_is_answered_with_the_nearest_and_all(call):
    with pytest.raises(InputError) as caught:
        call("refractor-480-f7")
    sentence = str(caught.value)
    assert sentence.startswith('there is no preset "refractor-480-f7"; did you mean refractor-480-f6? Presets: ')
    assert all(name in sentence for name in PRESETS)


def test_presets_cannot_be_changed_by_accident():
    with pytest.raises(TypeError):
        PRESETS["mine"] = {}
