"""What can darken a flat: the telescope's own falloff, a straight-edged body from one side, a round opening off-centre.

Places are (right, up) in the displayed picture, in units of half its longer side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.optics.footprint import Footprint, Rectangle, share_in_rectangle
from guidestar.optics.window import Stop, stop_share

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

DARKEST = 0.97
"""A loss is not told from a larger one: keeps logarithms finite."""


def falloff_basis(right: FloatArray, up: FloatArray, centre: Sequence[float] = (0.0, 0.0)) -> FloatArray:
    """Return the (n, 7) terms whose sum is the logarithm of a smooth flat: falloff about a centre, and a gradient.

    Even powers of the radius up to the eighth follow cos⁴ and a soft round edge; none of them can follow the straight
    edge of a prism.
    """
    square = (right - centre[0]) ** 2 + (up - centre[1]) ** 2
    terms = (np.ones_like(right), right, up, square, square**2, square**3, square**4)
    return np.column_stack(terms)


@dataclass(frozen=True)
class Strip:
    """The shadow of a body with a straight inner edge, reaching in from the rim, behind a round beam.

    `turn_deg` of its direction from up towards left; `edge` how far from the middle the inner edge stands, along that
    direction; `aside` of its middle from there; `half_width` of the body; `blur` the beam's radius; `hole` the dark
    middle of the beam over its size.
    """

    turn_deg: float
    edge: float
    aside: float
    half_width: float
    blur: float
    hole: float = 0.0

    def loss(self, right: FloatArray, up: FloatArray) -> FloatArray:
        """Return the share of light lost at places, 0 … `DARKEST`."""
        turn = math.radians(self.turn_deg)
        x = -right * math.cos(turn) - up * math.sin(turn)
        y = -right * math.sin(turn) + up * math.cos(turn)
        body = Rectangle(self.aside - self.half_width, self.aside + self.half_width, self.edge, math.inf)
        touched = (y > self.edge - self.blur) & (np.abs(x - self.aside) < self.half_width + self.blur)
        return _only_where(
            touched, share_in_rectangle(x[touched], y[touched], Footprint(self.blur, self.hole, 1.0), body)
        )


@dataclass(frozen=True)
class RoundOpening:
    """A round opening off the middle: light within `radius` of (`right`, `up`), its rim smeared over ±`blur`."""

    right: float
    up: float
    radius: float
    blur: float

    def loss(self, right: FloatArray, up: FloatArray) -> FloatArray:
        """Return the share of light lost at places, 0 … `DARKEST`."""
        distance = np.hypot(right - self.right, up - self.up)
        touched = distance > self.radius - self.blur
        return _only_where(touched, 1.0 - stop_share(distance[touched], Stop(self.radius, 1.0, self.blur), 0.0))


def _only_where(touched: BoolArray, lost: FloatArray) -> FloatArray:
    """Return the loss at all places from that at the touched ones, nowhere more than `DARKEST`."""
    everywhere = np.zeros(touched.shape)
    everywhere[touched] = np.minimum(lost, DARKEST)
    return everywhere


@dataclass(frozen=True)
class KnownBody:
    """What a rig says of its prism, in units of half the frame's longer side, as it shows in the focal plane."""

    half_width: float
    blur: float
    hole: float

    def ranges(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return the half widths and blurs that count as this prism's; a holder may be wider than the file says."""
        half_width, blur = self.half_width, self.blur
        return (0.85 * half_width, 1.8 * half_width), (0.8 * blur, 1.25 * blur)
