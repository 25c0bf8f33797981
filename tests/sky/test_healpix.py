"""HEALPix pixels against healpy, and circles against the positions in them."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from guidestar.sky import healpix

healpy = pytest.importorskip("healpy", reason="healpy is not built for Windows")

EDGES = [(0.0, 0.0), (360.0, 0.0), (0.0, 90.0), (123.0, -90.0), (45.0, 41.8103149), (359.9999999, 1e-9)]


def places(count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(29)
    ra_deg, dec_deg = rng.uniform(0.0, 360.0, count), np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, count)))
    return np.append(ra_deg, [e[0] for e in EDGES]), np.append(dec_deg, [e[1] for e in EDGES])


@pytest.mark.parametrize("order", [0, 2, 6, 13, 29])
def test_pixels_are_those_of_healpy(order: int) -> None:
    ra_deg, dec_deg = places(20_000)
    theirs = healpy.ang2pix(2**order, ra_deg, dec_deg, nest=True, lonlat=True)
    assert np.array_equal(healpix.pixel_of(ra_deg, dec_deg, order), theirs)


def test_a_pixel_computed_with_healpy_1_20() -> None:
    assert healpix.pixel_of([10.68], [41.27], 6).tolist() == [2709]


def test_the_number_of_pixels_follows_from_the_order() -> None:
    assert [healpix.pixel_count(order) for order in (0, 2, 5)] == [12, 192, 12288]


@settings(derandomize=True, deadline=None, max_examples=300)
@given(
    ra_deg=st.floats(0.0, 360.0),
    dec_deg=st.floats(-90.0, 90.0),
    radius_deg=st.floats(1e-4, 40.0),
    order=st.sampled_from([0, 1, 2, 3, 5]),
)
@example(ra_deg=0.0, dec_deg=90.0, radius_deg=0.5, order=2)
@example(ra_deg=359.9999, dec_deg=0.0, radius_deg=0.3, order=2)
@example(ra_deg=77.0, dec_deg=-90.0, radius_deg=3.0, order=3)
def test_a_circle_touches_every_pixel_that_healpy_finds_and_few_more(
    ra_deg: float, dec_deg: float, radius_deg: float, order: int
) -> None:
    ours = set(healpix.pixels_touching_circle(ra_deg, dec_deg, radius_deg, order).tolist())
    centre = healpy.ang2vec(ra_deg, dec_deg, lonlat=True)
    fine, coarse = (
        set(healpy.query_disc(2**order, centre, np.radians(radius_deg), inclusive=True, fact=fact, nest=True).tolist())
        for fact in (256, 1)
    )
    assert fine <= ours <= coarse


@settings(derandomize=True, deadline=None, max_examples=200)
@example(ra_deg=0.0, dec_deg=0.0, radius_deg=140.0, order=1)  # missed by the library's query alone
@given(
    ra_deg=st.floats(-720.0, 720.0),
    dec_deg=st.floats(-90.0, 90.0),
    radius_deg=st.floats(0.0, 179.0),
    order=st.sampled_from([1, 2, 4]),
)
def test_every_position_in_a_circle_lies_in_a_pixel_that_it_touches(
    ra_deg: float, dec_deg: float, radius_deg: float, order: int
) -> None:
    azimuth = np.linspace(0.0, 360.0, 73)
    found = set(healpix.pixels_touching_circle(ra_deg, dec_deg, radius_deg * (1 + 1e-9) + 1e-9, order).tolist())
    for distance in radius_deg * np.array([0.5, 1.0]):
        lon, lat = offset_by(ra_deg, dec_deg, distance, azimuth)
        assert set(healpy.ang2pix(2**order, lon, lat, nest=True, lonlat=True).tolist()) <= found


def offset_by(
    ra_deg: float, dec_deg: float, distance_deg: float, azimuth_deg: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Positions at a distance and bearing, by spherical trigonometry (independent of the project's vectors)."""
    dec, distance, azimuth = np.radians(dec_deg), np.radians(distance_deg), np.radians(azimuth_deg)
    sin_dec = np.sin(dec) * np.cos(distance) + np.cos(dec) * np.sin(distance) * np.cos(azimuth)
    east = np.sin(azimuth) * np.sin(distance) * np.cos(dec)
    ra = np.radians(ra_deg) + np.arctan2(east, np.cos(distance) - np.sin(dec) * sin_dec)
    return np.degrees(ra) % 360.0, np.degrees(np.arcsin(np.clip(sin_dec, -1.0, 1.0)))


def test_half_a_turn_around_a_point_touches_the_whole_sphere() -> None:
    assert healpix.pixels_touching_circle(10.0, 20.0, 180.0, 2).tolist() == list(range(192))


def test_a_small_circle_inside_a_pixel_touches_only_that_one() -> None:
    ra_deg, dec_deg = healpy.pix2ang(4, 77, nest=True, lonlat=True)
    assert healpix.pixels_touching_circle(ra_deg, dec_deg, 1.0, 2).tolist() == [77]
