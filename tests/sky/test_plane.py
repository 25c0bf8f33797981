"""The gnomonic plane against SOFA's published values, FITS WCS Paper II and astropy.wcs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from guidestar.sky.plane import from_plane, position_angle_deg, separation_deg, to_plane

PLACES = [(0.0, 0.0), (339.267, 34.4156), (359.99, -60.0), (12.0, 90.0), (200.0, -90.0), (0.005, 89.7)]

ra = st.floats(0.0, 360.0, exclude_max=True)
dec = st.floats(-90.0, 90.0)


def test_published_values_of_sofa_tangent_plane():
    """SOFA test program t_sofa_c: Tpxes, Tpsts."""
    xi, eta = to_plane(*np.degrees([1.3, 1.55, 2.3, 1.5]))
    assert xi == pytest.approx(-0.01753200983236980595, abs=1e-15)
    assert eta == pytest.approx(0.05962940005778712891, abs=1e-15)
    found = np.radians(from_plane(-0.03, 0.07, *np.degrees([2.3, 1.5])))
    assert found == pytest.approx([0.7596127167359629775, 1.540864645109263028], abs=1e-14)


def test_published_values_of_sofa_separation_and_position_angle():
    """SOFA test program t_sofa_c: Seps, Pas (−2.7245… rad is the same direction as 2π − 2.7245…)."""
    assert np.radians(separation_deg(*np.degrees([1.0, 0.1, 0.2, -3.0]))) == pytest.approx(
        2.346722016996998842, abs=1e-14
    )
    assert np.radians(position_angle_deg(*np.degrees([1.0, 0.1, 0.2, -1.0]))) == pytest.approx(
        2 * np.pi - 2.724544922932270424, abs=1e-12
    )


def test_arcturus_to_spica():
    """Meeus, Astronomical Algorithms, example 17.a: 32°.7930."""
    assert separation_deg(213.9154, 19.1825, 201.2983, -11.1614) == pytest.approx(32.7930, abs=5e-5)


def test_worked_example_of_wcs_paper_two():
    """Calabretta & Greisen 2002, A&A 395, 1077, example 1: three corners, printed to 1e-6 degree."""
    pixels = np.array([(1, 2), (1, 512), (511, 512)], float)
    xi = np.radians(-0.003 * (pixels[:, 0] - 256))
    eta = np.radians(0.003 * (pixels[:, 1] - 257))
    ra_deg, dec_deg = from_plane(xi, eta, 45.83, 63.57)
    assert ra_deg == pytest.approx([47.503264, 47.595581, 44.064419], abs=6e-7)
    assert dec_deg == pytest.approx([62.795111, 64.324332, 64.324332], abs=6e-7)


@pytest.mark.parametrize(("ra0", "dec0"), PLACES)
def test_same_plane_as_astropy_wcs(ra0, dec0):
    from astropy.wcs import WCS

    wcs = WCS(naxis=2)
    wcs.wcs.ctype = ["RA---TAN", "DEC--TAN"]
    wcs.wcs.crval = [ra0, dec0]
    wcs.wcs.cdelt = [1.0, 1.0]  # degrees: pixel coordinates are then ξ and η in degrees
    wcs.wcs.crpix = [0.0, 0.0]
    wcs.wcs.lonpole = 180.0
    grid = np.radians(np.linspace(-2.0, 2.0, 9))
    xi, eta = (axis.ravel() for axis in np.meshgrid(grid, grid))
    ra_deg, dec_deg = from_plane(xi, eta, ra0, dec0)
    theirs = wcs.wcs_pix2world(np.degrees(xi), np.degrees(eta), 1)
    assert np.max(separation_deg(ra_deg, dec_deg, *theirs)) * 3600 < 1e-8
    x, y = np.radians(wcs.wcs_world2pix(ra_deg, dec_deg, 1))
    ours = to_plane(ra_deg, dec_deg, ra0, dec0)
    assert np.allclose([x, y], ours, rtol=0, atol=1e-13)


def test_directions_of_the_axes():
    """One degree east is +ξ, one degree north is +η, both tan(1°)."""
    one = np.tan(np.radians(1.0))
    assert to_plane(1.0, 0.0, 0.0, 0.0) == pytest.approx((one, 0.0), abs=1e-15)
    assert to_plane(0.0, 1.0, 0.0, 0.0) == pytest.approx((0.0, one), abs=1e-15)
    assert to_plane(0.5, 0.0, 359.5, 0.0) == pytest.approx((one, 0.0), abs=1e-15)  # across RA 0
    assert to_plane([90.0, 0.0], 89.0, 0.0, 90.0)[0] == pytest.approx([one, 0.0], abs=1e-15)  # at the pole


def test_far_side_is_nan_without_a_warning():
    """The suite turns warnings into errors, so a warning from erfa would fail here."""
    xi, eta = to_plane([0.0, 89.9, 90.0, 120.0, 180.0, np.nan], 0.0, 0.0, 0.0)
    assert np.isnan(xi).tolist() == np.isnan(eta).tolist() == [False, False, True, True, True, True]
    assert np.isnan(from_plane(np.nan, 0.0, 10.0, 10.0)[0])
    assert np.isnan(separation_deg(np.nan, 0.0, 1.0, 1.0))
    assert np.isnan(position_angle_deg(np.nan, 0.0, 1.0, 1.0))


def test_shapes_broadcast_and_scalars_stay_scalars():
    assert to_plane(np.zeros((3, 1)), np.zeros(4), 0.0, 0.0)[0].shape == (3, 4)
    assert f"{to_plane(0.1, 0.1, 0.0, 0.0)[0]:.6f}" == "0.001745"
    assert to_plane([], [], 0.0, 0.0)[0].shape == (0,)


def test_position_angle_quarters_and_range():
    angles = position_angle_deg(10.0, 0.0, [10.0, 11.0, 10.0, 9.0, 10.0], [1.0, 0.0, -1.0, 0.0, 0.0])
    assert angles == pytest.approx([0.0, 90.0, 180.0, 270.0, 0.0], abs=1e-12)
    assert position_angle_deg(0.0, 0.0, -1e-30, 1.0) == 0.0  # not 360
    assert separation_deg(5.0, 90.0, 77.0, -90.0) == pytest.approx(180.0, abs=1e-12)


@settings(derandomize=True, deadline=None)
@given(
    ra0=ra,
    dec0=dec,
    distance=st.floats(1e-6, 60.0),
    angle=st.floats(0.0, 360.0, exclude_max=True),
)
def test_round_trip_radius_and_direction(ra0, dec0, distance, angle):
    """Radius is tan(separation), direction is the position angle, and back comes the place.

    Separations of 1e-6° and more: under that the direction is only rounding of the coordinates.
    """
    radius = np.tan(np.radians(distance))
    xi, eta = radius * np.sin(np.radians(angle)), radius * np.cos(np.radians(angle))
    ra_deg, dec_deg = from_plane(xi, eta, ra0, dec0)
    assert 0.0 <= ra_deg < 360.0
    assert -90.0 <= dec_deg <= 90.0
    assert separation_deg(ra0, dec0, ra_deg, dec_deg) == pytest.approx(distance, abs=1e-12)
    back = to_plane(ra_deg, dec_deg, ra0, dec0)
    assert back == pytest.approx((xi, eta), abs=1e-14 * (1 + radius**2) * 10)
    turned = position_angle_deg(ra0, dec0, ra_deg, dec_deg) - angle
    assert abs((turned + 180.0) % 360.0 - 180.0) * np.radians(1.0) * radius < 1e-13 * (1 + radius)
