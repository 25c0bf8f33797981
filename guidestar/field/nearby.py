"""The stars around a target, laid out in the rig's own coordinates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.acceptance import star_phase_deg
from guidestar.field.geometry import radius_to_arcmin
from guidestar.rig import Rig
from guidestar.sky import plane
from guidestar.stars.source import StarSource, cone
from guidestar.stars.table import StarTable

FloatArray = NDArray[np.float64]

HINT_REACH_MM = 6.0
"""How far beyond the swept ring stars are loaded: for the nearest misses and for the picture."""


@dataclass(frozen=True)
class NearbyStars:
    """Catalogue stars around the target, all magnitudes; arrays of shape (n,).

    `x_mm, y_mm`: focal plane, east and north; `radius_mm` from the axis; `position_angle_deg` from the target;
    `phase_deg` as in `guidestar.angles.acceptance`.
    """

    table: StarTable
    x_mm: FloatArray
    y_mm: FloatArray
    radius_mm: FloatArray
    position_angle_deg: FloatArray
    phase_deg: FloatArray

    def take(self, chosen: NDArray[np.bool_] | NDArray[np.int64]) -> NearbyStars:
        """Return only the chosen stars, in the order chosen."""
        arrays = (self.x_mm, self.y_mm, self.radius_mm, self.position_angle_deg, self.phase_deg)
        return NearbyStars(self.table.take(chosen), *(array[chosen] for array in arrays))

    def __len__(self) -> int:
        """Return the number of stars."""
        return len(self.radius_mm)


def stars_around(
    source: StarSource, ra_deg: float, dec_deg: float, rig: Rig, outer_mm: float, epoch_year: float
) -> NearbyStars:
    """Return every catalogue star out to a little beyond `outer_mm`, at its place at the epoch."""
    focal = rig.telescope.focal_length_mm
    radius_deg = radius_to_arcmin(outer_mm + HINT_REACH_MM, focal) / 60
    table = cone(source, ra_deg, dec_deg, radius_deg, faintest_mag=None, epoch_year=epoch_year)
    xi, eta = plane.to_plane(table.ra_deg, table.dec_deg, ra_deg, dec_deg)
    position_angle = np.mod(np.degrees(np.arctan2(xi, eta)), 360.0)
    phase = star_phase_deg(position_angle, rig.prism.side_deg, rig.camera.mirrored)
    return NearbyStars(table, focal * xi, focal * eta, focal * np.hypot(xi, eta), position_angle, phase)
