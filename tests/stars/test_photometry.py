"""Derived G and V against published relations and measured medians."""

import numpy as np
import pytest

from guidestar.stars import photometry
from guidestar.stars.flags import StarFlag

NAN = np.nan


def derive_one(bt_mag: float, vt_mag: float, hp_given: bool = False) -> tuple[float, float, StarFlag]:
    derived = photometry.derive(np.array([bt_mag]), np.array([vt_mag]), np.array([hp_given]))
    return float(derived.g_mag[0]), float(derived.v_mag[0]), StarFlag(int(derived.flags[0]))


@pytest.mark.parametrize(
    ("bt_minus_vt", "g_minus_vt"),
    # The two Gaia DR3 relations composed by a separate script.
    [
        (0.00, -0.0114), (0.25, -0.0608), (0.50, -0.1398), (0.75, -0.2270), (1.00, -0.3199), (1.25, -0.4211),
        (1.50, -0.5363), (1.70, -0.6472), (1.90, -0.7960),
    ],
)  # fmt: skip
def test_composition_of_the_gaia_dr3_relations(bt_minus_vt: float, g_minus_vt: float) -> None:
    assert photometry.g_minus_vt(bt_minus_vt) == pytest.approx(g_minus_vt, abs=2e-4)


@pytest.mark.parametrize(
    ("bt_minus_vt", "median"),
    # Median G − VT of 421,432 pairs of Tycho-2 and Gaia DR3 stars within 1″, 6 < VT < 9.
    [
        (0.1, -0.0194), (0.3, -0.0778), (0.5, -0.1534), (0.7, -0.2113), (0.9, -0.2994), (1.1, -0.3527),
        (1.3, -0.4242), (1.5, -0.5227), (1.7, -0.6501),
    ],
)  # fmt: skip
def test_measured_medians_of_real_stars(bt_minus_vt: float, median: float) -> None:
    assert photometry.g_minus_vt(bt_minus_vt) == pytest.approx(median, abs=0.03)


def test_redder_stars_are_always_brighter_in_g() -> None:
    assert np.all(np.diff(photometry.g_minus_vt(np.linspace(0.0, photometry.COLOUR_RANGE_MAG[1], 500))) < 0.0)


def test_v_of_tyc_1_13_1_by_the_readme() -> None:
    _, v_mag, flags = derive_one(10.488, 8.670)
    assert v_mag == pytest.approx(8.50638, abs=1e-9)
    assert flags == StarFlag.DERIVED_G


def test_colours_outside_the_range_take_the_nearer_end_and_are_flagged() -> None:
    low, high = photometry.COLOUR_RANGE_MAG
    for colour, end in ((3.0, high), (-1.0, low)):
        g_mag, _, flags = derive_one(10.0 + colour, 10.0)
        assert g_mag == pytest.approx(derive_one(10.0 + end, 10.0)[0])
        assert flags == StarFlag.DERIVED_G | StarFlag.COLOUR_RANGE


def test_the_ends_of_the_range_are_inside() -> None:
    derived = photometry.derive(np.array([-0.2, 2.05]), np.zeros(2), np.zeros(2, dtype=bool))
    assert not np.any(derived.flags & StarFlag.COLOUR_RANGE)


def test_a_missing_bt_means_a_colour_of_0_8() -> None:
    g_mag, v_mag, flags = derive_one(NAN, 9.0)
    assert (g_mag, v_mag) == pytest.approx(derive_one(9.8, 9.0)[:2])
    assert flags == StarFlag.DERIVED_G | StarFlag.COLOUR_ASSUMED


def test_a_missing_vt_is_0_8_brighter_than_bt() -> None:
    g_mag, v_mag, flags = derive_one(9.8, NAN)
    assert g_mag == pytest.approx(derive_one(9.8, 9.0)[0])
    assert v_mag == pytest.approx(derive_one(9.8, 9.0)[1])
    assert flags == StarFlag.DERIVED_G | StarFlag.COLOUR_ASSUMED


def test_hp_is_taken_as_vt_and_flagged() -> None:
    g_mag, _, flags = derive_one(NAN, 7.0, hp_given=True)
    assert g_mag == pytest.approx(derive_one(7.8, 7.0)[0])
    assert flags == StarFlag.DERIVED_G | StarFlag.COLOUR_ASSUMED | StarFlag.HP_MAGNITUDE
