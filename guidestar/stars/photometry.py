"""Magnitudes worked out from Tycho's BT and VT.

G: the two Gaia (E)DR3 relations G − VT and G − BT as polynomials in BP − RP (Gaia DR3 documentation, section
5.5.1, Table 5.9; ranges in Riello et al. 2021, A&A 649, A3, Table C.1). Their difference is BT − VT, which grows
steadily with BP − RP from −0.30 to 2.05, so BT − VT gives BP − RP and that gives G − VT. Scatter about 0.06 mag.

V: V = VT − 0.090 (BT − VT) (Tycho-2 ReadMe, CDS I/259, Note 7; approximate).
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.polynomial.polynomial import polyval
from numpy.typing import ArrayLike, NDArray

from guidestar.stars.flags import StarFlag, flag_where

FloatArray = NDArray[np.float64]

G_MINUS_VT: Final = (-0.01077, -0.0682, -0.2387, 0.02342)
"""Coefficients of G − VT in powers of BP − RP, valid for −0.35 < BP − RP < 4.0."""

G_MINUS_BT: Final = (-0.004288, -0.8547, 0.1244, -0.9085, 0.4843, -0.06814)
"""Coefficients of G − BT in powers of BP − RP, valid for −0.3 < BP − RP < 3.0."""

COLOUR_RANGE_MAG: Final = (-0.2, 2.05)
"""BT − VT over which the composition is used; colours outside are clamped and flagged."""

ASSUMED_COLOUR_MAG: Final = 0.8
"""BT − VT taken where one of the two magnitudes is missing: about the mean of the faint stars (our choice)."""

V_COLOUR_TERM: Final = -0.090

_BP_MINUS_RP: Final = np.linspace(-0.3, 2.2, 25001)


class Derived(NamedTuple):
    """Magnitudes worked out for n stars, shape (n,) each, with the bits of `StarFlag` that say how."""

    g_mag: FloatArray
    v_mag: FloatArray
    flags: NDArray[np.uint16]


def g_minus_vt(bt_minus_vt: ArrayLike) -> FloatArray:
    """Return G − VT for colours BT − VT, shape (n,); outside `COLOUR_RANGE_MAG` that of the nearer end."""
    colour_on_grid = polyval(_BP_MINUS_RP, G_MINUS_VT) - polyval(_BP_MINUS_RP, G_MINUS_BT)
    colour = np.clip(np.asarray(bt_minus_vt, dtype=np.float64), *COLOUR_RANGE_MAG)
    bp_minus_rp = np.interp(colour, colour_on_grid, _BP_MINUS_RP)
    return np.asarray(polyval(bp_minus_rp, G_MINUS_VT), dtype=np.float64)


def derive(bt_mag: FloatArray, vt_mag: FloatArray, hp_given: NDArray[np.bool_]) -> Derived:
    """Work out G and V.

    Parameters
    ----------
    bt_mag, vt_mag : ndarray, shape (n,)
        Magnitudes, NaN where missing (never both). Where `hp_given`, `vt_mag` holds Hp.
    hp_given : ndarray of bool, shape (n,)
        Hp stands in for VT.

    Returns
    -------
    Derived
        G and V, unrounded, and the bits `derived_g`, `colour_range`, `colour_assumed`, `hp_magnitude`.
    """
    assumed = np.isnan(bt_mag) | np.isnan(vt_mag)
    colour = np.where(assumed, ASSUMED_COLOUR_MAG, bt_mag - vt_mag)
    vt_or_guess = np.where(np.isnan(vt_mag), bt_mag - ASSUMED_COLOUR_MAG, vt_mag)
    low, high = COLOUR_RANGE_MAG
    flags = (
        flag_where(np.ones(colour.shape, dtype=bool), StarFlag.DERIVED_G)
        | flag_where((colour < low) | (colour > high), StarFlag.COLOUR_RANGE)
        | flag_where(assumed, StarFlag.COLOUR_ASSUMED)
        | flag_where(hp_given, StarFlag.HP_MAGNITUDE)
    )
    return Derived(vt_or_guess + g_minus_vt(colour), vt_or_guess + V_COLOUR_TERM * colour, flags)
