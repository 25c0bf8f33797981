"""What the kernels take of a rig, as plain numbers, and how their arrays are laid out."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.kernels import fixed
from guidestar.angles.kernels_light import Beam

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

Vector = tuple[float, float, float]
Frame = tuple[Vector, Vector, Vector]
"""Unit vectors to a target, and east and north there."""

USABLE, FLIP_SAFE, SURE, MEAN, BLIND, EXPECTED = range(6)
"""Columns of the result, in the order of `guidestar.maps.result.COLUMNS`."""

INNER, OUTER, CORE_INNER, CORE_OUTER, TOUCH_OUTER, IN_OUTER, OUT_OUTER = fixed(*range(7))
"""Kinds of runs in `Field.places`: of the field, of what is inside wherever the prism is, of what is inside somewhere,
and of the field moved by −δ and δ."""

X, Y, NEED = range(3)
"""Rows of the stars near a target: place in the plane, mm east and north, and needed throughput."""


class Field(NamedTuple):
    """What the rig accepts, as plain numbers.

    `planes` and `arcs` (an `arc_table`) of the guide field; `core_arcs` of the part that stays inside wherever the
    prism is within `accuracy_mm` (δ), `touch_arcs` of all that comes inside somewhere; `places` (7, …) their runs, on a
    plane of squares, `squares_a_mm` to the mm. A star is *plain* if it needs no more than `plain_need` of throughput:
    it then has its light anywhere on the sensor, at any radius of the ring from `inner_mm` to `outer_mm`.
    """

    focal_mm: float
    side: float
    mirrored: bool
    min_stars: int
    accuracy_mm: float
    inner_mm: float
    outer_mm: float
    plain_need: float
    squares_a_mm: float
    planes: FloatArray
    arcs: FloatArray
    core_arcs: FloatArray
    touch_arcs: FloatArray
    places: NDArray[np.uint16]
    beam: Beam


class Wish(NamedTuple):
    """Which columns to work out."""

    coverage: bool
    sure: bool
    expected: bool
