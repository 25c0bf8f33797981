"""The panels of a mosaic on the sky.

The grid lies in the tangent plane about the mosaic's centre. Columns run along the picture's left-right direction and
rows along its up-down direction at the grid's angle γ (position angle of up at the mosaic's centre): γ = φ where the
grid turns with the camera. Neighbours are a frame's width or height apart, less the overlap.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.errors import InputError
from guidestar.rig import Rig
from guidestar.sky import plane

FloatArray = NDArray[np.float64]

MOST_PANELS: Final = 100
USUAL_OVERLAP_PERCENT: Final = 10.0
"""Overlap where none is given (common practice, no source)."""

_WIDEST_DEG: Final = 45.0
"""A plane about the centre stands for the sky no farther than this: there it is stretched by 1/cos² = 2."""


@dataclass(frozen=True)
class Grid:
    """A grid of panels about a place (ICRS degrees); `pitch_mm` between neighbours, along width and height."""

    ra_deg: float
    dec_deg: float
    columns: int
    rows: int
    overlap_percent: float
    pitch_mm: tuple[float, float]
    focal_length_mm: float
    mirrored: bool

    def offsets_mm(self) -> FloatArray:
        """Return each panel's centre from the mosaic's, right and up in the picture, row by row: (panels, 2)."""
        right = (np.arange(self.columns) - (self.columns - 1) / 2) * self.pitch_mm[0]
        up = ((self.rows - 1) / 2 - np.arange(self.rows)) * self.pitch_mm[1]
        return np.column_stack((np.tile(right, self.rows), np.repeat(up, self.columns)))

    def sky(self, right_mm: FloatArray, up_mm: FloatArray, angle_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return right ascension and declination, degrees, of places in the grid turned to an angle; broadcast."""
        phi = np.radians(angle_deg)
        left = right_mm if self.mirrored else -right_mm
        east = up_mm * np.sin(phi) + left * np.cos(phi)
        north = up_mm * np.cos(phi) - left * np.sin(phi)
        return plane.from_plane(east / self.focal_length_mm, north / self.focal_length_mm, self.ra_deg, self.dec_deg)

    def leaning_deg(self, angle_deg: float) -> FloatArray:
        """Return how far each panel's picture leans against the grid at its place: degrees, −180 to 180, (panels,).

        For a camera at the grid's own angle against north at the panel. The grid's upward direction there has the
        position angle of the way from the panel's centre to a place a little further up in the plane, or of the way
        from one a little further down: both, so that the plane's curvature cancels.
        """
        right, up = self.offsets_mm().T
        angle, step = np.full(len(right), angle_deg), self.pitch_mm[1] * 1e-4
        middle = self.sky(right, up, angle)
        ahead = plane.position_angle_deg(*middle, *self.sky(right, up + step, angle))
        back = plane.position_angle_deg(*middle, *self.sky(right, up - step, angle)) + 180.0
        grid_up = ahead + _signed(back - ahead) / 2
        return _signed(angle_deg - grid_up)


def _signed(angle_deg: FloatArray) -> FloatArray:
    return np.asarray(np.mod(angle_deg + 180.0, 360.0) - 180.0)


def grid_of(rig: Rig, ra_deg: float, dec_deg: float, panels: str, overlap_percent: float | None) -> Grid:
    """Return the grid that "COLUMNSxROWS" and an overlap mean for a rig's frames.

    Raises
    ------
    InputError
        Unreadable or too many panels, an overlap outside 0 to below 100, a mosaic wider than a plane can hold.
    """
    columns, rows = _counts(panels)
    overlap = USUAL_OVERLAP_PERCENT if overlap_percent is None else overlap_percent
    if not 0 <= overlap <= 90:
        raise InputError(
            f"--overlap {overlap:g}: neighbouring panels share from 0 to 90 per cent of a frame; "
            f"{USUAL_OVERLAP_PERCENT:g} is usual."
        )
    keep = 1 - overlap / 100
    pitch = (rig.camera.width_mm * keep, rig.camera.height_mm * keep)
    grid = Grid(ra_deg, dec_deg, columns, rows, overlap, pitch, rig.telescope.focal_length_mm, rig.camera.mirrored)
    corner_mm = math.hypot(
        pitch[0] * (columns - 1) / 2 + rig.camera.width_mm / 2, pitch[1] * (rows - 1) / 2 + rig.camera.height_mm / 2
    )
    reach_deg = math.degrees(math.atan(corner_mm / rig.telescope.focal_length_mm))
    if reach_deg > _WIDEST_DEG:
        raise InputError(
            f"--panels {columns}x{rows}: with this rig the mosaic would reach {reach_deg:.0f}° from its centre, and a "
            f"grid holds to {_WIDEST_DEG:g}°; plan it in parts."
        )
    return grid


def _counts(panels: str) -> tuple[int, int]:
    found = re.fullmatch(r"\s*(\d{1,4})\s*[xX×]\s*(\d{1,4})\s*", panels)
    if found is None:
        raise InputError(f'--panels "{panels}": give columns and rows with an x between them, such as 3x2.')
    columns, rows = int(found[1]), int(found[2])
    if columns < 1 or rows < 1:
        raise InputError(f"--panels {columns}x{rows}: a mosaic has at least one column and one row, such as 3x2.")
    if columns * rows > MOST_PANELS:
        raise InputError(
            f"--panels {columns}x{rows}: that is {columns * rows} panels, and at most {MOST_PANELS} are planned at "
            "once."
        )
    return columns, rows
