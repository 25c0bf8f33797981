"""Scintillation: how much the air makes a star's brightness flicker. It does not move the centroid.

Stated apart from the SNR, which it does not enter.
"""

from __future__ import annotations

import math

SCALE_HEIGHT_M = 8000.0
"""Height of the turbulent air in the law, m."""

MEDIAN_SITE = 1.5
"""C_Y of Osborn et al. 2015, median of the sites studied; 1 brings the variance close to Young's law."""


def scintillation_osborn(
    aperture_mm: float, airmass: float, exposure_s: float, elevation_m: float = 0.0, site: float = MEDIAN_SITE
) -> float:
    """Return the rms relative flicker after Osborn et al. 2015, MNRAS 452, 1707, eq. 7 (its square root).

    √[10e-6 C_Y² D^(−4/3) t⁻¹ (cos z)⁻³ exp(−2h/8000 m)], D in m: a variance, other than Young's law, which is an rms
    and takes cm. 1/cos z is taken as the airmass ≥ 1, C_Y is `site`; aperture and exposure above 0.
    """
    shape = math.pow(aperture_mm / 1000.0, -4.0 / 3.0) * math.pow(airmass, 3.0) / exposure_s
    return math.sqrt(10e-6 * site**2 * shape * math.exp(-2.0 * elevation_m / SCALE_HEIGHT_M))
