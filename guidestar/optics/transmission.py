"""Transmission of the prism: the lit share T of a star's beam, and what its body takes from the main sensor.

T is geometry alone, without the optics' or the glass's own transmission. It is defined at every focal-plane
point: a star whose chief ray misses the prism still sends part of its light.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.optics.footprint import Footprint, Rectangle, share_in_rectangle
from guidestar.optics.vignetting import vignetting

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class PrismFace:
    """The prism's entrance face, mm: width along the tangent, height radially, centred on (0, offset)."""

    width_mm: float
    height_mm: float
    offset_mm: float

    @property
    def rectangle(self) -> Rectangle:
        """The face in the entrance plane."""
        half_x, half_y = self.width_mm / 2, self.height_mm / 2
        return Rectangle(-half_x, half_x, self.offset_mm - half_y, self.offset_mm + half_y)


def transmission(x_mm: ArrayLike, y_mm: ArrayLike, footprint: Footprint, face: PrismFace) -> FloatArray:
    """Return T: the share of the annular footprint that lands on the prism's face, 0 … 1.

    Parameters
    ----------
    x_mm, y_mm : array_like
        Focal-plane point(s) in the rig frame (x tangential, y radial), mm, broadcast together.
    footprint : Footprint
        Of the telescope's beam in the plane of the face.
    face : PrismFace

    Returns
    -------
    ndarray
        [A(R) − A(εR)] / [π R² (1 − ε²)], A(q) the exact area that the disc of radius q about the footprint's
        centre shares with the face. With the face in the focal plane (R = 0): 1 inside, 0 outside, edge ½,
        corner ¼. Behind a central obstruction T may be larger beside the face's centre than at it: its level
        sets can be rings.
    """
    return share_in_rectangle(x_mm, y_mm, footprint, face.rectangle)


def throughput(
    x_mm: ArrayLike, y_mm: ArrayLike, footprint: Footprint, face: PrismFace, image_circle_mm: float | None
) -> FloatArray:
    """Return τ = T·V, the share of a star's light that telescope tube and prism both let through, 0 … 1.

    V is `vignetting` at the point's radius, falling over one beam diameter. T and V are multiplied as if
    independent: which side of the beam the tube cuts is not known.
    """
    x, y = np.asarray(x_mm, dtype=np.float64), np.asarray(y_mm, dtype=np.float64)
    lit = transmission(x, y, footprint, face)
    if image_circle_mm is None or math.isinf(image_circle_mm):
        return lit
    return lit * vignetting(np.hypot(x, y), image_circle_mm, footprint.diameter_mm)


def shadow_share(
    x_mm: ArrayLike, y_mm: ArrayLike, footprint: Footprint, face: PrismFace, holder_width_mm: float
) -> FloatArray:
    """Return the share of a star's light that prism and holder take from a main-sensor point, 0 … 1.

    The body is taken as the strip |x| ≤ max(width, `holder_width_mm`)/2 from the face's inner edge outward
    without end, in the plane of the entrance face. Points in the rig frame, mm, broadcast together.
    """
    half = max(face.width_mm, holder_width_mm) / 2
    body = Rectangle(-half, half, face.offset_mm - face.height_mm / 2, math.inf)
    return share_in_rectangle(x_mm, y_mm, footprint, body)
