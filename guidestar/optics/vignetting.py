"""Loss of light towards the edge of the telescope's field, from the diameter of its useful image circle."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def vignetting(radius_mm: ArrayLike, image_circle_mm: float | None, fall_mm: float) -> FloatArray:
    """Return V(ρ), the share of a star's light that the telescope's tube passes, 0 … 1.

    Parameters
    ----------
    radius_mm : array_like
        Distance ρ ≥ 0 of the focal-plane point from the axis, mm.
    image_circle_mm : float or None
        Diameter of the circle with useful light, > 0; None or infinite: no loss anywhere.
    fall_mm : float
        Width ≥ 0 over which the light falls from 1 to 0 outside the circle; 0: at once.

    Returns
    -------
    ndarray
        1 for ρ ≤ image_circle/2, then falling in a straight line to 0 at image_circle/2 + `fall_mm`.

    Notes
    -----
    A model, not a measurement. Whatever cuts the beam stands at the prism's distance or farther ahead, where
    the beam is at least as wide as the prism's footprint, so that diameter is the narrowest fall a tube can
    give; real ones fall more gently and may begin inside the circle. V never rises with ρ and depends on ρ
    alone: turning the camera does not change a star's V.
    """
    radius = np.asarray(radius_mm, dtype=np.float64)
    if image_circle_mm is None or math.isinf(image_circle_mm):
        return np.ones_like(radius)
    excess = radius - image_circle_mm / 2
    if fall_mm <= 0.0:
        return np.asarray(np.where(excess <= 0.0, 1.0, 0.0))
    # Cut before it is divided: a fall next to nothing would overflow.
    return np.asarray(1.0 - np.clip(excess, 0.0, fall_mm) / fall_mm)
