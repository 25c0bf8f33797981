"""`guidestar train`, as a person runs it."""

import json
import subprocess
import sys

import pytest

from guidestar.cli.main import main
from guidestar.rig import preset_toml

TRAIN = """
[train]
back_focus_mm = 55.0
camera_flange_mm = 6.5
filter_thickness_mm = {glass}
{more}
parts = [
  {{ name = "pick-off body", length_mm = 17.5, prism_at_mm = 9.0 }},
  {{ name = "filter drawer", length_mm = 21.0, filter_at_mm = 10.0 }},
]
"""
SHIFT = 2.0 * (1 - 1 / 1.52)


@pytest.fixture
def run(capsys):
    """Run a command line; return exit status, standard output, standard error."""

    def run_it(*arguments):
        status = main([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return run_it


def rig_text(glass=0.0, more="", **replaced):
    text = preset_toml("newtonian-1000-f5-prism-8x8").replace("ahead_mm = 40.0", "ahead_mm = 36.0")
    for key, value in replaced.items():
        before = next(line for line in text.splitlines() if line.startswith(f"{key} = "))
        text = text.replace(before, f"{key} = {value}")
    return text + TRAIN.format(glass=glass, more=more)


@pytest.fixture
def rig_file(tmp_path):
    def write(**changes):
        path = tmp_path / "rig.toml"
        path.write_text(rig_text(**changes), encoding="utf-8")
        return path

    return write


def test_common_practice_gives_ten_millimetres_and_the_shift_with_the_filter(run, rig_file):
    status, out, err = run("train", "--rig", rig_file(), "--json")
    assert (status, err) == (0, "")
    assert json.loads(out)["spacer_mm"] == 10.0
    values = json.loads(run("train", "--rig", rig_file(glass=2.0), "--json")[1])
    assert values["spacer_mm"] == pytest.approx(10.0 + SHIFT, abs=1e-4)
    assert values["glass_shift_mm"] == pytest.approx(SHIFT, abs=1e-4)
    assert values["prism"]["in_window"] is True


def test_text_checklist_and_figure(run, rig_file, tmp_path):
    path = rig_file(glass=2.0)
    status, out, _ = run("train", "--rig", path, "--figure", tmp_path / "train.png")
    assert status == 0
    assert "A spacer of 10.68 mm is still needed" in " ".join(out.split())
    assert out.endswith(f"Picture: {tmp_path / 'train.png'}\n")
    assert (tmp_path / "train.png").stat().st_size > 10_000
    status, out, _ = run("train", "--rig", path, "--checklist")
    assert status == 0
    assert "Safety" in out


def test_json_is_alone_on_stdout_also_with_a_figure(run, rig_file, tmp_path):
    _, out, err = run("train", "--rig", rig_file(), "--json", "--checklist", "--figure", tmp_path / "t.svg")
    assert err == ""
    assert len(json.loads(out)["checklist"]) == 9


def test_options_reach_the_answer(run, rig_file):
    path = rig_file(glass=2.0)

    def values(*options):
        return json.loads(run("train", "--rig", path, "--json", *options)[1])

    plain = values()
    assert values("--ray-exact")["glass_shift_mm"] > plain["glass_shift_mm"]
    assert values("--allow-shadow", 5)["prism"]["min_offset_mm"] < plain["prism"]["min_offset_mm"]
    assert values("--clear-share", 90)["prism"]["min_offset_mm"] < plain["prism"]["min_offset_mm"]
    ahead = values("--order", "filter drawer, pick-off body")
    assert (ahead["filter"]["place"], ahead["guide_path"]["ahead_mm"]) == ("ahead", 15.0)


def sentence(result):
    status, out, err = result
    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    return err


def test_bad_questions_are_a_sentence_each(run, rig_file, tmp_path):
    path = rig_file()
    bare = tmp_path / "bare.toml"
    bare.write_text(preset_toml("refractor-480-f6"), encoding="utf-8")
    assert "--rig" in sentence(run("train"))
    assert "no [train] section" in sentence(run("train", "--rig", bare))
    assert "--order" in sentence(run("train", "--rig", path, "--order", "nonsense"))
    assert "--allow-shadow 120" in sentence(run("train", "--rig", path, "--allow-shadow", 120))
    assert "--clear-share 0" in sentence(run("train", "--rig", path, "--clear-share", 0))
    status, out, err = run("train", "--rig", path, "--figure", tmp_path / "t.jpg")
    assert status == 2
    assert "must end in .png, .svg or .pdf" in err
    assert "Spacing" in out  # the answer stands even where the picture cannot be written


@pytest.mark.parametrize(
    ("more", "words"),
    [("spacers_mm = [0.0]", "train.spacers_mm: found a list, must be a list of at most 40 lengths"),
     ("spacers_mm = 5.0", "train.spacers_mm: found 5.0, must be a list"),
     ("stalk_mm = -1.0", "train.stalk_mm: found -1.0, must be a number from 0 to 500 mm"),
     ("clear_aperture_mm = -3.0", "train.clear_aperture_mm: found -3.0"),
     ('order_rules = ["drawer after body"]', "train.order_rules: found a list, must be a list of rules such as")],
)  # fmt: skip
def test_bad_train_keys(run, rig_file, more, words):
    assert words in sentence(run("train", "--rig", rig_file(more=more)))


def test_parts_longer_than_the_back_focus_are_answered_with_a_remedy(run, rig_file):
    path = rig_file()
    path.write_text(path.read_text().replace("back_focus_mm = 55.0", "back_focus_mm = 30.0"))
    status, out, _ = run("train", "--rig", path)
    assert status == 0
    assert "The train is 15 mm too long" in " ".join(out.split())
    assert json.loads(run("train", "--rig", path, "--json")[1])["spacer_mm"] == -15.0


def test_spacers_that_cannot_reach_it_are_answered_with_what_is_missing(run, rig_file):
    status, out, _ = run("train", "--rig", rig_file(more="spacers_mm = [2.0]"))
    assert status == 0
    assert "One more of about 8 mm would do." in " ".join(out.split())


@pytest.mark.parametrize("length", [-1.0, 2000.0])
def test_impossible_lengths(run, rig_file, length):
    path = rig_file()
    path.write_text(path.read_text().replace("length_mm = 21.0", f"length_mm = {length}"))
    assert f"train.parts[2].length_mm: found {length}" in sentence(run("train", "--rig", path))


def test_a_filter_beyond_its_part(run, rig_file):
    path = rig_file()
    path.write_text(path.read_text().replace("filter_at_mm = 10.0", "filter_at_mm = 30.0"))
    assert "train.parts[2].filter_at_mm: found 30.0, must be at most the part's length (21.0 mm)" in sentence(
        run("train", "--rig", path)
    )


def test_help_and_a_bad_rig_load_nothing_heavy(tmp_path):
    (tmp_path / "bad.toml").write_text("name = 1")
    code = (
        "import sys; from guidestar.cli.main import main; main(['train', '--help']); "
        f"main(['train', '--rig', {str(tmp_path / 'bad.toml')!r}]); "
        "print([m for m in ('astropy', 'scipy', 'matplotlib', 'rich', 'pyarrow', 'erfa') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.rstrip().endswith("[]")
