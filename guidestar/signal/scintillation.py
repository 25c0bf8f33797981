"""Scintillation: how much the air makes a star's brightness flicker. It does not move the centroid.

Two published laws, stated apart from the SNR, which it does not enter. Mind that one is an rms with the
aperture in cm, the other a variance with the aperture in m.
"""

from __future__ import annotations

import math

SCALE_HEIGHT_M = 8000.0
"""Height of the turbulent air in both laws, m."""

MEDIAN_SITE = 1.5
"""C_Y of Osborn et al. 2015, median of the sites studied; 1 brings the variance close to Young's law."""


def scintillation_young(aperture_mm: float, airmass: float, exposure_s: float, elevation_m: float = 0.0) -> float:
    """Return the rms relative flicker after Young 1967 (as given by Dravins et al. 1998).

    0.09 D^(−2/3) X^1.75 exp(−h/8000 m) (2t)^(−1/2), D in cm. Aperture in mm > 0, airmass X ≥ 1, exposure > 0
    s.
    """
    shape = math.pow(aperture_mm / 10.0, -2.0 / 3.0) * math.pow(airmass, 1.75)
    return 0.09 * shape * math.exp(-elevation_m / SCALE_HEIGHT_M) / math.sqrt(2.0 * exposure_s)


def scintillation_osborn(
    aperture_mm: float, airmass: float, exposure_s: float, elevation_m: float = 0.0, site: float = MEDIAN_SITE
) -> float:
    """Return the rms relative flicker after Osborn et al. 2015, MNRAS 452, 1707, eq. 7 (its square root).

    √[10e-6 C_Y² D^(−4/3) t⁻¹ (cos z)⁻³ exp(−2h/8000 m)], D in m; 1/cos z is taken as the airmass, C_Y is
    `site`.
    """
    shape = math.pow(aperture_mm / 1000.0, -4.0 / 3.0) * math.pow(airmass, 3.0) / exposure_s
    return math.sqrt(10e-6 * site**2 * shape * math.exp(-2.0 * elevation_m / SCALE_HEIGHT_M))
