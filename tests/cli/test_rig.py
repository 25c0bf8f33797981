"""`guidestar rig new` and `guidestar rig show`, as a person runs them."""

import json
import os

import pytest
from support.command_line import one_sentence

from guidestar.field.rigfacts import rig_facts
from guidestar.report.rig_text import render_rig
from guidestar.rig import PRESETS, preset, preset_toml, read_rig


def test_new_writes_a_file_that_show_reads(run, tmp_path):
    path = tmp_path / "my.toml"
    status, out, err = run("rig", "new", path)
    assert (status, err) == (0, "")
    assert str(path) in out
    assert read_rig(path) == preset("compound-2000-f10-prism-8x8")
    assert run("rig", "show", "--rig", path)[0] == 0


@pytest.mark.parametrize("name", PRESETS)
def test_new_from_each_preset_writes_its_text(run, tmp_path, name):
    path = tmp_path / "my.toml"
    status, out, _ = run("rig", "new", path, "--from", name, "--json")
    assert status == 0
    assert json.loads(out) == {"schema": "guidestar.rig-new/1", "path": str(path), "preset": name}
    assert path.read_bytes().decode("utf-8") == preset_toml(name)
    assert os.listdir(tmp_path) == ["my.toml"]  # noqa: PTH208


def test_new_never_overwrites(run, tmp_path):
    path = tmp_path / "my.toml"
    path.write_text("precious")
    status, out, err = run("rig", "new", path)
    assert (status, out) == (2, "")
    assert "exists already and is not overwritten" in one_sentence(err)
    assert path.read_text() == "precious"
    assert os.listdir(tmp_path) == ["my.toml"]  # noqa: PTH208


@pytest.mark.skipif(os.name == "nt", reason="making a symbolic link needs a privilege there")
def test_new_does_not_write_through_a_dangling_link(run, tmp_path):
    path = tmp_path / "link.toml"
    path.symlink_to(tmp_path / "elsewhere.toml")
    assert run("rig", "new", path)[0] == 2
    assert not (tmp_path / "elsewhere.toml").exists()


@pytest.mark.parametrize("place", ["missing/my.toml", ".", "file/my.toml", "a" * 300 + ".toml", "a\0b"])
def test_a_place_that_cannot_be_written_is_one_sentence(run, tmp_path, place):
    (tmp_path / "file").write_text("")
    status, _, err = run("rig", "new", f"{tmp_path}/{place}")
    assert status == 2
    assert str(tmp_path) in one_sentence(err)


def test_a_write_that_fails_halfway_leaves_nothing_behind(run, tmp_path, monkeypatch):
    def disc_full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_text", disc_full)  # stand-in for a full disc
    status, _, err = run("rig", "new", tmp_path / "my.toml")
    assert status == 2
    assert "No space left on device" in one_sentence(err)
    assert os.listdir(tmp_path) == []  # noqa: PTH208


def test_new_needs_a_place_to_write(run):
    status, _, err = run("rig", "new")
    assert status == 2
    assert "say where to write" in one_sentence(err)


@pytest.mark.parametrize("command", [("new", "my.toml"), ("show",)])
def test_an_unknown_preset_is_answered_with_near_names(run, tmp_path, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    status, _, err = run("rig", *command, "--from", "newtonian-1000-f4")
    assert status == 2
    assert "did you mean newtonian-1000-f5?" in one_sentence(err)
    assert all(name in err for name in PRESETS)
    assert os.listdir(tmp_path) == []  # noqa: PTH208


def test_presets_can_be_listed(run):
    status, out, _ = run("rig", "new", "--list")
    assert status == 0
    assert [line.split()[0] for line in out.splitlines()] == list(PRESETS)
    assert list(json.loads(run("rig", "new", "--list", "--json")[1])) == list(PRESETS)


def test_show_tells_what_follows_from_the_rig(run, rig_file):
    status, out, err = run("rig", "show", "--rig", rig_file)
    assert (status, err) == (0, "")
    # Worked out by hand from the preset: see tests/rig/test_rigfacts.py for the same figures.
    for figure in ("f/10.0", "0.39″ a pixel", "30.4′ × 23.0′", "0.30″ a pixel", "15.86 mm", "27.3′", "5.40 × 3.00 mm",
                   "9.3′ × 5.2′", "6.0 mm across", "1.36 mm", "13.13 mm", "1.37 mm", "square degrees"):  # fmt: skip
        assert figure in " ".join(out.split()), figure
    assert "No warnings." in out


def test_show_takes_a_preset_instead_of_a_file(run, rig_file):
    from_file = run("rig", "show", "--rig", rig_file, "--json")[1]
    assert run("rig", "show", "--from", "compound-2000-f10-prism-14x8", "--json")[1] == from_file


@pytest.mark.parametrize("given", [(), ("--rig", "x.toml", "--from", "refractor-480-f6")])
def test_show_takes_exactly_one_of_the_two(run, given):
    status, _, err = run("rig", "show", *given)
    assert status == 2
    assert "either --rig FILE or --from PRESET" in one_sentence(err)


def test_show_prints_the_warnings(run, tmp_path):
    path = tmp_path / "rig.toml"
    text = preset_toml("compound-2000-f10").replace("offset_mm = 14.5", "offset_mm = 12.0")
    path.write_text(text, encoding="utf-8")
    status, out, _ = run("rig", "show", "--rig", path)
    assert status == 0
    assert "the prism shadows the main sensor" in " ".join(out.split())
    assert "1.13 mm too far in" in " ".join(out.split())
    warnings = json.loads(run("rig", "show", "--rig", path, "--json")[1])["warnings"]
    assert len(warnings) == 1


def test_every_fault_of_a_file_is_printed_at_once(run, tmp_path):
    path = tmp_path / "rig.toml"
    text = preset_toml("compound-2000-f10")
    path.write_text(text.replace("offset_mm = 14.5", "offset_mm = 3.0").replace("[sky]", "[sly]"), encoding="utf-8")
    status, out, err = run("rig", "show", "--rig", path)
    assert (status, out) == (2, "")
    assert "found 3.0, must be more than half the prism's height (4.0 mm)" in err
    assert "unknown section; did you mean sky?" in err


def test_a_missing_file_is_one_sentence(run):
    status, _, err = run("rig", "show", "--rig", "no-such.toml")
    assert status == 2
    assert "no such file" in one_sentence(err)


def test_json_has_the_promised_fields(run, rig_file):
    status, out, err = run("rig", "show", "--rig", rig_file, "--json")
    assert (status, err) == (0, "")
    shown = json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    assert list(shown) == ["schema", "name", "f_ratio", "main", "guide", "field", "prism", "rig", "warnings"]
    assert shown["schema"] == "guidestar.rig/1"
    facts = rig_facts(preset("compound-2000-f10-prism-14x8"))
    assert shown["field"]["centre_mm"] == pytest.approx(facts.field.centre_mm, abs=1e-6)
    assert shown["field"]["turn_area_deg2"] == pytest.approx(facts.turn_area_deg2, abs=1e-6)
    assert shown["prism"]["least_clear_offset_mm"] == pytest.approx(facts.least_clear_offset_mm, abs=1e-6)
    assert shown["rig"]["prism"]["holder_width_mm"] == 14.0
    assert shown["rig"]["site"] is None


def test_an_infinite_exit_pupil_is_null_in_json_and_telecentric_in_words(run, tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text(
        preset_toml("compound-2000-f10").replace("exit_pupil_mm = 700.0", "exit_pupil_mm = inf"), encoding="utf-8"
    )
    out = run("rig", "show", "--rig", path, "--json")[1]
    shown = json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    assert shown["rig"]["telescope"]["exit_pupil_mm"] is None
    assert shown["prism"]["telecentric_shift_mm"] == 0.0
    assert "telecentric" in run("rig", "show", "--rig", path)[1]


@pytest.mark.parametrize("width", [60, 80, 100, 200])
@pytest.mark.parametrize("name", PRESETS)
def test_lines_keep_to_the_width(name, width):
    site = {"latitude_deg": 50.0, "longitude_deg": 8.0, "horizon_deg": [[0, 10], [180, 30]]}
    parts = [{"name": "pick-off body", "length_mm": 17.5, "prism_at_mm": 9.0}]
    rig = preset(name).with_values({"site": site, "train": {"parts": parts}, "guide_camera.binning": 2})
    text = render_rig(rig_facts(rig), width=width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert "pick-off body" in " ".join(text.split())
    assert "disagrees with the train" in " ".join(text.split())
    assert "binned by 2" in " ".join(text.split())
