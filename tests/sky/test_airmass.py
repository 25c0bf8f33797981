import numpy as np
import pytest

from guidestar.sky.airmass import airmass, airmass_at, refraction_deg


@pytest.mark.parametrize(("altitude", "expected"), [(30.0, 1.99315), (10.0, 5.58074), (5.0, 10.334), (0.0, 38.7494)])
def test_published_values_of_pickering(altitude, expected):
    """Pickering 2002, as the open library pvlib (`get_relative_airmass`) gives them."""
    assert airmass(altitude) == pytest.approx(expected, abs=0.0005)


def kasten_young(h):
    """Kasten & Young 1989, Applied Optics 28, 4735; 1.99429 at 30° and 5.58604 at 10° as pvlib gives them."""
    return 1.0 / (np.sin(np.radians(h)) + 0.50572 * (h + 6.07995) ** -1.6364)


def test_agrees_with_another_published_formula():
    assert kasten_young(30.0) == pytest.approx(1.99429, rel=1e-5)
    assert kasten_young(10.0) == pytest.approx(5.58604, rel=1e-5)
    high = np.linspace(10.0, 90.0, 801)
    assert airmass(high) == pytest.approx(kasten_young(high), rel=1.5e-3)
    low = np.linspace(0.0, 10.0, 101)
    assert airmass(low) == pytest.approx(kasten_young(low), rel=0.025)


def test_hardie_where_it_holds():
    """SLALIB `sla_AIRMAS` (SUN/67) gives 3.015698990074724 at z = 1.2354 rad. Formulas differ by some 0.1 % there."""
    assert airmass(90.0 - np.degrees(1.2354)) == pytest.approx(3.015698990074724, rel=2e-3)


def test_never_below_one_and_never_falling_with_zenith_distance():
    values = airmass(np.linspace(90.0, -10.0, 1001))
    assert 1.0 <= values.min() < 1.000001
    assert np.all(np.diff(values) >= 0.0)
    assert values[-1] == airmass(0.0)


def test_refraction_of_the_worked_example():
    """Meeus, example 16.a (from memory): a true altitude of 33.20′ is lifted by 24.618′."""
    assert refraction_deg(33.20 / 60.0) * 60.0 == pytest.approx(24.618, abs=0.01)


def test_refraction_is_what_almanacs_take_at_the_horizon():
    """34′ of apparent horizon: a body 34′ below it is seen on it. Formula and convention agree to half an arcminute."""
    lifted = -34.0 / 60.0 + refraction_deg(-34.0 / 60.0)
    assert lifted * 60.0 == pytest.approx(0.0, abs=1.0)
    assert refraction_deg(20.0) * 60.0 == pytest.approx(2.7, abs=0.1)
    assert refraction_deg(90.0) == pytest.approx(0.0, abs=1e-3)
    assert refraction_deg(-40.0) == refraction_deg(-1.0)


def test_airmass_at_a_geometric_altitude_takes_the_air_into_account():
    assert airmass_at(20.0) == airmass(20.0 + refraction_deg(20.0))
    assert airmass_at(20.0) < airmass(20.0)
