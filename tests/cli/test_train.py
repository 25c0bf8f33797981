"""`guidestar train`, as a person runs it."""

import json
import math
import subprocess
import sys
import tomllib

import numpy as np
import pytest
from astropy.io import fits
from support import flats

from guidestar.flat.analyse import analyse
from guidestar.flat.read import read_flat
from guidestar.rig import preset_toml, rig_from_dict
from guidestar.train.build import flat_sensor
from guidestar.train.depth import window

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


@pytest.fixture(scope="module")
def shadowed(tmp_path_factory):
    """A flat with a shadow of 20 % at the top, its first row at the bottom."""
    path = tmp_path_factory.mktemp("flats") / "top.fits"
    fits.PrimaryHDU(flats.shadowed_flat(1, "top", 0.2).pixels[::-1]).writeto(path)
    return path


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


def test_bad_questions_are_a_sentence_each(run, rig_file, shadowed, tmp_path):
    path = rig_file()
    bare = tmp_path / "bare.toml"
    bare.write_text(preset_toml("refractor-480-f6"), encoding="utf-8")
    assert "give --rig FILE" in sentence(run("train"))
    assert "no [train] section" in sentence(run("train", "--rig", bare))
    assert "--order" in sentence(run("train", "--rig", path, "--order", "nonsense"))
    assert "--allow-shadow 120" in sentence(run("train", "--rig", path, "--allow-shadow", 120))
    assert "--clear-share 0" in sentence(run("train", "--rig", path, "--clear-share", 0))
    assert "--first-row" in sentence(run("train", "--rig", path, "--first-row", "top"))
    assert "leave out one of them" in sentence(run("train", "--flat", shadowed, "--checklist"))
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


def unbuildable(result):
    """The whole answer on standard output, one sentence on standard error, exit status 2."""
    status, out, err = result
    assert status == 2
    assert err.count("\n") == 1
    assert err.endswith(".\n")
    assert "\u00a0" not in err
    return out, err


def test_parts_longer_than_the_back_focus(run, rig_file):
    path = rig_file()
    path.write_text(path.read_text().replace("back_focus_mm = 55.0", "back_focus_mm = 30.0"))
    out, err = unbuildable(run("train", "--rig", path))
    assert "The train is 15 mm too long: parts and camera take 45 mm" in err
    assert "(the longest is the filter drawer, 21 mm)" in err
    assert "The train is 15 mm too long" in " ".join(out.split())
    assert "Depth of the prism" in out
    out, _ = unbuildable(run("train", "--rig", path, "--json"))
    values = json.loads(out)
    assert values["spacer_mm"] == -15.0
    assert values["prism"]["in_window"] is True
    out, _ = unbuildable(run("train", "--rig", path, "--checklist"))
    assert "15 mm too long and has to be shortened" in " ".join(out.split())


def test_a_part_that_may_go_is_named(run, rig_file):
    path = rig_file(glass=2.0)
    ring = 'parts = [\n  { name = "extension", length_mm = 18.0 },\n  {'
    path.write_text(path.read_text().replace("parts = [\n  {", ring))
    _, err = unbuildable(run("train", "--rig", path))
    assert "The train is 7.32 mm too long" in err
    assert "leave out the extension (18 mm) and put a spacer of 10.68 mm in its place" in err
    path.write_text(path.read_text().replace(", filter_at_mm = 10.0", ""))  # now the extension might hold the filter
    assert "use shorter parts" in unbuildable(run("train", "--rig", path))[1]


@pytest.mark.parametrize(
    ("owned", "nearest", "words"),
    [([2.0], [2.0], "10 mm are missing and all of them together are 2 mm; one more of about 8 mm would do"),
     ([8.0, 13.0], [8.0], "comes closer than 2 mm: the train would be that much too short; a thin ring of 2 mm"),
     ([11.0, 50.0], [11.0], "too long; a spacer of 10 mm would fit")],
)  # fmt: skip
def test_spacers_that_cannot_reach_it(run, rig_file, tmp_path, owned, nearest, words):
    path = rig_file(more=f"spacers_mm = {owned}")
    out, err = unbuildable(run("train", "--rig", path, "--json", "--figure", tmp_path / "t.svg"))
    assert words in err
    assert json.loads(out)["spacing"]["chosen_spacers_mm"] == nearest
    assert json.loads(out)["spacing"]["residual_mm"] == nearest[0] - 10.0
    assert (tmp_path / "t.svg").exists()


def test_spacers_that_come_near_enough(run, rig_file):
    assert run("train", "--rig", rig_file(more="spacers_mm = [2.0, 7.8]"))[0] == 0


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


def test_flat(run, shadowed, tmp_path):
    status, out, _ = run("train", "--flat", shadowed)
    assert status == 0
    assert "Shadow of the prism: top, 20 % darker" in " ".join(out.split())
    values = json.loads(run("train", "--flat", shadowed, "--first-row", "top", "--json")[1])
    assert (values["side"], values["verdict"]) == ("bottom", "shadow")
    assert run("train", "--flat", shadowed, "--figure", tmp_path / "flat.png")[0] == 0


def test_flat_with_the_rig_says_how_far_to_draw_the_prism_out(run, rig_file, shadowed):
    """The flat was rendered for a prism of known width and beam: the rig file is written to match them."""
    flat = flats.shadowed_flat(1, "top", 0.2)
    path = rig_file()
    rig = tomllib.loads(path.read_text())
    rig["telescope"] |= {"exit_pupil_mm": math.inf, "central_obstruction_mm": 200.0 * flat.obstruction}
    rig["camera"]["pixel_um"] = 23500 / 600
    rig["prism"] |= {"ahead_mm": 10 * flat.radius_mm, "width_mm": flat.body_mm, "holder_width_mm": flat.body_mm}
    sensor = flat_sensor(rig_from_dict(rig))
    assert sensor.body.beam_mm == pytest.approx(flat.radius_mm)
    found = analyse(read_flat(shadowed, sensor=sensor), sensor)
    assert (found.verdict, found.place) == ("shadow", "top")
    assert found.draw_out_mm == pytest.approx(flat.draw_out_mm, abs=0.15)
    assert found.offset_mm + found.draw_out_mm == pytest.approx(window(rig_from_dict(rig)).min_offset_mm, abs=0.05)


def test_flat_with_a_rig_file(run, rig_file, shadowed):
    path = rig_file(pixel_um=round(23500 / 600, 3))
    status, out, _ = run("train", "--rig", path, "--flat", shadowed, "--json")
    assert status == 0
    values = json.loads(out)
    assert values["side"] == "top"
    assert values["rig_offset_mm"] == 17.0


def test_flats_that_cannot_be_used(run, rig_file, shadowed, tmp_path):
    assert "the rig's camera gives about 6250 × 4176" in sentence(run("train", "--rig", rig_file(), "--flat", shadowed))
    assert "no such file" in sentence(run("train", "--flat", tmp_path / "none.fits"))
    (tmp_path / "cut.fits").write_bytes(shadowed.read_bytes()[:90_000])
    assert "cut short" in sentence(run("train", "--flat", tmp_path / "cut.fits"))
    fits.PrimaryHDU(np.full((100, 100), 65535, dtype=np.uint16)).writeto(tmp_path / "white.fits")
    assert "all pixels hold the same value (65535)" in sentence(run("train", "--flat", tmp_path / "white.fits"))


def test_help_and_a_bad_rig_load_nothing_heavy(tmp_path):
    (tmp_path / "bad.toml").write_text("name = 1")
    code = (
        "import sys; from guidestar.cli.main import main; main(['train', '--help']); "
        f"main(['train', '--rig', {str(tmp_path / 'bad.toml')!r}]); "
        "print([m for m in ('astropy', 'scipy', 'matplotlib', 'rich', 'pyarrow', 'erfa') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.rstrip().endswith("[]")
