"""A made-up sky: stars put at chosen places around a target. Invented data."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from guidestar.sky import plane
from guidestar.stars.table import StarTable


@dataclass(frozen=True)
class MadeUpSky:
    """A `StarSource` of invented stars; `ring` ignores the epoch, they stand still."""

    ra_deg: np.ndarray
    dec_deg: np.ndarray
    g_mag: np.ndarray
    name: str = "invented stars"
    band: str = "G"
    complete_to_mag: float = 20.0
    flags: np.ndarray | None = field(default=None)

    def ring(self, ra_deg, dec_deg, inner_deg, outer_deg, *, faintest_mag=None, epoch_year=2000.0):
        away = plane.separation_deg(ra_deg, dec_deg, self.ra_deg, self.dec_deg)
        limit = np.inf if faintest_mag is None else faintest_mag
        kept = np.flatnonzero((away >= inner_deg) & (away <= outer_deg) & (self.g_mag <= limit))
        flags = np.zeros(len(self.g_mag), np.uint16) if self.flags is None else self.flags
        return StarTable(
            id=kept.astype(np.int64),
            ra_deg=self.ra_deg[kept],
            dec_deg=self.dec_deg[kept],
            g_mag=self.g_mag[kept],
            v_mag=self.g_mag[kept] + 0.2,
            flags=flags[kept].astype(np.uint16),
            hip=np.zeros(len(kept), np.int32),
            designation=lambda number: f"S{number}",
        )


def sky_around(place, rig, radius_mm, position_angle_deg, g_mag, **more) -> MadeUpSky:
    """Return stars at focal-plane radii (mm) and position angles (degrees) about a target."""
    theta = np.radians(np.asarray(position_angle_deg, float))
    tangent = np.asarray(radius_mm, float) / rig.telescope.focal_length_mm
    ra, dec = plane.from_plane(tangent * np.sin(theta), tangent * np.cos(theta), *place)
    return MadeUpSky(np.atleast_1d(ra), np.atleast_1d(dec), np.asarray(g_mag, float), **more)
