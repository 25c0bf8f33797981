"""What the rig accepts: for a star's radius and magnitude, the camera turns that make it usable.

An acceptance knows the rig only as plain numbers. Radii and magnitudes in, sets of turn out (see `guidestar.angles`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import acceptance, sure
from guidestar.angles.light import LitSensor, lit_arcs
from guidestar.angles.light_sure import sure_turns_lit
from guidestar.field import geometry
from guidestar.field.light import RigLight, rig_light
from guidestar.field.result import GuideField
from guidestar.optics.guidefield import half_planes
from guidestar.rig import Rig

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Acceptance(Protocol):
    """One rig's usable directions, by radius and magnitude."""

    @property
    def inner_mm(self) -> float:
        """Radius, mm, inside which no star is usable with the prism where it was measured."""

    @property
    def outer_mm(self) -> float:
        """Radius, mm, outside which no star is usable with the prism where it was measured."""

    @property
    def accuracy_mm(self) -> float:
        """How far the field may truly be moved along the radius, mm in the focal plane."""

    @property
    def faintest_mag(self) -> float:
        """The limit, or the deepest reach anywhere in the field."""

    def arcs(self, radius_mm: FloatArray, g_mag: FloatArray) -> tuple[IntArray, FloatArray]:
        """Return the owners and arcs of direction in which each star is usable."""

    def sure_turns(self, radius_mm: FloatArray, g_mag: FloatArray, phase_deg: FloatArray, count: int) -> FloatArray:
        """Return the set of turns with at least `count` usable stars wherever the prism truly is."""

    def moved(self, by_mm: float) -> Acceptance:
        """Return the acceptance with the prism and its guide camera moved outward by `by_mm` in the focal plane."""


@dataclass(frozen=True)
class GeometricAcceptance:
    """A fixed magnitude limit everywhere on a polygon."""

    planes: FloatArray
    inner_mm: float
    outer_mm: float
    accuracy_mm: float
    faintest_mag: float

    def arcs(self, radius_mm: FloatArray, g_mag: FloatArray) -> tuple[IntArray, FloatArray]:
        """Return the owners and arcs of direction in which each star is usable."""
        bright = np.flatnonzero(g_mag <= self.faintest_mag)
        owner, arcs = acceptance.polygon_arcs(self.planes, radius_mm[bright])
        return bright[owner], arcs

    def sure_turns(self, radius_mm: FloatArray, g_mag: FloatArray, phase_deg: FloatArray, count: int) -> FloatArray:
        """Return the set of turns with at least `count` usable stars wherever the prism truly is."""
        bright = g_mag <= self.faintest_mag
        return sure.sure_turns(self.planes, radius_mm[bright], phase_deg[bright], count, self.accuracy_mm)

    def moved(self, by_mm: float) -> GeometricAcceptance:
        """Return the acceptance with the prism moved outward; the ring's radii move to first order."""
        inner, outer = self.inner_mm + by_mm, self.outer_mm + by_mm
        return replace(self, planes=sure.moved(self.planes, by_mm), inner_mm=inner, outer_mm=outer)


@dataclass(frozen=True)
class LightAcceptance:
    """Enough light for each star, on the guide sensor less the margin.

    `sensor` is `light.sensor`, or that moved; the telescope's vignetting does not move with it.
    """

    light: RigLight
    sensor: LitSensor
    inner_mm: float
    outer_mm: float
    accuracy_mm: float
    faintest_mag: float

    def arcs(self, radius_mm: FloatArray, g_mag: FloatArray) -> tuple[IntArray, FloatArray]:
        """Return the owners and arcs of direction in which each star is usable."""
        needed = self.light.needed_transmission(radius_mm, g_mag)
        return lit_arcs(self.sensor, radius_mm, needed, self.light.fully_lit)

    def sure_turns(self, radius_mm: FloatArray, g_mag: FloatArray, phase_deg: FloatArray, count: int) -> FloatArray:
        """Return the set of turns with at least `count` usable stars wherever the prism truly is."""
        needed = self.light.needed_transmission(radius_mm, g_mag)
        accuracy, lit = self.accuracy_mm, self.light.fully_lit
        return sure_turns_lit(self.sensor, radius_mm, needed, phase_deg, count, accuracy, lit)

    def moved(self, by_mm: float) -> LightAcceptance:
        """Return the acceptance with the prism moved outward; the ring's radii move to first order."""
        inner, outer = self.inner_mm + by_mm, self.outer_mm + by_mm
        return replace(self, sensor=self.sensor.moved(by_mm), inner_mm=inner, outer_mm=outer)


def accepting(rig: Rig) -> tuple[GuideField, RigLight | None, Acceptance]:
    """Return a rig's guide field, its light (None where a fixed magnitude limit is used) and what it accepts.

    Raises
    ------
    InputError
        Nothing is left of the guide field, or no light reaches it.
    """
    light = rig_light(rig) if rig.guiding.faintest_mag is None else None
    field = geometry.guide_field(rig, model="geometric" if light is None else "light")
    return field, light, acceptance_of(rig, field, light)


def acceptance_of(rig: Rig, field: GuideField, light: RigLight | None) -> Acceptance:
    """Return the rig's acceptance: by its light, or without one by `guiding.faintest_mag` on the geometric field."""
    ring = {"inner_mm": field.inner_mm, "outer_mm": field.outer_mm, "accuracy_mm": geometry.accuracy_mm(rig)}
    if light is not None:
        return LightAcceptance(light, light.sensor, **ring, faintest_mag=light.deepest_mag)
    if rig.guiding.faintest_mag is None:
        raise ValueError("a rig without guiding.faintest_mag needs its light")
    return GeometricAcceptance(half_planes(field.outline_mm), **ring, faintest_mag=rig.guiding.faintest_mag)
