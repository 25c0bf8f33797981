"""Reading a file: what can be wrong with it before a single key is looked at."""

import os

import pytest

from guidestar.errors import RigError
from guidestar.rig import PRESETS, preset, preset_toml, read_rig

NAME = "compound-2000-f10-prism-14x8"


def fault_of(path):
    with pytest.raises(RigError) as caught:
        read_rig(path)
    (fault,) = caught.value.faults
    assert caught.value.where == os.fspath(path)
    return fault


@pytest.mark.parametrize("name", PRESETS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_a_preset_file_is_read_however_an_editor_saved_it(tmp_path, name, encoding, newline):
    path = tmp_path / "rig.toml"
    path.write_text(preset_toml(name), encoding=encoding, newline=newline)
    assert read_rig(path) == read_rig(str(path)) == preset(name)


def test_a_missing_file_says_how_to_start_one(tmp_path):
    fault = fault_of(tmp_path / "none.toml")
    assert "no such file" in fault
    assert "guidestar rig new" in fault


def test_a_folder_is_no_rig_file(tmp_path):
    assert fault_of(tmp_path) == "this is a folder; name the rig file inside it"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_without_permission(tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text("name = 'x'")
    path.chmod(0)
    assert "cannot be read" in fault_of(path)


@pytest.mark.parametrize("path", ["a\0b", "x" * 5000])
def test_a_path_that_no_file_can_have(path):
    assert "cannot be read" in fault_of(path)


def test_an_endless_file_is_not_read_to_its_end(tmp_path):
    path = tmp_path / "rig.toml"
    path.write_bytes(b"#" * 1_000_001)
    assert "no rig file" in fault_of(path)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("name = 'x'\nfocal length = 3\n", "line 2, column 7"),
        ("name = 'x'\n[telescope\n", "line 2, column 11"),
        ("name = 'x'\n[telescope]\nfocal_length_mm = 2000,0\n", "line 3, column 23"),
        ("name = \n", "line 1, column 8"),
        ("a = [1,", "line 1 (the end)"),
        ("a = 1\na = 2\n", "line 2, column 6"),
    ],
)
def test_what_is_not_toml_is_said_with_line_and_column(tmp_path, text, place):
    path = tmp_path / "rig.toml"
    path.write_text(text, encoding="utf-8")
    fault = fault_of(path)
    assert fault.startswith(f"is not TOML at {place}: ")
    assert "key = value" in fault


@pytest.mark.parametrize("text", ["a = " + "[" * 100_000, "a = " + "9" * 10_000])
def test_brackets_and_digits_without_end(tmp_path, text):
    path = tmp_path / "rig.toml"
    path.write_text(text, encoding="utf-8")
    assert fault_of(path).startswith("is not usable TOML")


def test_a_file_in_another_encoding(tmp_path):
    path = tmp_path / "rig.toml"
    path.write_bytes("name = 'x'\n# schräg\n".encode("latin-1"))
    assert fault_of(path) == "line 2 holds byte 0xe4, which is not UTF-8; save the file as UTF-8 text"
    path.write_bytes("name = 'x'\n".encode("utf-16"))
    assert "save the file as UTF-8" in fault_of(path)


def test_an_empty_file_lists_what_a_rig_needs(tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text("")
    with pytest.raises(RigError) as caught:
        read_rig(path)
    assert [fault.split(":")[0] for fault in caught.value.faults] == [
        "name",
        "telescope",
        "camera",
        "prism",
        "guide_camera",
    ]
