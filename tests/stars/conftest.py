"""The whole built-in catalogue, and a small invented one in the format of the originals."""

from __future__ import annotations

import importlib.util
import json
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from guidestar.stars.hats import Columns, HatsFolder
from guidestar.stars.tycho2 import Tycho2, tycho2

COLUMNS = (
    "_healpix_29", "ra_deg", "dec_deg", "epoch", "pm_ra", "pm_dec", "bt", "vt", "g", "v", "tyc1", "tyc2", "tyc3",
    "hip", "prox", "flags",
)  # fmt: skip

ROOT = Path(__file__).parents[2]


def load_authority(name: str) -> dict[str, Any]:
    return json.loads((ROOT / "tests" / "authorities" / name).read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def authority() -> Callable[[str], dict[str, Any]]:
    return load_authority


@pytest.fixture(scope="session")
def catalogue() -> Tycho2:
    return tycho2()


@pytest.fixture(scope="session")
def whole(catalogue: Tycho2) -> Columns:
    """Every column of every row, 2,557,501 long."""
    return catalogue.folder.read(catalogue.folder.partitions, COLUMNS)


@pytest.fixture(scope="session")
def builder() -> ModuleType:
    """The builder script, loaded from `data/`."""
    spec = importlib.util.spec_from_file_location("build_tycho2", ROOT / "data" / "build_tycho2.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their own module up
    spec.loader.exec_module(module)
    return module


def fixed_width(width: int, cells: dict[tuple[int, int], str]) -> str:
    """A line with text at places given by first and last byte, counted from 1; the rest is blank."""
    line = [" "] * width
    for (first, last), text in cells.items():
        assert len(text) <= last - first + 1
        line[last - len(text) : last] = text
    return "".join(line) + "\n"


def main_line(number: int, ra: float, dec: float, **special: str) -> str:
    """An invented line of the main catalogue; `special` overrides cells by their names in the ReadMe."""
    cells = {
        "pflag": " ", "RAmdeg": f"{ra:.8f}", "DEmdeg": f"{dec:.8f}", "pmRA": f"{number % 50 - 20.5:.1f}",
        "pmDE": f"{number % 30 - 9.3:.1f}", "BTmag": f"{9 + number % 40 / 10:.3f}",
        "VTmag": f"{8.4 + number % 40 / 10:.3f}", "prox": "999", "HIP": "", "RAdeg": f"{ra:.8f}",
        "DEdeg": f"{dec:.8f}", "EpRA": "1.75", "EpDE": "1.50", "posflg": " ",
    } | special  # fmt: skip
    if cells["pflag"] == "X":
        cells |= {"RAmdeg": "", "DEmdeg": "", "pmRA": "", "pmDE": ""}
    places = {
        "pflag": (14, 14), "RAmdeg": (16, 27), "DEmdeg": (29, 40), "pmRA": (42, 48), "pmDE": (50, 56),
        "BTmag": (111, 116), "VTmag": (124, 129), "prox": (137, 139), "HIP": (143, 148), "RAdeg": (153, 164),
        "DEdeg": (166, 177), "EpRA": (179, 182), "EpDE": (184, 187), "posflg": (201, 201),
    }  # fmt: skip
    name = {(1, 4): f"{number // 10 + 1:04d}", (6, 10): f"{number:05d}", (12, 12): "1"}
    return fixed_width(206, name | {places[key]: text for key, text in cells.items()})


def supplement_line(number: int, ra: float, dec: float, **special: str) -> str:
    """An invented line of supplement 1."""
    cells = {
        "flag": "T", "RAdeg": f"{ra:.8f}", "DEdeg": f"{dec:.8f}", "pmRA": "", "pmDE": "", "mflag": " ",
        "BTmag": "11.000", "VTmag": "10.000", "prox": "999", "HIP": "",
    } | special  # fmt: skip
    places = {
        "flag": (14, 14), "RAdeg": (16, 27), "DEdeg": (29, 40), "pmRA": (42, 48), "pmDE": (50, 56),
        "mflag": (82, 82), "BTmag": (84, 89), "VTmag": (97, 102), "prox": (110, 112), "HIP": (116, 121),
    }  # fmt: skip
    name = {(1, 4): f"{number // 10 + 1:04d}", (6, 10): f"{number:05d}", (12, 12): special.get("TYC3", "2")}
    return fixed_width(122, name | {places[key]: text for key, text in cells.items() if key in places})


SAMPLE_ROWS = 129


@pytest.fixture(scope="session")
def originals(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A directory like that of the originals with 129 INVENTED stars, all special cases among them."""
    rng = np.random.default_rng(2000)
    ra, dec = rng.uniform(0.0, 360.0, 120), np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, 120)))
    special: dict[int, dict[str, str]] = {
        3: {"pflag": "X"},
        4: {"pflag": "P", "posflg": "P"},
        5: {"posflg": "D", "prox": "8"},
        6: {"BTmag": ""},
        7: {"VTmag": ""},
        8: {"BTmag": "13.000", "VTmag": "10.000"},
        9: {"HIP": "12345"},
        10: {"prox": "60"},
    }
    lines = [main_line(n, ra[n], dec[n], **special.get(n, {})) for n in range(120)]
    supplement = [supplement_line(n, 10.0 * n, -5.0 * n) for n in range(1, 6)]
    supplement += [
        supplement_line(6, 60.0, 30.0, flag="H", pmRA="120.5", pmDE="-80.0", HIP="77"),
        supplement_line(7, 70.0, 35.0, flag="H", pmRA="1.0", pmDE="2.0", mflag="H", BTmag="", VTmag="7.500"),
        supplement_line(8, 80.0, 40.0, mflag="B", VTmag="", BTmag="10.500"),
        supplement_line(9, 90.0, 45.0, TYC3="1"),
    ]
    folder = tmp_path_factory.mktemp("originals")
    (folder / "tyc2.dat.00").write_bytes("".join(lines[:70]).encode("ascii"))
    (folder / "tyc2.dat.01").write_bytes("".join(lines[70:]).encode("ascii"))
    (folder / "suppl_1.dat").write_bytes("".join(supplement).encode("ascii"))
    return folder


@pytest.fixture
def small_folder(builder: ModuleType, originals: Path, tmp_path: Path) -> HatsFolder:
    """A catalogue built from the invented stars, to be damaged at will."""
    builder.build(originals, tmp_path / "small", SAMPLE_ROWS)
    return HatsFolder(tmp_path / "small", "build it again")
