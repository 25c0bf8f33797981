"""The stars round one target and what the rig accepts of them, under any air and sky.

The same acceptance as in `check` (`guidestar.field`), worked out once for a target. Of all that decides it only
airmass and sky change through a night, and they act through the signal alone: where the prism's light falls stays as it
is. So the lit sensor is shared, and each air and sky costs one look along the stars' circles.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.angles.acceptance import direction_to_turn, turn_to_camera
from guidestar.field.acceptance import Acceptance, LightAcceptance, accepting
from guidestar.field.check import sweep
from guidestar.field.light import RigLight
from guidestar.field.nearby import NearbyStars, stars_around
from guidestar.field.result import GuideField
from guidestar.field.settings import Sweep
from guidestar.rig import Rig
from guidestar.signal import snr
from guidestar.sky.place import Place
from guidestar.stars.source import StarSource

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class StarArcs:
    """Arcs of camera angle in which stars are usable: `star` (k,) indexes the stars around, `arcs` (k, 2) degrees."""

    star: IntArray
    arcs: FloatArray

    def at(self, low_deg: float, high_deg: float) -> IntArray:
        """Return the stars that are usable at every camera angle from the one to the other."""
        ahead = np.mod(low_deg - self.arcs[:, 0], 360.0)
        wide = self.arcs[:, 1] - self.arcs[:, 0]
        return np.unique(self.star[(ahead + (high_deg - low_deg) <= wide) | (wide >= 360.0)])


@dataclass(frozen=True)
class Ground:
    """One target's stars and one rig's acceptance; `light` None where a fixed magnitude limit is used."""

    rig: Rig
    field: GuideField
    nearby: NearbyStars
    light: RigLight | None
    accepts: Acceptance

    def under(self, airmass: float, sky_v: float, exposure_s: float | None = None) -> Ground:
        """Return the same through another air, under another sky, with another exposure (the rig's unless given)."""
        if self.light is None or not isinstance(self.accepts, LightAcceptance):
            return self
        setup = replace(
            self.light.setup,
            airmass=airmass,
            sky_v_mag_arcsec2=sky_v,
            exposure_s=self.rig.guiding.exposure_s if exposure_s is None else exposure_s,
        )
        light = self.light.with_setup(setup)
        accepts = replace(self.accepts, light=light, faintest_mag=light.deepest_mag)
        return replace(self, light=light, accepts=accepts)

    def star_arcs(self, stars: IntArray | None = None) -> StarArcs:
        """Return each star's own camera angles, of all stars or of some."""
        chosen = np.arange(len(self.nearby)) if stars is None else stars
        owner, arcs = self.accepts.arcs(self.nearby.radius_mm[chosen], self.nearby.table.g_mag[chosen])
        turns = direction_to_turn(self.nearby.phase_deg[chosen], owner, arcs)
        return StarArcs(chosen[owner], turn_to_camera(turns, self.rig.camera.mirrored))

    def usable(self, found: StarArcs) -> FloatArray:
        """Return the set of usable camera angles, given the stars' own."""
        return circular.at_least(found.arcs, self.rig.guiding.min_stars)

    def sure(self) -> FloatArray:
        """Return the set of sure camera angles."""
        near = self.nearby
        turns = self.accepts.sure_turns(near.radius_mm, near.table.g_mag, near.phase_deg, self.rig.guiding.min_stars)
        return circular.at_least(turn_to_camera(turns, self.rig.camera.mirrored))

    def sweep(self) -> Sweep:
        """Return the sweep that `check` makes."""
        return sweep(self.rig, self.nearby, self.accepts, self.light)

    def faintest_mag(self, airmass: FloatArray, sky_v: FloatArray) -> FloatArray:
        """Return the reach at the best lit place of the field through airs and under skies, G magnitudes."""
        if self.light is None:
            return np.full(len(airmass), self.accepts.faintest_mag)
        best = self.light.grid_throughput.max()
        setups = (
            replace(self.light.setup, airmass=float(x), sky_v_mag_arcsec2=float(v))
            for x, v in zip(airmass, sky_v, strict=True)
        )
        return np.array([float(snr.faintest_mag(best, setup)) for setup in setups])


def ground(place: Place, rig: Rig, source: StarSource, epoch_year: float) -> Ground:
    """Return a target's stars and the rig's acceptance.

    Raises
    ------
    InputError
        Nothing is left of the guide field, or no light reaches it.
    DataError
        The star source cannot be read.
    """
    field, light, accepts = accepting(rig)
    outer_mm = field.outer_mm + accepts.accuracy_mm
    nearby = stars_around(source, place.ra_deg, place.dec_deg, rig, outer_mm, epoch_year)
    within = (nearby.radius_mm >= field.inner_mm - accepts.accuracy_mm) & (nearby.radius_mm <= outer_mm)
    return Ground(rig, field, nearby.take(within), light, accepts)
