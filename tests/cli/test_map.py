"""`guidestar map`, as a person runs it."""

import errno
import io
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from support.command_line import heeding_ctrl_c, one_sentence, strict
from support.gaia_rows import claim, stars_in

from guidestar.cli.main import main
from guidestar.maps import sweep
from guidestar.report.map_text import FILES
from guidestar.rig import preset_toml
from guidestar.sky import regions
from guidestar.stars import store_write
from guidestar.stars.store import Store

COMMAND = ("map",)

EPOCH = ("--epoch", "2027")


@pytest.fixture
def no_work(monkeypatch):
    """Fail a test in which the sweep begins: bad input is told before the work."""

    def begun(*_, **__):
        pytest.fail("the work has begun")

    monkeypatch.setattr("guidestar.api.maps.sweep_the_sky", begun)


@pytest.fixture(scope="module")
def answered(tmp_path_factory):
    """One whole run: folder, standard output."""
    folder = tmp_path_factory.mktemp("map")
    rig, out, targets = folder / "rig.toml", folder / "new" / "out", folder / "targets.csv"
    rig.write_text(preset_toml("compound-2000-f10-prism-14x8"), encoding="utf-8")
    targets.write_text("name\nNGC 7331\nNGC 73331\n", encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "guidestar",
        "map",
        "--rig",
        rig,
        "--nside",
        "4",
        "--out",
        out,
        "--targets",
        targets,
    ]
    done = subprocess.run([*command, *EPOCH], capture_output=True, encoding="utf-8", check=False)
    assert (done.returncode, done.stderr) == (0, "")
    return out, done.stdout


def test_it_answers_in_words_and_writes_every_file(answered):
    out, text = answered
    assert text.startswith("Compound telescope 2000 mm f/10, prism 14 × 8 mm\n")
    assert sorted(path.name for path in out.iterdir()) == sorted(FILES)
    for words in (
        "CONFIRMED",
        "EXPECTED",
        "An estimate",
        "60°–90°",
        "NGC 7331",
        "Row 3, “NGC 73331”",
        f"Files in {out}:",
    ):
        assert words in text
    assert "\n\n\n" not in text
    assert not text.endswith("\n\n")


def test_sparse_fields_are_far_from_the_milky_way(answered):
    found = strict((answered[0] / "summary.json").read_text(encoding="utf-8"))
    below = [band["confirmed"]["usable"]["below_threshold"] for band in found["bands"]]
    assert below[-1] > 4 * below[0]
    means = [band["confirmed"]["usable"]["mean"] for band in found["bands"]]
    assert means[0] > means[2] > means[4]


def test_the_files_agree_with_each_other(answered):
    healpy = pytest.importorskip("healpy")
    from mocpy import MOC

    out, _ = answered
    found = strict((out / "summary.json").read_text(encoding="utf-8"))
    usable = healpy.read_map(out / "coverage.fits", field=0, nest=True)
    assert found["whole"]["confirmed"]["usable"]["mean"] == pytest.approx(usable.mean(), abs=1e-5)
    sparse = (usable < found["sparse_below"]).mean()
    assert MOC.from_fits(out / "sparse.moc.fits").sky_fraction == pytest.approx(sparse, abs=1e-9)
    assert found["sparse_deg2"] == pytest.approx(sparse * 41252.96, abs=0.02)
    last = (out / "latitudes.csv").read_text(encoding="utf-8").splitlines()[-1].split(",")
    assert float(last[5]) == pytest.approx(usable.mean(), abs=1e-5)
    assert (out / "coverage.png").read_bytes().startswith(b"\x89PNG")


def test_a_pixel_is_what_check_says_there(answered, run, capsys):
    healpy = pytest.importorskip("healpy")
    out, _ = answered
    columns = healpy.read_map(out / "coverage.fits", field=None, nest=True)
    rig = out.parents[1] / "rig.toml"
    for pixel in (3, 100, 191):
        ra, dec = healpy.pix2ang(4, pixel, nest=True, lonlat=True)
        assert main(["check", f"{float(ra)!r} {float(dec)!r}", "--rig", str(rig), "--json", *EPOCH]) == 0
        usable = strict(capsys.readouterr().out)["usable"]
        names = ("fraction", "flip_safe_fraction", "sure_fraction")
        found = [float(column[pixel]) for column in columns[:3]]
        assert found == pytest.approx([usable[name] for name in names], abs=6e-5)  # 0.02° of the circle
        assert float(columns[5][pixel]) == pytest.approx(usable["expected_fraction"], abs=1e-3)


def test_json_is_the_summary_and_nothing_else(run, rig_file, few_stars):
    status, out, err = run("--rig", rig_file, "--nside", 1, "--json", "--bounds", "-30,60", *EPOCH)
    assert (status, err) == (0, "")
    assert out.count("\n") == 1
    found = strict(out)
    assert found["schema"] == "guidestar.map/1"
    assert found["bounds_deg"] == [-30.0, 60.0]
    assert found["whole"]["pixels"] < 12
    assert sum(band["pixels"] for band in found["bands"]) == found["whole"]["pixels"]


def test_options_stand_in_for_the_rigs_values(run, rig_file, few_stars):
    usual, shallow, many = (
        strict(run("--rig", rig_file, "--nside", 1, "--json", *EPOCH, *more)[1])
        for more in ((), ("--faintest-mag", 9), ("--min-stars", 3))
    )
    assert shallow["stars"]["faintest_mag"] == 9.0
    means = [found["whole"]["confirmed"]["usable"]["mean"] for found in (usual, shallow, many)]
    assert means[0] > means[1]
    assert means[0] > means[2]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--nside", 3), "power of two"),
        (("--nside", 0), "power of two"),
        (("--nside", -4), "power of two"),
        (("--nside", 100000), "power of two"),
        (("--nside", 1024), "to 512"),
        (("--nside", "some"), "some"),
        (("--bounds", "10"), '--bounds "10"'),
        (("--bounds", "50,20"), "50"),
        (("--bounds", "0,100"), "100"),
        (("--bounds", "a,b"), "a,b"),
        (("--bounds", "nan,10"), "nan"),
        (("--bounds", "1,2", "--nside", 1), "no target of so coarse a map"),
        (("--sparse", 25), "25 % is 0.25"),
        (("--sparse", 0), "above 0"),
        (("--sparse", "nan"), "nan"),
        (("--exposure", 2, "--faintest-mag", 11), "leave one of the two out"),
        (("--exposure", 0), "--exposure"),
        (("--min-stars", 0), "--min-stars"),
        (("--epoch", "soon"), "soon"),
        (("--targets", "none.csv"), "There is no target list"),
        (("--stars", "other"), "other"),
    ],
)
def test_bad_input_is_one_sentence_before_the_work(run, rig_file, no_work, tmp_path, options, words):
    folder = tmp_path / "out"
    status, out, err = run("--rig", rig_file, "--out", folder, *options)
    assert (status, out) == (2, "")
    assert words in one_sentence(err)
    assert not folder.exists()


def test_an_empty_list_of_targets(run, rig_file, no_work, tmp_path):
    (tmp_path / "empty.csv").write_text("", encoding="utf-8")
    status, out, err = run("--rig", rig_file, "--targets", tmp_path / "empty.csv")
    assert (status, out) == (2, "")
    assert "is empty" in one_sentence(err)


def test_an_out_folder_that_is_a_file(run, rig_file, no_work):
    status, out, err = run("--rig", rig_file, "--out", rig_file)
    assert (status, out) == (2, "")
    assert "this is a file; name a folder" in one_sentence(err)
    assert rig_file.read_text(encoding="utf-8")


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a folder that nobody can write to")
def test_an_out_folder_that_cannot_be_written(run, rig_file, no_work):
    for folder in ("/proc/self/map", "/proc/self"):
        status, out, err = run("--rig", rig_file, "--out", folder)
        assert (status, out) == (2, "")
        assert f"--out {folder}: cannot be written to" in one_sentence(err)


def test_without_the_extra_a_sentence_before_the_work(run, rig_file, no_work, monkeypatch, tmp_path):
    monkeypatch.setitem(sys.modules, "numba", None)
    status, out, err = run("--rig", rig_file, "--out", tmp_path / "out")
    assert (status, out) == (2, "")
    assert 'needs the package numba: python -m pip install "guidestar[maps]"' in one_sentence(err)
    assert not (tmp_path / "out").exists()


def test_a_disk_that_fills_up_leaves_what_was_there(run, rig_file, few_stars, monkeypatch, tmp_path):
    folder = tmp_path / "out"
    assert run("--rig", rig_file, "--nside", 1, "--out", folder, *EPOCH)[0] == 0
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    def full(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("guidestar.api.maps.write_sparse", full)
    status, out, err = run("--rig", rig_file, "--nside", 2, "--out", folder, *EPOCH)
    assert (status, out) == (2, "")
    assert "No space left on device" in one_sentence(err)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_no_data_where_the_store_has_none(run, rig_file, tmp_path):
    store = Store(tmp_path / "store")
    region = regions.around(45.0, 0.0, 30.0)
    few = stars_in(regions.around(45.0, 0.0, 3.0), 500, faintest_mag=15.0)
    store_write.put(store, few, claim(region, 15.0))
    status, out, _ = run(
        "--rig", rig_file, "--nside", 4, "--stars", "store", "--store", store.path, "--out", tmp_path / "out", *EPOCH
    )
    assert status == 0
    assert "NO DATA" in out
    assert "does not mean that there are no stars" in out
    found = strict((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    # A cap of 30° is 6.7 % of the sky; a target needs its whole surroundings.
    assert 0.88 < found["no_data_deg2"] / found["worked_out_deg2"] < 0.97
    assert found["whole"]["no_data_pixels"] < found["whole"]["pixels"]
    assert found["whole"]["confirmed"]["usable"]["mean"] > 0.0


def test_an_empty_store_is_a_data_failure(run, rig_file, tmp_path):
    status, out, err = run(
        "--rig", rig_file, "--stars", "store", "--store", tmp_path / "none", "--out", tmp_path / "out"
    )
    assert (status, out) == (3, "")
    assert "guidestar stars fetch" in one_sentence(err)
    assert not (tmp_path / "out").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="signals are sent differently there")
def test_ctrl_c_leaves_no_half_file(rig_file, tmp_path):
    out = tmp_path / "new" / "out"
    command = [sys.executable, "-m", "guidestar", "map", "--rig", str(rig_file), "--nside", "256", "--out", str(out)]
    process = subprocess.Popen(
        [*command, *EPOCH],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=heeding_ctrl_c,
    )
    deadline = time.monotonic() + 60.0
    while not out.is_dir() and time.monotonic() < deadline:
        time.sleep(0.05)
    time.sleep(0.5)  # the sweep is under way
    os.kill(process.pid, signal.SIGINT)
    printed, errors = process.communicate(timeout=60)
    assert process.returncode == 130
    assert (printed, errors.strip()) == ("", "guidestar: Stopped.")
    assert not out.exists()
    assert not (tmp_path / "new").exists()


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture
def on_a_terminal(rig_file, few_stars, monkeypatch):
    """Return what runs a small map whose standard error is a terminal, and gives what was shown there."""

    def shown():
        terminal = Terminal()
        monkeypatch.setattr(sys, "stderr", terminal)
        assert main(["map", "--rig", str(rig_file), "--nside", "1", *EPOCH]) == 0
        return terminal.getvalue()

    return shown


def test_the_bar_is_for_a_terminal_only(run, rig_file, on_a_terminal):
    status, _, err = run("--rig", rig_file, "--nside", 1, *EPOCH)
    assert (status, err) == (0, "")
    assert "the sky, left:" in on_a_terminal()


@pytest.mark.parametrize(
    ("prepared", "said", "unsaid"), [(False, "compiling", "reading"), (True, "reading", "compiling")]
)
def test_a_first_run_on_a_computer_says_that_it_compiles(on_a_terminal, monkeypatch, prepared, said, unsaid):
    monkeypatch.setattr("guidestar.maps.prepared.is_prepared", lambda: prepared)
    shown = on_a_terminal()
    assert said in shown
    assert unsaid not in shown


def test_the_sweeps_limits_are_those_of_the_help(run):
    status, out, _ = run("--help")
    assert status == 0
    assert str(sweep.FINEST_NSIDE) in out
    assert all(name in out for name in FILES)


def test_a_rig_is_needed(run):
    status, out, err = run()
    assert (status, out) == (2, "")
    assert "--rig" in one_sentence(err)
