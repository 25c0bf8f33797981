"""`guidestar stars` on the command line: list, verify, remove, import, and what fetch refuses without a network."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from support.gaia_rows import claim, stars_in

from guidestar.cli.main import main
from guidestar.errors import MissingPackageError
from guidestar.sky import healpix, regions
from guidestar.stars import store_write
from guidestar.stars.counted import EDGES_G, CountTable
from guidestar.stars.services import services_for
from guidestar.stars.store import Store
from guidestar.stars.tap import Client
from guidestar.stars.tap_network import Manners

HERE = "5/100 101"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("GUIDESTAR_STORE", str(tmp_path / "store"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def file(folder: Path) -> Path:
    rows = stars_in(regions.from_text(HERE), 120)
    table = {"source_id": rows["source_id"], "ra": rows["ra_deg"], "dec": rows["dec_deg"], "phot_g_mean_mag": rows["g"]}
    pq.write_table(pa.table(table), folder / "stars.parquet")
    return folder / "stars.parquet"


def said(capsys: pytest.CaptureFixture[str]) -> tuple[str, str]:
    out = capsys.readouterr()
    return out.out, out.err


def told(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    assert main([*words, "--json"]) == 0
    return json.loads(said(capsys)[0])


def test_import_list_verify_remove(file: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, "stars", "list")["parts"] == []
    done = told(capsys, "stars", "import", str(file), "--moc", HERE, "--faintest-mag", "16")
    assert (done["schema"], done["stars"], done["faintest_mag"]) == ("guidestar.stars-import/1", 120, 16.0)
    listed = told(capsys, "stars", "list")
    assert listed["schema"] == "guidestar.stars-list/1"
    assert listed["stars"] == 120
    assert listed["parts"][0]["moc"] == "5/100-101"
    assert listed["parts"][0]["origin"] == "stars.parquet"
    good = told(capsys, "stars", "verify")
    assert (good["schema"], good["good"], good["store_faults"]) == ("guidestar.stars-verify/1", True, [])
    ra, dec = healpix.pixel_centres([100], 5)
    gone = told(capsys, "stars", "remove", f"{ra[0]} {dec[0]}", "--radius-deg", "0.2")
    assert 0 < gone["removed"] < 120
    assert main(["stars", "remove", "--all"]) == 2
    assert "add --yes" in said(capsys)[1]
    gone = told(capsys, "stars", "remove", "--all", "--yes")
    assert gone["left"] == 0
    assert told(capsys, "stars", "list")["stars"] == 0


def test_the_same_in_words(file: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["stars", "list"]) == 0
    assert "no stars. 'guidestar stars fetch' brings fainter ones." in said(capsys)[0]
    assert main(["stars", "import", str(file), "--moc", HERE]) == 0
    assert "Took 120 stars to G " in said(capsys)[0]
    assert main(["stars", "list"]) == 0
    assert "120 stars" in said(capsys)[0]
    assert main(["stars", "verify"]) == 0
    assert said(capsys)[0].count("every file is as it was") == 2
    assert main(["stars", "remove", "--all", "--yes"]) == 0
    assert "Removed 120 stars; 0 are left." in said(capsys)[0]


def test_damage_is_named_and_mended(file: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["stars", "import", str(file), "--moc", HERE])
    store = Store(folder / "store")
    harmed = store.file_of(25)
    harmed.write_bytes(harmed.read_bytes()[:-1] + b"?")
    said(capsys)
    assert main(["stars", "verify"]) == 3
    assert f"{harmed} is damaged" in said(capsys)[1]
    assert main(["stars", "verify", "--repair"]) == 0
    assert "had to be dropped: fetch them again" in said(capsys)[0]
    assert main(["stars", "verify"]) == 0


def test_star_counts_are_listed_verified_and_removed(
    file: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = Store(folder / "store")
    pixels = np.array([10, 11])
    region = regions.of_pixels(pixels, 5)
    stars = np.arange(2 * len(EDGES_G), dtype=np.int64).reshape(2, -1)
    store_write.put_counts(store, CountTable(pixels, stars, (claim(region, 18.0, origin="counter"),)))
    listed = told(capsys, "stars", "list")
    assert (listed["parts"], listed["stars"]) == ([], 0)
    assert [(part["faintest_mag"], part["origin"], part["moc"]) for part in listed["counts"]] == [
        (18.0, "counter", "5/10-11")
    ]
    ra, dec = healpix.pixel_centres([11], 5)
    counted = told(capsys, "stars", "counts", f"{ra[0]:.4f} {dec[0]:.4f}")
    assert [row["counted"] for row in counted["cumulative"]] == stars[1, ::2].tolist()
    assert counted["counted_deg2"] == pytest.approx(3.357, abs=0.001)
    harmed = folder / "store" / "star_counts.parquet"
    harmed.write_bytes(harmed.read_bytes()[:-1] + b"?")
    assert main(["stars", "verify"]) == 3
    assert f"{harmed} is damaged" in said(capsys)[1]
    assert main(["stars", "counts", "M31"]) == 3
    assert f"{harmed} is damaged" in said(capsys)[1]
    said(capsys)
    mended = told(capsys, "stars", "verify", "--repair")
    assert (mended["good"], mended["counts_dropped"]) == (True, True)
    store_write.put_counts(store, CountTable(pixels, stars, (claim(region, 18.0),)))
    assert told(capsys, "stars", "remove", "--counts")["counts_deg2"] == pytest.approx(6.714, abs=0.001)
    store_write.put_counts(store, CountTable(pixels, stars, (claim(region, 18.0),)))
    assert main(["stars", "remove", "--all"]) == 2
    assert main(["stars", "remove", "--all", "--yes"]) == 0
    said(capsys)
    assert told(capsys, "stars", "list")["counts"] == []


@pytest.mark.usefixtures("no_network")
def test_the_limit_knows_plane_from_pole(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same circle and depth: some twenty times as many stars in the Milky Way as at its pole."""
    limit = ["--radius-deg", "5", "--faintest-mag", "18", "--limit-gb", "0.02", "--service", "ari"]
    assert main(["stars", "fetch", "290 15", *limit]) == 3
    assert re.search(r"about 3\.\d million stars to G 18 .± \d+ %, by star counts., 2\d\d", said(capsys)[1])
    # At the pole it is within the limit, so that the service is asked, which is not there.
    assert main(["stars", "fetch", "192.86 27.13", *limit]) == 3
    out, err = said(capsys)
    assert re.search(r"To come: about 6\d,\d\d\d stars to G 18", out)
    assert "its address cannot be found" in err


@pytest.mark.usefixtures("no_network")
def test_what_the_rig_needs_is_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["rig", "new", "rig.toml", "--from", "compound-2000-f10-prism-8x8"])
    said(capsys)
    nowhere = ["--service", "ari"]
    assert main(["stars", "fetch", "M31", "--rig", "rig.toml", *nowhere]) == 3
    out = " ".join(said(capsys)[0].split())
    assert "Stars to G 14.9: where its field is best lit," in out
    assert "reaches G 14.85 in 2 s at airmass 1.3" in out
    assert "Radius 42′ around a target: the guide field sweeps the sky out to 32′" in out
    assert main(["stars", "fetch", "M31", "--rig", "rig.toml", "--faintest-mag", "13", *nowhere]) == 3
    out = " ".join(said(capsys)[0].split())
    assert "reaches" not in out
    assert "to G 13" in out


def test_a_newer_store(file: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["stars", "import", str(file), "--moc", HERE])
    properties = folder / "store" / "hats.properties"
    properties.write_text(properties.read_text().replace("store_format=1", "store_format=9"))
    for words in (["list"], ["import", str(file), "--moc", HERE], ["remove", "--all", "--yes"]):
        said(capsys)
        assert main(["stars", *words]) == 3
        assert "update guidestar" in said(capsys)[1]


@pytest.mark.parametrize(
    ("words", "status", "sentence"),
    [
        (["fetch"], 2, "Say which sky"),
        (["fetch", "M31", "--sky"], 2, "Say which sky"),
        (["fetch", "M31", "--service", "visier"], 2, 'did you mean "vizier"'),
        (["fetch", "M31", "--faintest-mag", "30"], 2, "go from about 2 to 21"),
        (["fetch", "M31", "--radius-deg", "-1"], 2, "--radius-deg -1: must be above 0"),
        (["fetch", "M31", "--radius-deg", "nan"], 2, "--radius-deg nan: must be above 0"),
        (["fetch", "--declination", "20", "10"], 2, "the lower one first"),
        (["fetch", "M31", "--timeout", "0"], 2, "--timeout 0: must be above 0"),
        (["fetch", "M31", "--limit-gb", "inf"], 2, "--limit-gb inf"),
        (["fetch", "Nowhere 17"], 2, "Nowhere 17"),
        (["fetch", "--targets", "none.csv"], 2, "There is no target list"),
        (["fetch", "M31", "--rig", "none.toml"], 2, "none.toml"),
        (["fetch", "--sky"], 3, "about 83.2 million stars to G 16 (± 8 %, by star counts), 6.7 GB, above --limit-gb 2"),
        (["fetch", "--sky", "--faintest-mag", "19"], 3, "GB, above --limit-gb 2"),
        (["fetch", "290 15", "--radius-deg", "20", "--faintest-mag", "18"], 3, " million stars to G 18 (± "),
        (["fetch", "M31", "--counts", "--faintest-mag", "19"], 2, "counted to G 18 at most"),
        (["fetch", "--counts"], 2, "Say which sky"),
        (["import", "none.fits", "--moc", "5/1"], 2, "There is no file"),
        (["import", "none.fits"], 2, "Say of which sky the file holds every star"),
        (["import", "none.fits", "--around", "M31"], 2, "Say of which sky the file holds every star"),
        (["import", "none.fits", "--around", "M31", "--radius-deg", "0.001"], 2, "No piece of sky"),
        (["import", "none.fits", "--moc", "5/99999"], 2, "is not a MOC"),
        (["import", "none.fits", "--moc", "5/1", "--epoch-year", "20"], 2, "a Julian year"),
        (["import", "none.fits", "--moc", "5/1", "--faintest-mag", "-3"], 2, "must be above 0"),
        (["remove"], 2, "Say what to remove"),
        (["remove", "M31", "--all"], 2, "Say what to remove"),
        (["remove", "M31", "--counts"], 2, "Say what to remove"),
        (["remove", "M31", "--radius-deg", "0"], 2, "--radius-deg 0"),
    ],
)
def test_bad_input(
    words: list[str], status: int, sentence: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["stars", *words]) == status
    out, err = said(capsys)
    assert out == ""
    assert sentence in err
    assert len(err.splitlines()) == 1
    assert not (folder / "store" / "dataset").exists()


@pytest.mark.parametrize("more", [[], ["--counts"], ["--json"]])
@pytest.mark.parametrize("missing", [["pyvo", "requests", "urllib3", "tenacity"], ["tenacity"]])
def test_without_the_packages_for_fetching(
    more: list[str], missing: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for package in missing:
        monkeypatch.setitem(sys.modules, package, None)
    assert main(["stars", "fetch", "M31", "--service", "ari", *more]) == 2
    out, err = said(capsys)
    assert out == ""
    assert 'Fetching stars needs the packages pyvo and tenacity: python -m pip install "guidestar[fetch]".' in err
    assert len(err.splitlines()) == 1


def test_a_client_asks_for_its_packages_before_it_needs_them(monkeypatch: pytest.MonkeyPatch) -> None:
    for package in ("pyvo", "requests"):
        monkeypatch.setitem(sys.modules, package, None)
    with pytest.raises(MissingPackageError):
        Client(services_for("ari")[0], Manners())


def test_a_file_where_the_store_should_be(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "my.toml").write_text("x = 1\n", encoding="utf-8")
    for words in (["list"], ["verify"], ["remove", "--all"], ["counts", "M31"]):
        assert main(["stars", *words, "--store", "my.toml"]) == 2
        assert 'The star store "my.toml" is a file: name the folder of the store.' in said(capsys)[1]
    monkeypatch.setenv("GUIDESTAR_STORE", "my.toml")
    assert main(["stars", "list"]) == 2


def test_a_folder_to_import(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "stars.fits").mkdir()
    assert main(["stars", "import", "stars.fits", "--moc", HERE]) == 2
    assert '"stars.fits" is a folder: name the file of stars inside it.' in said(capsys)[1]


def test_a_file_that_is_cut_short_is_told_of_once(folder: Path) -> None:
    """In a process of its own: astropy's remark about it would go straight to the terminal."""
    from astropy.table import Table

    number = np.arange(20_000)
    columns = {"source_id": number, "ra": number / 100.0, "dec": number / 1000.0, "phot_g_mean_mag": number / 2000.0}
    Table(columns).write(folder / "cut.fits")
    content = (folder / "cut.fits").read_bytes()
    (folder / "cut.fits").write_bytes(content[: len(content) * 2 // 3])
    words = [sys.executable, "-m", "guidestar", "stars", "import", "cut.fits", "--moc", HERE]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert 'guidestar: The file "cut.fits" cannot be read' in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.fixture
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """A computer without a network, on which nobody waits long."""
    from guidestar.stars import tap_network as tap

    monkeypatch.setattr(tap.Manners, "__init__", lambda self, **_: vars(self).update(QUICK))
    monkeypatch.setattr(
        "socket.getaddrinfo", lambda *_, **__: (_ for _ in ()).throw(OSError("Name or service not known"))
    )


@pytest.mark.usefixtures("no_network")
def test_no_network_is_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["stars", "fetch", "M31", "--service", "ari"]) == 3
    assert "its address cannot be found; is there a network?" in said(capsys)[1]


QUICK = {"silence_s": 1.0, "whole_s": 1.0, "attempts": 1, "first_wait_s": 0.01, "longest_wait_s": 0.01}


def test_a_check_with_the_store_imports_neither_astropy_nor_pyvo(file: Path, folder: Path) -> None:
    assert main(["stars", "import", str(file), "--moc", HERE]) == 0
    main(["rig", "new", "rig.toml", "--from", "compound-2000-f10-prism-8x8"])
    ra, dec = healpix.pixel_centres([100], 5)
    code = (
        "import sys; from guidestar.cli.main import main\n"
        f"assert main(['check', '{ra[0]} {dec[0]}', '--rig', 'rig.toml', '--stars', 'store', '--json']) == 0\n"
        "print([m for m in ('astropy', 'pyvo', 'requests', 'pandas', 'matplotlib', 'mocpy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    answer, modules = done.stdout.splitlines()
    assert modules == "[]"
    assert "local store" in json.loads(answer)["stars"]["source"]
    assert np.isfinite(json.loads(answer)["usable"]["fraction"])
