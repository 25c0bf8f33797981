import numpy as np
import pytest

from guidestar.sky import moonlight as m

K = 0.172
"""Extinction at Krisciunas & Schaefer's site, V magnitudes an airmass."""


def test_published_worked_value():
    """The documentation of the open library specsim: Moon alone, z 20°, Moon z 70°, 50° apart, phase 45°, k 0.15."""
    lit = m.moonlight_nanolamberts(70.0, 20.0, 50.0, 45.0, 0.15)
    assert m.to_magnitudes(lit) == pytest.approx(19.855, abs=5e-4)


@pytest.mark.parametrize(
    ("phase", "moon_z", "z", "apart", "expected_nl", "change"),
    [
        (0.0, 45.0, 45.0, 60.0, 1588.9, -3.038),
        (30.0, 45.0, 45.0, 60.0, 772.3, -2.323),
        (90.0, 45.0, 45.0, 60.0, 144.6, -0.952),
        (60.0, 60.0, 0.0, 60.0, 247.0, -1.539),
    ],
)
def test_values_of_the_equations(phase, moon_z, z, apart, expected_nl, change):
    """Worked out apart from the equations of Krisciunas & Schaefer 1991, dark zenith 79 nL, k 0.172."""
    lit = m.moonlight_nanolamberts(90.0 - z, 90.0 - moon_z, apart, phase, K)
    assert lit == pytest.approx(expected_nl, rel=2e-4)
    dark = m.dark_nanolamberts(m.to_magnitudes(79.0), 90.0 - z, K)
    assert m.to_magnitudes(dark + lit) - m.to_magnitudes(dark) == pytest.approx(change, abs=1e-3)


def test_units_go_there_and_back():
    """79 nL are V 21.587 (Garstang's conversion)."""
    assert m.to_magnitudes(79.0) == pytest.approx(21.587, abs=1e-3)
    values = np.linspace(16.0, 22.0, 13)
    assert m.to_magnitudes(m.to_nanolamberts(values)) == pytest.approx(values, abs=1e-12)


@pytest.mark.parametrize(("z", "expected"), [(60.0, 1.8898), (70.0, 2.5624), (85.0, 4.5984), (90.0, 5.0)])
def test_scattering_airmass(z, expected):
    assert m.scattering_airmass(90.0 - z) == pytest.approx(expected, abs=5e-5)


def test_dark_sky_is_the_given_one_at_the_zenith_and_brighter_lower_down():
    assert m.to_magnitudes(m.dark_nanolamberts(21.3, 90.0, K)) == pytest.approx(21.3, abs=1e-9)
    heights = np.linspace(90.0, 20.0, 71)
    assert np.all(np.diff(m.to_magnitudes(m.dark_nanolamberts(21.3, heights, K))) < 0.0)


def test_no_light_from_a_moon_below_the_horizon():
    assert m.moonlight_nanolamberts(60.0, np.array([-0.1, -30.0]), 90.0, 0.0, K) == pytest.approx(0.0)


def test_more_light_from_a_fuller_and_from_a_nearer_moon():
    phases = m.moonlight_nanolamberts(60.0, 40.0, 60.0, np.linspace(0.0, 150.0, 16), K)
    assert np.all(np.diff(phases) < 0.0)
    near = m.moonlight_nanolamberts(60.0, 40.0, np.linspace(10.0, 90.0, 17), 30.0, K)
    assert np.all(np.diff(near) < 0.0)


def test_phase_angle_of_the_worked_example():
    """Meeus, example 48.a: Moon 134.6885°, +13.7684°, 368 410 km; Sun 20.6579°, +8.6964°, 149 971 520 km.

    i = 69.0756° and so k = 0.679 (read in an open port of the book's algorithms, which quotes the example).
    """
    from guidestar.sky.plane import separation_deg

    elongation = separation_deg(134.6885, 13.7684, 20.6579, 8.6964)
    phase = m.phase_angle_deg(elongation, 149971520.0, 368410.0)
    assert phase == pytest.approx(69.0756, abs=1e-3)
    assert (1 + np.cos(np.radians(phase))) / 2 == pytest.approx(0.6786, abs=1e-4)
