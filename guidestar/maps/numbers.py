"""From the rig to the sweep's plain numbers: the one place where a rig becomes what the kernels take."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import sure
from guidestar.angles.kernels import arc_table
from guidestar.angles.kernels_light import Beam
from guidestar.angles.kernels_places import Runs, empty_runs, squares_a_mm
from guidestar.field.light import RigLight
from guidestar.field.result import GuideField
from guidestar.maps import kernels
from guidestar.maps.facts import SweepFacts
from guidestar.maps.kernel_field import Field
from guidestar.optics.guidefield import half_planes, swept_radii_mm
from guidestar.rig import Rig

FloatArray = NDArray[np.float64]

_HIDDEN = Beam(0.0, 0.0, 1.0, 1.0, math.inf, -math.inf, math.inf, math.inf, 0.0, 1.0)
"""With a fixed limit light plays no part: every star that is bright enough is fully lit."""

_SMALLEST_MM = 1e-3


@dataclass(frozen=True)
class RigNumbers:
    """A rig for the sweep. `inner`, `outer`: radii of the ring of stars that may matter, radians."""

    facts: SweepFacts
    numbers: Field
    inner: float
    outer: float

    @property
    def ring_sr(self) -> float:
        """Solid angle of the ring, steradians."""
        return 2.0 * math.pi * (math.cos(self.inner) - math.cos(self.outer))

    @property
    def own_ring(self) -> tuple[float, float]:
        """Radii, radians, of the ring in which stars are usable with the prism where it was measured."""
        focal = self.facts.rig.telescope.focal_length_mm
        return math.atan(self.facts.field.inner_mm / focal), math.atan(self.facts.field.outer_mm / focal)


def rig_numbers(facts: SweepFacts, *, sure_too: bool = True) -> RigNumbers:
    """Return a rig's numbers; without the sure angles the ring around a target is narrower."""
    accuracy_mm = facts.accepts.accuracy_mm if sure_too else 0.0
    numbers = _numbers(facts.rig, facts.field, facts.light, accuracy_mm)
    focal = facts.rig.telescope.focal_length_mm
    return RigNumbers(facts, numbers, math.atan(numbers.inner_mm / focal), math.atan(numbers.outer_mm / focal))


def _numbers(rig: Rig, field: GuideField, light: RigLight | None, accuracy_mm: float) -> Field:
    planes = half_planes(field.outline_mm)
    core, touching = (sure.moved_limits(planes, by) for by in (-accuracy_mm, accuracy_mm))
    outlines = [planes, core, touching] + [sure.moved(planes, by) for by in (-accuracy_mm, accuracy_mm)]
    tables = [arc_table(outline) for outline in outlines]
    inner, outer = swept_radii_mm(_corners(touching))
    side, mirrored = math.radians(rig.prism.side_deg), rig.camera.mirrored
    runs = [
        run
        for table, outline in zip(tables, outlines, strict=True)
        for run in _runs(table, _corners(outline), outer, side, mirrored)
    ]
    beam = _HIDDEN if light is None else _beam(light)
    return Field(
        focal_mm=float(rig.telescope.focal_length_mm),
        side=side,
        mirrored=bool(mirrored),
        min_stars=int(rig.guiding.min_stars),
        accuracy_mm=float(accuracy_mm),
        inner_mm=inner,
        outer_mm=outer,
        plain_need=0.0 if light is None else float(beam.fully_lit * light.vignetting(np.array(outer))),
        squares_a_mm=squares_a_mm(outer),
        planes=planes,
        arcs=tables[0],
        core_arcs=tables[1],
        touch_arcs=tables[2],
        places=np.stack([runs[i] for i in (0, 1, 2, 3, 5, 7, 9)]),
        beam=beam,
    )


def _beam(light: RigLight) -> Beam:
    footprint, face = light.footprint, light.face
    outer, inner = footprint.radius_mm, footprint.obstruction_ratio * footprint.radius_mm
    circle = light.image_circle_mm
    return Beam(
        outer,
        inner,
        math.pi * (outer - inner) * (outer + inner),
        footprint.scale,
        face.width_mm / 2,
        face.offset_mm - face.height_mm / 2,
        face.offset_mm + face.height_mm / 2,
        math.inf if circle is None else circle / 2,
        footprint.diameter_mm,
        light.fully_lit,
    )


def _corners(planes: FloatArray) -> FloatArray:
    """Return the corners, (c, 2), mm, in order round it, of a polygon given by half-planes; none if it is empty."""
    found = []
    for i in range(len(planes)):
        for j in range(i):
            pair = planes[[i, j], :2]
            if abs(np.linalg.det(pair)) < 1e-12:
                continue
            corner = np.linalg.solve(pair, planes[[i, j], 2])
            if np.all(planes[:, :2] @ corner <= planes[:, 2] + 1e-9):
                found.append(corner)
    if not found:
        return np.empty((0, 2))
    corners = np.array(found)
    off = corners - corners.mean(axis=0)
    return corners[np.argsort(np.arctan2(off[:, 1], off[:, 0]))]


def _runs(table: FloatArray, corners: FloatArray, half_mm: float, side: float, mirrored: bool) -> tuple[Runs, Runs]:
    """Return a polygon's inner and outer runs; where it holds the axis, or nearly, nothing is taken for certain."""
    inner, outer = empty_runs(), empty_runs()
    if not len(corners):
        return inner, outer
    inside = swept_radii_mm(corners)[0] < _SMALLEST_MM
    middle = math.atan2(corners[:, 0].mean(), corners[:, 1].mean())
    off = np.arctan2(corners[:, 0], corners[:, 1]) - middle
    directions = middle + np.remainder(off + math.pi, 2 * math.pi) - math.pi
    polar = np.column_stack((directions, np.hypot(corners[:, 0], corners[:, 1])))
    kernels.fill_places(inner, outer, table, polar[:0] if inside else polar, half_mm, side, mirrored)
    return inner, outer
