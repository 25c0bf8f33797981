"""Star light as electrons: from Gaia's own electron rate to a telescope and camera of one's own."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.constants import G0_RATE_E_PER_S_M2, GAIA_MEAN_EFFICIENCY
from guidestar.signal.setup import GuideSetup

FloatArray = NDArray[np.float64]


def g0_rate_e_per_s(setup: GuideSetup) -> float:
    """Return the electrons/s of a G = 0 source above the air, full throughput, no extinction.

    2.5878e10 e⁻/s/m² × (QE/0.63) × collecting area × transmission. The first figure already holds Gaia's
    efficiency, hence the division by its mean; a camera whose efficiency runs differently with colour is off
    by some per cent, more for very red or very blue stars.
    """
    efficiency = setup.quantum_efficiency / GAIA_MEAN_EFFICIENCY
    return G0_RATE_E_PER_S_M2 * efficiency * setup.collecting_area_m2 * setup.transmission


def star_rate_e_per_s(g_mag: ArrayLike, setup: GuideSetup) -> FloatArray:
    """Return the electrons/s of stars of magnitude G at throughput 1, extinction at the airmass taken off."""
    dimmed = np.asarray(g_mag, dtype=np.float64) + setup.extinction_mag * setup.airmass
    return np.asarray(g0_rate_e_per_s(setup) * 10.0 ** (-0.4 * dimmed))


def star_electrons(g_mag: ArrayLike, throughput: ArrayLike, setup: GuideSetup) -> FloatArray:
    """Return a star's electrons in one exposure; `throughput` τ = T·V, 0 … 1, broadcast with `g_mag`."""
    return np.asarray(star_rate_e_per_s(g_mag, setup) * setup.exposure_s * np.asarray(throughput, dtype=np.float64))


def magnitude_of(electrons: ArrayLike, throughput: ArrayLike, setup: GuideSetup) -> FloatArray:
    """Return the G magnitude of a star that gives `electrons` in one exposure: the inverse of `star_electrons`.

    −inf where the throughput is 0 (no star, however bright, gives any), +inf where no electrons are asked
    for.
    """
    wanted, tau = np.broadcast_arrays(np.asarray(electrons, np.float64), np.asarray(throughput, np.float64))
    zero_point = g0_rate_e_per_s(setup) * setup.exposure_s
    with np.errstate(divide="ignore", invalid="ignore"):
        g_mag = -2.5 * np.log10(wanted / (tau * zero_point)) - setup.extinction_mag * setup.airmass
    return np.asarray(np.where(tau > 0.0, g_mag, np.where(np.isnan(tau), np.nan, -np.inf)))
