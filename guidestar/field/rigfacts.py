"""What follows from a rig by itself, before any target: scales, the guide field, the beam at the prism, clearances."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from guidestar.constants import ARCMIN_PER_RADIAN
from guidestar.field.geometry import guide_field, radius_to_arcmin, scale_at_face
from guidestar.field.result import GuideField
from guidestar.rig import Rig
from guidestar.rig.clearance import sensor_extent_mm
from guidestar.rig.rules import least_clear_offset_of
from guidestar.signal.centroid import pixel_arcsec


@dataclass(frozen=True)
class RigFacts:
    """Figures that follow from a rig; lengths in the focal plane in mm, on the sky in arcmin, scales unbinned.

    `telecentric_shift_mm` and `_arcmin`: how much nearer to the axis the guide field's centre would lie if the exit
    pupil were infinitely far instead of where the rig says. `turn_area_deg2`: sky that passes over the guide field in
    a full turn of the camera. `clear_depth_mm`: how much further in the prism may go before it shadows the main
    sensor, negative if it does already. `limited_by`: what bounds the guide field.
    """

    rig: Rig
    f_ratio: float
    main_scale_arcsec_per_px: float
    guide_scale_arcsec_per_px: float
    frame_width_arcmin: float
    frame_height_arcmin: float
    field: GuideField
    field_width_mm: float
    field_height_mm: float
    limited_by: Literal["guide sensor", "prism"]
    telecentric_shift_mm: float
    telecentric_shift_arcmin: float
    beam_diameter_mm: float
    beam_dark_diameter_mm: float
    turn_area_deg2: float
    least_clear_offset_mm: float
    clear_depth_mm: float


def rig_facts(rig: Rig) -> RigFacts:
    """Return what follows from a valid rig."""
    focal = rig.telescope.focal_length_mm
    field = guide_field(rig)
    width, height = np.ptp(field.outline_mm, axis=0)
    beam = rig.prism.ahead_mm / rig.telescope.f_ratio
    least = least_clear_offset_of(rig)
    return RigFacts(
        rig=rig,
        f_ratio=rig.telescope.f_ratio,
        main_scale_arcsec_per_px=pixel_arcsec(focal, rig.camera.pixel_um),
        guide_scale_arcsec_per_px=pixel_arcsec(focal, rig.guide_camera.pixel_um),
        frame_width_arcmin=_across_arcmin(rig.camera.width_mm, focal),
        frame_height_arcmin=_across_arcmin(rig.camera.height_mm, focal),
        field=field,
        field_width_mm=float(width),
        field_height_mm=float(height),
        limited_by=_limited_by(rig),
        telecentric_shift_mm=field.centre_mm - rig.prism.offset_mm,
        telecentric_shift_arcmin=field.centre_arcmin - radius_to_arcmin(rig.prism.offset_mm, focal),
        beam_diameter_mm=beam,
        beam_dark_diameter_mm=beam * rig.telescope.obstruction_ratio,
        turn_area_deg2=ring_area_deg2(field.inner_mm, field.outer_mm, focal),
        least_clear_offset_mm=least,
        clear_depth_mm=rig.prism.offset_mm - least,
    )


def ring_area_deg2(inner_mm: float, outer_mm: float, focal_length_mm: float) -> float:
    """Return the sky between two radii of the focal plane, square degrees.

    The caps within ρ = f·tan(separation) have solid angles 2π(1 − cos(separation)); 1 − cos is taken as 2 sin² of
    half the angle, which keeps its digits where the ring is close to the axis.
    """
    inner, outer = (math.atan(radius / focal_length_mm) for radius in (inner_mm, outer_mm))
    steradians = 4.0 * math.pi * (math.sin(outer / 2) ** 2 - math.sin(inner / 2) ** 2)
    return steradians * math.degrees(1.0) ** 2


def _across_arcmin(length_mm: float, focal_length_mm: float) -> float:
    """Angle of a length that is centred on the axis."""
    return 2.0 * math.atan(length_mm / 2 / focal_length_mm) * ARCMIN_PER_RADIAN


def _limited_by(rig: Rig) -> Literal["guide sensor", "prism"]:
    """Tell whether the prism's face, as seen from the focal plane, cuts anything off the guide sensor."""
    guide, margin = rig.guide_camera, rig.guiding.edge_margin_mm
    width, height = guide.width_mm - 2 * margin, guide.height_mm - 2 * margin
    along = sensor_extent_mm(height, width, guide.turned_deg)
    outward = sensor_extent_mm(width, height, guide.turned_deg)
    scale = scale_at_face(rig)
    cut = along > rig.prism.width_mm / scale or outward > rig.prism.height_mm / scale
    return "prism" if cut else "guide sensor"
