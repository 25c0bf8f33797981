"""`guidestar compare`, as a person runs it."""

from pathlib import Path

import pytest
from support.command_line import one_sentence, strict

from guidestar.report.compare_text import FILES

COMMAND = ("compare",)

EPOCH = ("--epoch", "2027")


@pytest.fixture
def no_work(monkeypatch):
    """Fail a test in which the sweep begins: bad input is told before the work."""

    def begun(*_, **__):
        pytest.fail("the work has begun")

    monkeypatch.setattr("guidestar.api.compare.compare_rigs", begun)


def test_a_file_and_a_preset_side_by_side(run, rig_file, few_stars, tmp_path):
    folder = tmp_path / "new" / "out"
    (tmp_path / "targets.csv").write_text("M 51\nnonsense 7\n", encoding="utf-8")
    status, out, err = run(
        rig_file, "newtonian-1000-f5", "--nside", 1, "--out", folder, "--targets", tmp_path / "targets.csv", *EPOCH
    )
    assert (status, err) == (0, "")
    assert out.startswith("2 rigs side by side\n")
    for words in ("1  Compound telescope 2000 mm f/10, prism 14 × 8 mm", "CONFIRMED", "M 51", "Row 2, “nonsense 7”"):
        assert words in out
    assert sorted(path.name for path in folder.iterdir()) == sorted(FILES)
    found = strict((folder / "compare.json").read_text(encoding="utf-8"))
    assert len(found["rigs"]) == len(found["targets"][0]["rigs"]) == 2


def test_numbers_are_varied_without_files(run, rig_file, few_stars):
    varied = ("--vary", "prism.width_mm=3,8", "--faintest-mag", 11.5)
    status, out, err = run(rig_file, *varied, "--nside", 1, "--json", *EPOCH)
    assert (status, err) == (0, "")
    assert out.count("\n") == 1
    found = strict(out)
    assert found["schema"] == "guidestar.compare/1"
    assert [rig["values"] for rig in found["rigs"]] == [{"prism.width_mm": 3}, {"prism.width_mm": 8}]
    narrow, wide = (rig["whole"]["confirmed"]["usable"]["mean"] for rig in found["rigs"])
    assert narrow < wide
    assert sorted(path.name for path in rig_file.parent.iterdir()) == ["rig.toml"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "nothing to compare"),
        (("newtonian-1000-f5",), "nothing to compare"),
        (("newtonian-1000-f5", "newtonian-1000-f5"), 'Two of the rigs are called "Newtonian'),
        (("newtonian-1000-f4", "refractor-480-f6"), "did you mean newtonian-1000-f5"),
        (("none.toml", "refractor-480-f6"), "no such file"),
        (("refractor-480-f6", "--vary", "prism.widht_mm=8,10"), "did you mean width_mm?"),
        (("refractor-480-f6", "--vary", "prism.width_mm"), "give a key of the rig file"),
        (("refractor-480-f6", "--vary", "prism.width_mm=8,a"), '"a" is no number'),
        (("refractor-480-f6", "--vary", "prism.width_mm=0,8"), "must be a number from 1 to 100 mm"),
        (("refractor-480-f6", "--vary", "prism.width_mm=8"), "nothing to compare"),
        (("refractor-480-f6", "--vary", "prism.offset_mm=15,145"), "prism.offset_mm=145: No light reaches"),
        (("", "refractor-480-f6"), "the file's name is empty"),
        (("refractor-480-f6", "--vary", "prism.width_mm=8,9", "--nside", 3), "--nside 3: must be a power of two"),
        (("refractor-480-f6", "--vary", "prism.width_mm=8,9", "--bounds", "10"), "--bounds"),
        (("refractor-480-f6", "--vary", "prism.width_mm=8,9", "--sparse", 25), "25 % is 0.25"),
        (("refractor-480-f6", "newtonian-1000-f5", "--exposure", 2, "--faintest-mag", 11), "leave one of the two out"),
    ],
)
def test_bad_input_is_one_sentence_before_the_work(run, no_work, tmp_path, arguments, words):
    status, out, err = run(*arguments, "--out", tmp_path / "out")
    assert (status, out) == (2, "")
    assert words in one_sentence(err)
    assert not (tmp_path / "out").exists()


def test_rigs_of_one_name_are_called_by_their_files(run, rig_file, few_stars):
    other = rig_file.with_name("other.toml")
    other.write_bytes(rig_file.read_bytes())
    status, out, _ = run(rig_file, other, "compound-2000-f10-prism-14x8", "--nside", 1, "--json", *EPOCH)
    assert status == 0
    assert [rig["name"] for rig in strict(out)["rigs"]] == ["rig.toml", "other.toml", "compound-2000-f10-prism-14x8"]


def test_an_out_folder_that_is_a_file(run, rig_file, no_work):
    status, out, err = run(rig_file, "refractor-480-f6", "--out", rig_file)
    assert (status, out) == (2, "")
    assert "this is a file; name a folder" in one_sentence(err)


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a folder that nobody can write to")
def test_an_out_folder_that_cannot_be_written(run, rig_file, no_work):
    status, out, err = run(rig_file, "refractor-480-f6", "--out", "/proc/self/x")
    assert (status, out) == (2, "")
    assert "cannot be written to" in one_sentence(err)


def test_a_variant_that_shadows_is_told(run, rig_file, few_stars):
    status, out, _ = run(rig_file, "--vary", "prism.offset_mm=10,15", "--nside", 1, *EPOCH)
    assert status == 0
    assert "the prism shadows the main sensor" in out
    assert "!: the prism shadows the main sensor." in out.replace("\n", " ")
