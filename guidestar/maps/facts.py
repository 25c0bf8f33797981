"""What of a rig says which stars matter and how much light they need: all that reading the stars waits for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.field.acceptance import Acceptance, accepting
from guidestar.field.light import RigLight
from guidestar.field.result import GuideField
from guidestar.rig import Rig
from guidestar.signal import snr

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class SweepFacts:
    """A rig, its guide field, what it accepts, and its light (none with a fixed limit)."""

    rig: Rig
    field: GuideField
    accepts: Acceptance
    light: RigLight | None

    @property
    def faintest_mag(self) -> float:
        """The faintest magnitude usable where all light comes; the moved prism may pass more than it does now."""
        if self.light is None:
            return self.accepts.faintest_mag
        return float(snr.faintest_mag(1.0, self.light.setup))

    def needs(self, g_mag: FloatArray) -> NDArray[np.float32]:
        """Return the throughput that stars need, 0 where a fixed limit lets them in; above 1: never usable."""
        if self.light is None:
            return np.where(g_mag <= self.accepts.faintest_mag, 0.0, 2.0).astype(np.float32)
        return snr.needed_throughput(g_mag, self.light.setup).astype(np.float32)


def sweep_facts(rig: Rig) -> SweepFacts:
    """Return what is known of a rig before any star is looked at.

    Raises
    ------
    InputError
        Nothing is left of the guide field, or no light reaches it.
    """
    field, light, accepts = accepting(rig)
    return SweepFacts(rig, field, accepts, light)
