"""Regions of sky against the library for MOCs and against plain sets of pixels."""

import mocpy
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from guidestar.errors import InputError
from guidestar.sky import epoch, healpix, regions
from guidestar.sky.regions import Region

PIXELS = st.lists(st.tuples(st.integers(0, 4), st.integers(0, 3071)), max_size=12)


def region_of(pixels: list[tuple[int, int]]) -> Region:
    parts = [regions.of_pixels([pixel % healpix.pixel_count(order)], order) for order, pixel in pixels]
    return regions.union(*parts) if parts else regions.nowhere()


def as_moc(region: Region) -> mocpy.MOC:
    return mocpy.MOC.from_depth29_ranges(29, region.astype(np.uint64))


def ranges_of(moc: mocpy.MOC) -> np.ndarray:
    return np.asarray(moc.to_depth29_ranges, dtype=np.int64).reshape(-1, 2)


@settings(derandomize=True, deadline=None)
@given(PIXELS, PIXELS)
def test_set_operations_agree_with_mocpy(one: list[tuple[int, int]], other: list[tuple[int, int]]) -> None:
    a, b = region_of(one), region_of(other)
    assert np.array_equal(regions.union(a, b), ranges_of(as_moc(a).union(as_moc(b))))
    assert np.array_equal(regions.intersection(a, b), ranges_of(as_moc(a).intersection(as_moc(b))))
    # Not by its own difference, which loses a pixel next to one taken away (mocpy 0.21: 0/0 less 0/1 is empty there).
    assert np.array_equal(regions.difference(a, b), ranges_of(as_moc(a).intersection(as_moc(b).complement())))


@settings(derandomize=True, deadline=None)
@given(PIXELS)
def test_text_form_is_read_by_mocpy_and_comes_back(pixels: list[tuple[int, int]]) -> None:
    region = region_of(pixels)
    text = regions.to_text(region)
    assert np.array_equal(regions.from_text(text), region)
    if len(region):
        assert np.array_equal(ranges_of(mocpy.MOC.from_string(text)), region)
        assert np.array_equal(regions.from_text(as_moc(region).serialize("str")), region)


def test_text_form_also_takes_commas_and_spaces() -> None:
    assert np.array_equal(regions.from_text(" 1/ 3 , 5 - 6\n2/0"), regions.from_text("1/3 5 6 2/0"))
    assert len(regions.from_text("")) == 0
    assert np.array_equal(regions.from_text("0/0-11"), regions.whole_sky())


@pytest.mark.parametrize("text", ["5", "5/12288", "30/1", "5/3-2", "x", "5/a", "-1/3", "5//3", "5/3-"])
def test_what_is_no_moc_is_said(text: str) -> None:
    with pytest.raises(InputError, match="is not a MOC"):
        regions.from_text(text)


def test_contains_is_half_open() -> None:
    region = regions.of_pixels([3], 29)
    assert regions.contains(region, np.array([2, 3, 4])).tolist() == [False, True, False]
    assert not regions.contains(regions.nowhere(), np.array([0])).any()


def test_areas() -> None:
    assert regions.area_deg2(regions.whole_sky()) == pytest.approx(41252.96125)
    assert regions.area_deg2(regions.of_pixels([7], 5)) == pytest.approx(3.3572, abs=1e-4)
    assert regions.area_deg2(regions.nowhere()) == 0.0


@pytest.mark.parametrize(("ra", "dec"), [(0.0, 0.0), (123.4, 45.0), (359.99, -89.9), (10.0, 90.0)])
@pytest.mark.parametrize("radius", [0.05, 0.6, 5.0, 40.0])
def test_a_circle_lies_in_one_region_and_holds_the_other(ra: float, dec: float, radius: float) -> None:
    rng = np.random.default_rng(5)
    z = rng.normal(size=(3, 20000)) * min(1.0, radius / 30.0) + epoch.unit_vectors(ra, dec)[:, np.newaxis]
    at_ra, at_dec = epoch.angles_of(z)
    unit = epoch.unit_vectors(at_ra, at_dec)
    inside = np.linalg.norm(unit - epoch.unit_vectors(ra, dec)[:, np.newaxis], axis=0) <= epoch.chord_of(radius)
    index = healpix.pixel_of(at_ra, at_dec)
    assert inside.any()
    assert regions.contains(regions.around(ra, dec, radius), index[inside]).all()
    assert not regions.contains(regions.inside_circle(ra, dec, radius), index[~inside]).any()
    area = 2.0 * np.pi * (1.0 - np.cos(np.radians(radius))) * np.degrees(1.0) ** 2
    assert regions.area_deg2(regions.around(ra, dec, radius)) < (6.0 if radius < 0.1 else 1.8) * area
    assert regions.area_deg2(regions.inside_circle(ra, dec, radius)) > (0.3 if radius < 0.1 else 0.7) * area


def test_a_band_of_declination() -> None:
    band = regions.declination_band(-30.0, 10.0)
    rng = np.random.default_rng(6)
    ra, dec = rng.uniform(0, 360, 5000), rng.uniform(-90, 90, 5000)
    held = regions.contains(band, healpix.pixel_of(ra, dec))
    assert held[(dec >= -30.0) & (dec <= 10.0)].all()
    assert not held[(dec < -33.0) | (dec > 13.0)].any()


def test_pixels_of_and_rounding_out() -> None:
    region = regions.of_pixels([12233], 5)
    assert regions.pixels_of(region, 4).tolist() == [12233 // 4]
    assert regions.pixels_of(region, 6).tolist() == list(range(4 * 12233, 4 * 12233 + 4))
    assert np.array_equal(regions.rounded_out(region, 4), regions.of_pixels([12233 // 4], 4))
    assert regions.pixels_of(regions.nowhere(), 3).size == 0
