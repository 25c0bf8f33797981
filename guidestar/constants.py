"""Numbers that are not the user's, each with its source."""

from __future__ import annotations

import math
from typing import Final

ARCSEC_PER_RADIAN: Final = math.degrees(1.0) * 3600.0
"""206264.806…, by definition."""

ARCMIN_PER_RADIAN: Final = math.degrees(1.0) * 60.0
"""3437.7467…, by definition."""

FWHM_PER_SIGMA: Final = 2.0 * math.sqrt(2.0 * math.log(2.0))
"""2.3548…, full width at half maximum of a Gaussian over its standard deviation, by definition."""

GAIA_G_ZERO_POINT_MAG: Final = 25.6873668671
"""G of a star that gives Gaia one photo-electron a second (Riello et al. 2021, A&A 649, A3; Vega system)."""

GAIA_PUPIL_M2: Final = 0.7278
"""Collecting area of one Gaia telescope, m² (value of the mission's own spectrum calibration code)."""

GAIA_MEAN_EFFICIENCY: Final = 0.63
"""Gaia's mean optics × detector efficiency over 400–900 nm: its own 2.588e10 e⁻/s/m² at G = 0 over the
4.09e10 photons/s/m² that such a star (Vega's spectrum) sends in that range. A star's colour changes it by some
per cent."""

G0_RATE_E_PER_S_M2: Final[float] = 10.0 ** (0.4 * GAIA_G_ZERO_POINT_MAG) / GAIA_PUPIL_M2
"""2.5878e10 photo-electrons/s/m² at G = 0 behind Gaia's own optics and detector, from the two above:
electrons, not photons above the air; divide by `GAIA_MEAN_EFFICIENCY` before applying another efficiency."""

G_MEAN_WAVELENGTH_UM: Final = 0.62
"""Mean wavelength of the G band, µm (from memory; star size and image motion use it, the star's light does not)."""

SEEING_AIRMASS_POWER: Final = 0.6
"""Seeing FWHM grows as airmass^0.6 (Kolmogorov turbulence; so used in LSST SMTN-002)."""
