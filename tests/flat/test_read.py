"""FITS files: which way up, planes, compression, and every way to be unreadable."""

import bz2
import gzip
import importlib.util
import subprocess
import sys

import numpy as np
import pytest
from astropy.io import fits
from support import flats

from guidestar.errors import InputError
from guidestar.flat.read import read_flat


@pytest.fixture(scope="module")
def flat():
    return flats.plain_flat(4).pixels


def write(path, data, **header):
    unit = fits.PrimaryHDU(data)
    for key, value in header.items():
        unit.header[key] = value
    unit.writeto(path)
    return path


def refused(path, **more):
    with pytest.raises(InputError) as caught:
        read_flat(path, **more)
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(
    ("header", "first_row", "upside_down"),
    [({}, None, True), ({"ROWORDER": "BOTTOM-UP"}, None, True), ({"ROWORDER": "TOP-DOWN"}, None, False),
     ({}, "top", False), ({"ROWORDER": "TOP-DOWN"}, "bottom", True)],
)  # fmt: skip
def test_first_row(tmp_path, flat, header, first_row, upside_down):
    frame = read_flat(write(tmp_path / "f.fits", flat, **header), first_row=first_row)
    assert np.array_equal(frame.pixels, flat[::-1] if upside_down else flat)


def test_colour_planes_are_added_up(tmp_path, flat):
    frame = read_flat(write(tmp_path / "f.fits", np.stack([flat, flat, flat])))
    assert np.array_equal(frame.pixels, 3.0 * flat[::-1])
    assert not frame.colour


def test_a_named_mosaic_is_believed(tmp_path, flat):
    frame = read_flat(write(tmp_path / "f.fits", flat, BAYERPAT="RGGB"))
    assert frame.colour
    assert frame.pixels.shape == (200, 300)


def test_the_first_picture_counts_also_behind_an_empty_unit_and_compressed(tmp_path, flat):
    fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(flat)]).writeto(tmp_path / "f.fits")
    assert np.array_equal(read_flat(tmp_path / "f.fits").pixels, flat[::-1])


@pytest.mark.parametrize("suffix", ["gz", "bz2"])
def test_packed_files(tmp_path, flat, suffix):
    pack = {"gz": gzip.compress, "bz2": bz2.compress}[suffix]
    content = pack(write(tmp_path / "f.fits", flat).read_bytes())
    path = tmp_path / f"f.fits.{suffix}"
    path.write_bytes(content)
    assert np.array_equal(read_flat(path).pixels, flat[::-1])
    path.write_bytes(content[: len(content) // 3])
    assert "empty, damaged or cut short" in refused(path)


@pytest.mark.parametrize("axis", [0, 2])
def test_planes(tmp_path, flat, axis):
    assert read_flat(write(tmp_path / "one.fits", np.expand_dims(flat, axis))).width_px == 600
    assert read_flat(write(tmp_path / "three.fits", np.stack([flat] * 3, axis))).width_px == 600
    stack = refused(write(tmp_path / "five.fits", np.stack([flat] * 5, axis)))
    assert "not one picture" in stack
    assert "5" in stack


def test_unreadable_files(tmp_path, flat):
    assert "no such file" in refused(tmp_path / "missing.fits")
    assert "folder" in refused(tmp_path)
    (tmp_path / "text.fits").write_text("hello")
    (tmp_path / "other.fits").write_bytes(b"\x89PNG" + bytes(range(256)) * 40)
    (tmp_path / "empty.fits").write_bytes(b"")
    for name in ("text.fits", "empty.fits", "other.fits"):
        assert "cannot be read as FITS" in refused(tmp_path / name)
    assert "a file of another kind" in refused(tmp_path / "other.fits")
    fits.PrimaryHDU().writeto(tmp_path / "none.fits")
    table = fits.BinTableHDU.from_columns([fits.Column("a", "J", array=[1, 2])])
    fits.HDUList([fits.PrimaryHDU(), table]).writeto(tmp_path / "table.fits")
    write(tmp_path / "line.fits", flat[0])
    for name in ("none.fits", "table.fits", "line.fits"):
        assert "holds no picture" in refused(tmp_path / name)


def test_a_header_that_promises_too_much(tmp_path, flat):
    content = write(tmp_path / "f.fits", flat).read_bytes()
    before, after = b"NAXIS1  =                  600", b"NAXIS1  =            900000000"
    assert before in content
    (tmp_path / "f.fits").write_bytes(content.replace(before, after))
    assert "cut short" in refused(tmp_path / "f.fits")


@pytest.mark.parametrize("kept", [1000, 2880, 5000, 100_000, 400_000])
def test_truncated(tmp_path, flat, kept):
    content = write(tmp_path / "f.fits", flat).read_bytes()
    (tmp_path / "cut.fits").write_bytes(content[:kept])
    assert "cannot be read as FITS" in refused(tmp_path / "cut.fits")


@pytest.mark.parametrize("library", ["threadpoolctl", "scipy"])
def test_what_to_install(tmp_path, flat, monkeypatch, library):
    path = write(tmp_path / "f.fits", flat)
    real = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == library else real(name))
    assert 'python -m pip install "guidestar[flats]"' in refused(path)


def test_the_modules_load_no_library_until_they_read():
    code = (
        "import sys, guidestar.flat.read, guidestar.flat.analyse; "
        "print([m for m in ('astropy', 'scipy', 'threadpoolctl') if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert out.strip() == "[]"
