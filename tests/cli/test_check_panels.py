"""`guidestar check --panels` as a person runs it."""

import json

import pytest
from support.command_line import one_sentence


@pytest.fixture
def run(run_line, rig_file):
    return lambda *arguments: run_line("check", *arguments, "--rig", rig_file, "--epoch", "2026.9")


def test_words_json_and_picture(run, tmp_path):
    picture = tmp_path / "mosaic.png"
    status, out, err = run("NGC 7331", "--panels", "2x1", "--overlap", 15, "--figure", picture)
    assert (status, err) == (0, "")
    assert out.startswith("NGC 7331\nA mosaic of 2 × 1 panels")
    assert out.endswith(f"Picture: {picture}\n")
    assert picture.stat().st_size > 1000
    found = json.loads(run("NGC 7331", "--panels", "2x1", "--overlap", 15, "--json")[1])
    assert (found["schema"], found["overlap_percent"], len(found["panels"])) == ("guidestar.mosaic/1", 15.0, 2)


def test_an_angle_a_fixed_grid_and_a_nudge(run):
    options = ("--panels", "2x1", "--angle", 30, "--grid-angle", 120, "--nudge", 4, "--faintest-mag", 10, "--json")
    found = json.loads(run("NGC 7331", *options)[1])
    assert (found["angle_deg"], found["grid_angle_deg"], found["nudge_limit_arcmin"]) == (30.0, 120.0, 4.0)
    assert (found["exposure_s"], found["faintest_mag"]) == (None, 10.0)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--panels", "3by2"), "give columns and rows with an x between them, such as 3x2"),
        (("--panels", "0x2"), "at least one column"),
        (("--panels", "3x2", "--overlap", 100), "--overlap 100"),
        (("--panels", "11x10"), "110 panels, and at most 100"),
        (("--overlap", 5), "such as --panels 3x2"),
        (("--grid-angle", 5), "such as --panels 3x2"),
        (("--panels", "2x2", "--any-side", "--angle", 3), "--any-side does not go with --panels"),
        (("--panels", "2x2", "--exposure", "auto"), "give the seconds"),
        (("--panels", "2x2", "--grid-angle", 1000), "--grid-angle 1000"),
        (("--panels", "2x2", "--angle", "nan"), "--angle nan"),
        (("--panels", "2x2", "--tolerance", 180), "--tolerance 180"),
        (("--panels", "2x2", "--faintest-mag", 10, "--sky", 20), "leave one of the two out"),
        (("--panels", "2x2", "--nudge", 30), "outside the picture"),
    ],
)
def test_one_sentence_for_what_cannot_be(run, options, says):
    status, out, err = run("M 51", *options)
    assert (status, out) == (2, "")
    assert says in one_sentence(err)


def test_not_for_a_list(run, tmp_path):
    targets = tmp_path / "targets.csv"
    targets.write_text("name\nM 51\n", encoding="utf-8")
    assert "one target" in run("--targets", targets, "--panels", "2x2")[2]
