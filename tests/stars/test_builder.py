"""The builder script: on invented lines in the original format, and on the originals where they are at hand.

The originals are looked for in the directory that GUIDESTAR_TYCHO2_ORIGINALS names, or in data/originals.
"""

import json
import os
from pathlib import Path
from types import ModuleType

import numpy as np
import pyarrow as pa
import pytest

from guidestar.stars.flags import flag_names
from guidestar.stars.hats import Columns, HatsFolder
from guidestar.stars.tycho2 import Tycho2, builtin_folder

SAMPLE_ROWS = 129
ROOT = Path(__file__).parents[2]


def files_of(folder: Path) -> dict[str, bytes]:
    return {file.relative_to(folder).as_posix(): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


@pytest.fixture
def small(small_folder: HatsFolder) -> Columns:
    names = ("ra_deg", "dec_deg", "epoch", "pm_ra", "pm_dec", "bt", "vt", "g", "v", "tyc2", "tyc3", "hip", "flags")
    return small_folder.read(small_folder.partitions, names)


def row(small: Columns, number: int, tyc3: int = 1) -> dict[str, float]:
    found = np.flatnonzero((small["tyc2"] == number) & (small["tyc3"] == tyc3))
    assert len(found) == 1
    return {name: values[found[0]] for name, values in small.items()}


def names(star: dict[str, float]) -> set[str]:
    return set(flag_names(int(star["flags"]))) - {"derived_g"}


def test_a_second_run_gives_the_same_bytes(builder: ModuleType, originals: Path, tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert builder.main([str(originals), "--out", str(tmp_path / name), "--expect-rows", str(SAMPLE_ROWS)]) == 0
    assert files_of(tmp_path / "one") == files_of(tmp_path / "two")
    assert len(files_of(tmp_path / "one")) > 50


def test_a_run_replaces_what_was_there(builder: ModuleType, originals: Path, tmp_path: Path) -> None:
    (tmp_path / "out" / "dataset").mkdir(parents=True)
    (tmp_path / "out" / "dataset" / "left over").write_text("old", encoding="utf-8")
    builder.build(originals, tmp_path / "out", SAMPLE_ROWS)
    assert "dataset/left over" not in files_of(tmp_path / "out")
    assert not (tmp_path / "out.unfinished").exists()


def test_inputs_are_recorded(small_folder: HatsFolder, originals: Path) -> None:
    record = json.loads((small_folder.path / "inputs.json").read_text(encoding="utf-8"))
    assert record["pyarrow"] == pa.__version__
    assert [one["name"] for one in record["inputs"]] == ["tyc2.dat.00", "tyc2.dat.01", "suppl_1.dat"]
    assert [one["bytes"] for one in record["inputs"]] == [70 * 207, 50 * 207, 9 * 123]
    assert all(len(one["sha256"]) == 64 for one in record["inputs"])


def test_an_ordinary_star(small: Columns) -> None:
    star = row(small, 50)
    assert (star["bt"], star["vt"], star["pm_ra"], star["pm_dec"]) == (10.0, 9.4, -20.5, 10.7)
    assert (star["epoch"], star["hip"]) == (2000.0, 0)
    assert (star["g"], star["v"]) == (9.23, 9.35)
    assert names(star) == set()


def test_a_star_without_a_mean_position_keeps_the_observed_one_and_the_mean_of_its_epochs(small: Columns) -> None:
    star = row(small, 3)
    assert star["epoch"] == 1991.625
    assert np.isnan(star["pm_ra"])
    assert np.isfinite(star["ra_deg"])
    assert names(star) == {"no_mean_position", "no_proper_motion"}


def test_special_solutions_are_flagged(small: Columns) -> None:
    assert names(row(small, 4)) == {"photocentre"}
    assert names(row(small, 5)) == {"double", "close_neighbour"}
    assert names(row(small, 10)) == set()  # 6.0″ is not nearer than 6″
    assert names(row(small, 8)) == {"colour_range"}


def test_a_supplement_star_with_the_designation_of_a_main_one_is_flagged(small: Columns) -> None:
    twins = [
        (int(hip), names({"flags": flags}))
        for hip, flags, tyc2, tyc3 in zip(small["hip"], small["flags"], small["tyc2"], small["tyc3"], strict=True)
        if (tyc2, tyc3) == (9, 1)
    ]
    assert sorted(twins) == [(0, {"supplement", "no_proper_motion", "shared_name"}), (12345, set())]


def test_missing_magnitudes_stay_missing(small: Columns) -> None:
    for number, missing in ((6, "bt"), (7, "vt")):
        star = row(small, number)
        assert np.isnan(star[missing])
        assert np.isfinite(star["g"])
        assert names(star) == {"colour_assumed"}


def test_the_supplement(small: Columns) -> None:
    assert names(row(small, 1, 2)) == {"supplement", "no_proper_motion"}
    with_motion = row(small, 6, 2)
    assert (with_motion["pm_ra"], with_motion["pm_dec"], with_motion["hip"]) == (120.5, -80.0, 77)
    assert with_motion["epoch"] == 1991.25
    assert names(row(small, 7, 2)) == {"supplement", "hp_magnitude", "colour_assumed"}
    assert names(row(small, 8, 2)) == {"supplement", "colour_assumed", "no_proper_motion"}


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda folder: (folder / "suppl_1.dat").unlink(), "does not hold tyc2.dat.00 to .19 and suppl_1.dat"),
        (lambda folder: (folder / "tyc2.dat.01").unlink(), "holds 79 stars, not 129"),
        (lambda folder: (folder / "tyc2.dat.01").write_bytes(b"x" * 50), "has 50 bytes"),
        (lambda folder: (folder / "tyc2.dat.01").write_bytes(b"x" * 414), "not 206 characters long"),
        (lambda folder: (folder / "tyc2.dat.01").write_bytes((b"x" * 206 + b"\n") * 2), "could not convert"),
    ],
)
def test_spoiled_originals_are_refused_and_nothing_is_replaced(
    builder: ModuleType, originals: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], spoil, message: str
) -> None:
    folder, out = tmp_path / "spoiled", tmp_path / "out"
    folder.mkdir()
    for file in originals.iterdir():
        (folder / file.name).write_bytes(file.read_bytes())
    spoil(folder)
    out.mkdir()
    assert builder.main([str(folder), "--out", str(out), "--expect-rows", str(SAMPLE_ROWS)]) == 2
    assert message in capsys.readouterr().err
    assert list(out.iterdir()) == []


@pytest.mark.slow
def test_the_originals_give_the_stored_bytes(builder: ModuleType, tmp_path: Path) -> None:
    folder = Path(os.environ.get("GUIDESTAR_TYCHO2_ORIGINALS", ROOT / "data" / "originals"))
    if not folder.is_dir():
        pytest.skip(f"the originals of Tycho-2 are not in {folder}")
    stored = builtin_folder()
    written_by = json.loads((stored / "inputs.json").read_text(encoding="utf-8"))["pyarrow"]
    if written_by != pa.__version__:
        pytest.skip(f"the stored bytes are those of pyarrow {written_by}, this is {pa.__version__}")
    builder.build(folder, tmp_path / "again", builder.ALL_ROWS)
    assert files_of(tmp_path / "again") == files_of(stored)


def test_the_recorded_inputs_are_the_published_files(catalogue: Tycho2) -> None:
    record = json.loads((catalogue.folder.path / "inputs.json").read_text(encoding="utf-8"))
    sizes = {one["name"]: one["bytes"] for one in record["inputs"]}
    # Lines and line lengths as in the ReadMe: 19 × 127,000 + 126,913 lines of 206, and 17,588 of 122, with line ends.
    assert sizes == {f"tyc2.dat.{n:02d}": (127_000 if n < 19 else 126_913) * 207 for n in range(20)} | {
        "suppl_1.dat": 17_588 * 123
    }
