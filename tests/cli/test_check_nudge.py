"""`guidestar check --nudge` as a person runs it."""

import json

import pytest
from support.command_line import one_sentence


@pytest.fixture
def run(run_line, rig_file):
    return lambda *arguments: run_line("check", *arguments, "--rig", rig_file, "--epoch", "2026.9")


def test_words_json_and_picture(run, tmp_path):
    picture = tmp_path / "nudge.png"
    status, out, err = run("M 51", "--angle", 100, "--nudge", 3, "--figure", picture)
    assert (status, err) == (0, "")
    assert "YOUR ANGLE" in out
    assert out.index("NUDGE") > out.index("YOUR ANGLE")
    assert picture.stat().st_size > 1000
    found = json.loads(run("M 51", "--angle", 100, "--nudge", 3, "--json")[1])["nudge"]
    there = found["sure"]
    moved = run(f"{there['ra_deg']:.7f} {there['dec_deg']:+.7f}", "--angle", 100, "--json")[1]
    assert json.loads(moved)["asked"]["sure"]


def test_per_cent_any_angle_and_what_a_turn_costs(run):
    percent = json.loads(run("M 51", "--nudge-percent", 10, "--json")[1])["nudge"]
    assert percent["angle_deg"] is None
    assert percent["limit_arcmin"] == pytest.approx(2.303, abs=1e-3)
    cheap = json.loads(run("M 51", "--angle", 100, "--nudge", 3, "--turn-cost", 0.1, "--json")[1])["nudge"]
    assert cheap["turn_cost_percent"] == 0.1
    assert cheap["turned"]["shift_arcmin"] <= cheap["sure"]["shift_arcmin"]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--nudge", 30), "outside the picture, whose nearer edges are 11.5′"),
        (("--nudge", -1), "--nudge -1"),
        (("--nudge", 3, "--nudge-percent", 4), "leave one out"),
        (("--nudge-percent", 60), "--nudge-percent 60"),
        (("--turn-cost", 3), "ask for one with --nudge"),
        (("--nudge", 3, "--turn-cost", 3), "give that with --angle"),
    ],
)
def test_one_sentence_for_what_cannot_be(run, options, says):
    status, out, err = run("M 51", *options)
    assert (status, out) == (2, "")
    assert says in one_sentence(err)


def test_not_for_a_list(run, tmp_path):
    targets = tmp_path / "targets.csv"
    targets.write_text("name\nM 51\n", encoding="utf-8")
    status, out, err = run("--targets", targets, "--nudge", 3)
    assert (status, out) == (2, "")
    assert "one target" in err
