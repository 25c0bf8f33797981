"""`guidestar night`, as a person runs it."""

import csv
import subprocess
import sys

import pytest
from support.command_line import one_sentence, strict

COMMAND = ("night",)

WHERE = ("--site", "50.1 10.2 450", "--time-zone", "Europe/Berlin", "--date", "2026-11-25")


def test_it_answers_in_words(run, rig_file):
    status, out, err = run("NGC", "7331", "--rig", rig_file, *WHERE)
    assert (status, err) == (0, "")
    assert out.startswith("NGC 7331\n")
    assert not out.endswith("\n\n")
    assert "SURE ALL NIGHT" in out


def test_json_and_nothing_else(run, rig_file):
    status, out, err = run("NGC 7331", "--rig", rig_file, *WHERE, "--json")
    assert (status, err) == (0, "")
    assert out.count("\n") == 1
    assert strict(out)["schema"] == "guidestar.night/1"


def test_the_rig_s_own_site(run, rig_file):
    rig_file.write_text(
        rig_file.read_text(encoding="utf-8")
        + '\n[site]\nlatitude_deg = 50.1\nlongitude_deg = 10.2\nelevation_m = 450.0\ntime_zone = "Europe/Berlin"\n',
        encoding="utf-8",
    )
    own = strict(run("NGC 7331", "--rig", rig_file, "--date", "2026-11-25", "--json")[1])
    given = strict(run("NGC 7331", "--rig", rig_file, *WHERE, "--json")[1])
    assert own == given


def test_a_list_as_table_csv_and_picture(run, rig_file, tmp_path):
    rows = tmp_path / "list.csv"
    rows.write_text("name\nM33\nNGC 7331\n\nM33\nM16\n", encoding="utf-8")
    table, picture = tmp_path / "night.csv", tmp_path / "night.svg"
    status, out, err = run("--targets", rows, "--rig", rig_file, *WHERE, "--csv", table, "--figure", picture)
    assert (status, err) == (0, "")
    assert out.startswith("DANGER  M 16: This target stands only")
    assert "Row 4, “”: This row is empty; it is passed over." in out
    assert "Row 5, “M33”: This is the target of row 2 again" in out
    with table.open(encoding="utf-8") as file:
        assert [row["target"] for row in csv.DictReader(file)] == ["M 33", "NGC 7331", "M 16"]
    assert picture.read_text(encoding="utf-8").startswith("<?xml")


def test_a_warning_still_exits_with_0(run, rig_file):
    status, out, _ = run("M16", "--rig", rig_file, *WHERE)
    assert status == 0
    assert out.startswith("DANGER  This target stands only")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Give either one TARGET"),
        (("M31", "--targets", "x.csv"), "Give either one TARGET"),
        (("M31",), "write a [site] section into the rig file"),
        (("M31", "--site", "95 10"), "--site (latitude): found 95.0"),
        (("M31", "--site", "50 10", "--time-zone", "Mars/Base"), "--time-zone: found"),
        (("M31", "--site", "50 10", "--horizon", "90:20,10:5"), "in ascending order"),
        (("M31", "--site", "50 10", "--date", "1600-01-01"), "1974 to 2099"),
        (("M31", "--site", "50 10", "--date", "2300-01-01"), "1974 to 2099"),
        (("M31", "--site", "50 10", "--date", "tomorrow"), "write the evening's date as"),
        (("M31", "--site", "50 10", "--csv", "table.txt"), 'must end in .csv; try "table.csv"'),
        (("Nowhere 17", "--site", "50 10"), "Nowhere 17"),
        (("--targets", "no-such.csv", "--site", "50 10"), "There is no target list"),
        (("M31", "--site", "50 10", "--angle", "9000"), "--angle 9000"),
    ],
)
def test_bad_input_is_one_sentence(run, rig_file, arguments, words):
    status, out, err = run(*arguments, "--rig", rig_file)
    assert (status, out) == (2, "")
    assert words in one_sentence(err)


@pytest.mark.parametrize(("content", "words"), [("", "is empty"), ("name\n", "header but no rows")])
def test_an_empty_list_is_bad_input(run, rig_file, tmp_path, content, words):
    rows = tmp_path / "list.csv"
    rows.write_text(content, encoding="utf-8")
    status, out, err = run("--targets", rows, "--rig", rig_file, *WHERE)
    assert (status, out) == (2, "")
    assert words in one_sentence(err)


@pytest.mark.parametrize(
    ("option", "name"),
    [("--card", "x.docx"), ("--card", "nodir/x.pdf"), ("--figure", "x.doc"), ("--figure", "nodir/x.png"),
     ("--csv", "x.txt"), ("--csv", "nodir/x.csv")],
)  # fmt: skip
def test_a_file_name_that_cannot_be_meant_is_refused_before_the_work(run, rig_file, tmp_path, option, name):
    status, out, err = run("NGC 7331", "--rig", rig_file, *WHERE, option, tmp_path / name)
    assert (status, out) == (2, "")
    assert name.rpartition("/")[2] in err or "No such file or directory" in err
    assert len(one_sentence(err))


def test_a_file_that_cannot_be_written_leaves_the_answer(run, rig_file, tmp_path):
    (tmp_path / "x.csv").mkdir()  # only writing itself finds out
    status, out, err = run("M33", "--rig", rig_file, *WHERE, "--csv", tmp_path / "x.csv")
    assert status == 2
    assert out.startswith("M 33")
    assert "cannot be written" in one_sentence(err)
    assert list(tmp_path.glob(".*part")) == []


def test_help_loads_nothing_heavy():
    code = (
        "import sys; from guidestar.cli.main import main; main(['night', '--help']); "
        "sys.exit(sorted({'numpy', 'astropy', 'matplotlib', 'rich'} & set(sys.modules)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Never point optics at or near the Sun" in done.stdout.replace("\n", " ").replace("  ", " ")
