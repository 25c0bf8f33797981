"""`guidestar stars counts`, as a person runs it."""

import itertools
import json
import math
import subprocess
import sys

import pytest

from guidestar.stars.counts import star_counts


def test_json(run):
    status, out, err = run("stars", "counts", "NGC 7331", "--json")
    assert (status, err) == (0, "")
    answer = json.loads(out)
    assert answer["schema"] == "guidestar.counts/1"
    assert answer["target"]["name"] == "NGC 7331"
    assert answer["target"]["b_deg"] == pytest.approx(-20.7, abs=0.1)
    assert (answer["band"], answer["estimate"]) == ("G", True)
    assert answer["source"] == "model fitted to Gaia DR3 counts and Tycho-2"
    assert answer["counted_deg2"] is None
    rows = answer["cumulative"]
    assert [row["g_mag"] for row in rows] == [10, 11, 12, 13, 14, 15, 16, 17, 18]
    here = star_counts().at(answer["target"]["ra_deg"], answer["target"]["dec_deg"])
    for row in rows:
        assert row["per_deg2"] == pytest.approx(float(here.per_deg2(row["g_mag"])[0]), abs=1e-3)
        assert row["error"] / row["per_deg2"] == pytest.approx(row["relative_error"], rel=1e-2)
        assert row.pop("counted") is None
        assert all(math.isfinite(value) for value in row.values())
    assert all(one["per_deg2"] < two["per_deg2"] for one, two in itertools.pairwise(rows))


def test_text_is_a_table_with_units_that_says_it_is_an_estimate(run):
    status, out, err = run("stars", "counts", "339.267", "+34.416")
    assert (status, err) == (0, "")
    assert "square degree" in out
    assert "estimate" in out
    lines = [line for line in out.splitlines() if line.startswith("G 1")]
    assert len(lines) == 9
    assert len({len(line) for line in lines}) == 1  # the last column ends in one line, as figures should
    assert all("%" in line and "′" in line for line in lines)


@pytest.mark.parametrize("columns", ["40", "80", "200"])
def test_text_keeps_to_the_width(run, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    _, out, _ = run("stars", "counts", "M31")
    assert max(len(line) for line in out.splitlines()) <= int(columns)
    assert "G 18" in out


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        ((), "give a TARGET"),
        (("NGC 99999",), "NGC 99999"),
        (("12.0 +95.0",), "95"),
        (("M31", "--depth", "3"), "--depth"),
    ],
)
def test_bad_input_is_one_sentence(run, arguments, part):
    status, out, err = run("stars", "counts", *arguments)
    assert (status, out) == (2, "")
    assert part in err
    assert "Traceback" not in err


def test_a_damaged_model_is_a_data_failure_that_names_the_file(run, tmp_path, monkeypatch):
    file = tmp_path / "model.npz"
    file.write_bytes(b"not a model")
    star_counts.cache_clear()
    monkeypatch.setattr("guidestar.stars.counts._builtin_file", lambda: file)
    status, out, err = run("stars", "counts", "M31")
    star_counts.cache_clear()
    assert (status, out) == (3, "")
    assert str(file) in err


def test_nothing_heavy_is_imported():
    script = (
        "import sys; from guidestar.cli.main import main; main(['stars', 'counts', 'M31', '--json']); "
        "heavy = ('scipy', 'healpy', 'astropy', 'pandas', 'matplotlib', 'rich'); "
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[-1] == "[]", done.stderr
