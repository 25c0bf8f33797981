"""Proper motion against ERFA, near the poles, and in closed form."""

import erfa
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from guidestar.sky import epoch

MAS_TO_RADIANS = np.radians(1.0 / 3.6e6)
positions = {"ra_deg": st.floats(0.0, 360.0), "dec_deg": st.floats(-90.0, 90.0)}
motions = {"pm_ra": st.floats(-10_400.0, 10_400.0), "pm_dec": st.floats(-10_400.0, 10_400.0)}


def separation_arcsec(ra_1: float, dec_1: float, ra_2: float, dec_2: float) -> float:
    return float(np.degrees(erfa.seps(*np.radians([ra_1, dec_1, ra_2, dec_2]))) * 3600.0)


@pytest.mark.parametrize("years", [-30.0, 16.0, 100.0])
@pytest.mark.parametrize(
    ("ra_deg", "dec_deg", "pm_ra", "pm_dec"),
    [
        (269.452074, 4.693280, -798.8, 10277.3),  # HIP 87937 in Tycho-2
        (10.0, -85.0, 5000.0, 100.0),
        (359.9999, 0.0, 3000.0, -3000.0),
        (200.0, 89.9, -2000.0, 1500.0),
    ],
)
def test_moves_as_erfa_does(ra_deg: float, dec_deg: float, pm_ra: float, pm_dec: float, years: float) -> None:
    # ERFA's starpm wants the motion in right ascension itself, and a parallax: 0.5″ keeps the star's speed far
    # below that of light, so its relativistic terms stay below the tolerance of a milliarcsecond.
    ra, dec = np.radians(ra_deg), np.radians(dec_deg)
    motion = (pm_ra * MAS_TO_RADIANS / np.cos(dec), pm_dec * MAS_TO_RADIANS)
    start, end = (2451545.0, 0.0), (2451545.0, years * 365.25)
    theirs = erfa.starpm(ra, dec, *motion, 0.5, 0.0, *start, *end)[:2]
    ours = epoch.moved(ra_deg, dec_deg, pm_ra, pm_dec, years)
    assert separation_arcsec(*np.degrees(theirs), *ours) < 0.001 * (1.0 + abs(years) / 10.0)


@settings(derandomize=True, deadline=None)
@given(**positions, **motions, years=st.floats(-100.0, 100.0))
@example(ra_deg=40.0, dec_deg=90.0, pm_ra=500.0, pm_dec=0.0, years=30.0)
def test_a_star_moves_by_the_arctangent_of_its_motion(
    ra_deg: float, dec_deg: float, pm_ra: float, pm_dec: float, years: float
) -> None:
    ra_then, dec_then = epoch.moved(ra_deg, dec_deg, pm_ra, pm_dec, years)
    expected = np.degrees(np.arctan(np.hypot(pm_ra, pm_dec) * abs(years) * MAS_TO_RADIANS)) * 3600.0
    assert separation_arcsec(ra_deg, dec_deg, float(ra_then), float(dec_then)) == pytest.approx(expected, abs=1e-6)
    assert 0.0 <= ra_then < 360.0
    assert -90.0 <= dec_then <= 90.0


def test_a_star_beside_the_pole_passes_it_in_a_straight_line() -> None:
    # 1″ south of the pole at RA 0, moving north 2″: it arrives 1″ beyond, at RA 180.
    ra_deg, dec_deg = epoch.moved(0.0, 90.0 - 1.0 / 3600.0, 0.0, 100.0, 20.0)
    assert float(ra_deg) == pytest.approx(180.0)
    assert float(90.0 - dec_deg) * 3600.0 == pytest.approx(1.0, abs=1e-6)


def test_motion_in_right_ascension_beside_the_pole_does_not_blow_up() -> None:
    # 0.1″ from the pole, 3″ to the east: the hypotenuse, where RA + μ/cos δ would go round and round at 0.1″.
    _, dec_deg = epoch.moved(0.0, 90.0 - 0.1 / 3600.0, 100.0, 0.0, 30.0)
    assert float(90.0 - dec_deg) * 3600.0 == pytest.approx(np.hypot(3.0, 0.1), abs=1e-6)


def test_east_is_growing_right_ascension_and_north_growing_declination() -> None:
    ra_deg, dec_deg = epoch.moved(np.array([80.0, 80.0]), np.array([10.0, 10.0]), [100.0, 0.0], [0.0, 100.0], 10.0)
    assert ra_deg[0] > 80.0
    assert ra_deg[1] == pytest.approx(80.0, abs=1e-12)
    assert dec_deg[1] - 10.0 == pytest.approx(1.0 / 3600.0, abs=1e-9)


@settings(derandomize=True, deadline=None)
@given(**positions)
def test_vectors_and_angles_are_inverse(ra_deg: float, dec_deg: float) -> None:
    vectors = epoch.unit_vectors([ra_deg], [dec_deg])
    back_ra, back_dec = epoch.angles_of(vectors)
    assert separation_arcsec(ra_deg, dec_deg, float(back_ra[0]), float(back_dec[0])) < 1e-8
    assert np.linalg.norm(vectors, axis=0) == pytest.approx([1.0])


def test_a_right_ascension_just_below_zero_is_not_360() -> None:
    ra_deg, _ = epoch.angles_of(np.array([[1.0], [-1e-20], [0.0]]))
    assert ra_deg.tolist() == [0.0]


@pytest.mark.parametrize(("angle_deg", "chord"), [(0.0, 0.0), (60.0, 1.0), (180.0, 2.0), (200.0, 2.0), (-1.0, 0.0)])
def test_chords(angle_deg: float, chord: float) -> None:
    assert epoch.chord_of(angle_deg) == pytest.approx(chord)
