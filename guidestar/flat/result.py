"""What a flat frame tells, as plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Verdict = Literal["shadow", "possible", "other", "none"]
"""A prism's shadow; a faint or thin one; one-sided darkening of another shape; nothing one-sided."""


@dataclass(frozen=True)
class Body:
    """What a rig says of the prism, all mm in the plane of its entrance face.

    `scale` is that plane's size over the focal plane's; `beam_mm` the radius of one point's light there and `hole` the
    dark middle of it over its size; `width_mm` of prism or holder, whichever is wider; `height_mm` of the face,
    radially; `offset_mm` of its middle from the axis, as the rig has it.
    """

    scale: float
    beam_mm: float
    hole: float
    width_mm: float
    height_mm: float
    offset_mm: float


@dataclass(frozen=True)
class Sensor:
    """The main camera's sensor: what a frame of it should look like, and what stands in its light."""

    width_mm: float
    height_mm: float
    pixel_um: float
    side_deg: float
    body: Body


@dataclass(frozen=True)
class FlatResult:
    """What was found in a flat.

    `place` is where in the displayed picture the light is lost ("top", "bottom left"; "" for nothing). `depth` is the
    largest loss at any point, 0 … 1; `width` how much of the frame's longer side the shadow covers along its edge,
    `reach` how far in it goes, both where it is at least half as deep, as shares of the longer side. `confidence` is
    the share of the darkness there that the shape explains, lowered where few cells bear it out. `draw_out_mm`,
    `width_mm` and `offset_mm` (the depth at which the prism seems to stand) need a rig, and a shadow of its prism;
    None otherwise. `fitted` is (rows, columns), the loss of the model on the grid of cells, row 0 on top; `measured`
    the loss in the data against the fitted falloff.
    """

    verdict: Verdict
    place: str
    depth: float
    width: float
    reach: float
    confidence: float
    draw_out_mm: float | None
    width_mm: float | None
    offset_mm: float | None
    colour: bool
    width_px: int
    height_px: int
    measured: NDArray[np.float64]
    fitted: NDArray[np.float64]
