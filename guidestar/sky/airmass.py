"""Airmass and refraction by altitude.

Degrees, scalars or arrays; the same shape out. *Geometric* altitude is without the air, *apparent* with it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

HORIZON_REFRACTION_DEG = 34.0 / 60.0
"""Refraction at the horizon, as almanacs take it for risings and settings."""

_LOWEST_DEG = -1.0
"""Below this the formulas are not meant; a body there is under the horizon and airmass does not matter."""


def refraction_deg(altitude_deg: ArrayLike) -> FloatArray:
    """Return how much the air lifts a body at a geometric altitude, degrees.

    Sæmundsson's formula, R′ = 1.02 cot(h + 10.3/(h + 5.11)) (Meeus, Astronomical Algorithms, chapter 16; from memory),
    at 10 °C and 1010 hPa: good to some 0.1′. Below −1° the value at −1° is returned.
    """
    altitude = np.maximum(np.asarray(altitude_deg, dtype=np.float64), _LOWEST_DEG)
    arcmin = 1.02 / np.tan(np.radians(altitude + 10.3 / (altitude + 5.11)))
    return np.asarray(np.maximum(arcmin, 0.0) / 60.0)


def airmass(apparent_altitude_deg: ArrayLike) -> FloatArray:
    """Return the airmass at an apparent altitude: 1 at the zenith, about 38 at the horizon.

    Pickering 2002, DIO 12, 3: 1/sin(h + 244/(165 + 47 h^1.1)), degrees. Below the horizon that of the
    horizon is returned. Never below 1.
    """
    altitude = np.clip(np.asarray(apparent_altitude_deg, dtype=np.float64), 0.0, 90.0)
    bent = altitude + 244.0 / (165.0 + 47.0 * altitude**1.1)
    return np.asarray(np.maximum(1.0 / np.sin(np.radians(bent)), 1.0))


def airmass_at(altitude_deg: ArrayLike) -> FloatArray:
    """Return the airmass at a geometric altitude: that of the altitude as the air lifts it."""
    altitude = np.asarray(altitude_deg, dtype=np.float64)
    return airmass(altitude + refraction_deg(altitude))
