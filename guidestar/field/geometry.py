"""From the rig to its guide field: the one place where rig values become plain numbers for the kernels."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from guidestar.constants import ARCMIN_PER_RADIAN, ARCSEC_PER_RADIAN
from guidestar.errors import InputError
from guidestar.field.result import GuideField
from guidestar.optics import guidefield
from guidestar.rig import Rig
from guidestar.rig.rules import least_clear_offset_of

FloatArray = NDArray[np.float64]


def scale_at_face(rig: Rig) -> float:
    """Return 1 − s/P of the rig: millimetres at the prism face per millimetre in the focal plane."""
    return guidefield.face_scale(rig.prism.ahead_mm, rig.telescope.exit_pupil_mm)


def centre_mm(rig: Rig) -> float:
    """Return the radius y_c of the guide field's centre in the focal plane, mm."""
    return guidefield.field_centre_mm(rig.prism.offset_mm, rig.prism.ahead_mm, rig.telescope.exit_pupil_mm)


def accuracy_mm(rig: Rig) -> float:
    """Return the uncertainty of y_c in the focal plane, mm (the offset's own, seen from the focal plane)."""
    return rig.prism.offset_accuracy_mm / scale_at_face(rig)


def least_offset_mm(rig: Rig) -> float:
    """Return the shallowest prism offset, mm, that leaves the main sensor clear and the prism off the axis."""
    return max(least_clear_offset_of(rig), rig.prism.height_mm / 2)


def field_polygon(rig: Rig, *, edge_margin_mm: float | None = None) -> FloatArray:
    """Return the geometric guide field's outline in the rig frame, mm; margin as in the rig unless given."""
    return _polygon(rig, rig.prism.width_mm, rig.prism.height_mm, edge_margin_mm)


def sensor_polygon(rig: Rig, *, edge_margin_mm: float | None = None) -> FloatArray:
    """Return the guide sensor's outline in the rig frame, mm, not cut by the prism; margin as in the rig."""
    uncut = 10.0 * (rig.guide_camera.width_mm + rig.guide_camera.height_mm)
    return _polygon(rig, uncut, uncut, edge_margin_mm)


def _polygon(rig: Rig, face_width_mm: float, face_height_mm: float, edge_margin_mm: float | None) -> FloatArray:
    margin = rig.guiding.edge_margin_mm if edge_margin_mm is None else edge_margin_mm
    outline = guidefield.guide_polygon(
        sensor_width_mm=rig.guide_camera.width_mm,
        sensor_height_mm=rig.guide_camera.height_mm,
        turned_deg=rig.guide_camera.turned_deg,
        edge_margin_mm=margin,
        prism_width_mm=face_width_mm,
        prism_height_mm=face_height_mm,
        centre_mm=centre_mm(rig),
        face_scale=scale_at_face(rig),
    )
    if not len(outline):
        raise InputError(
            f"guiding.edge_margin_mm: {margin:g} mm on each side leave nothing of a guide sensor of "
            f"{rig.guide_camera.width_mm:g} × {rig.guide_camera.height_mm:g} mm; use a smaller margin."
        )
    return outline


def guide_field(rig: Rig, *, model: Literal["geometric", "light"] = "geometric") -> GuideField:
    """Return the rig's guide field: sensor and prism face together, or with the light model the sensor alone.

    Raises
    ------
    InputError
        If the edge margin leaves nothing of the guide sensor.
    """
    outline = field_polygon(rig) if model == "geometric" else sensor_polygon(rig)
    inner, outer = guidefield.swept_radii_mm(outline)
    width, height = np.ptp(outline, axis=0)
    focal = rig.telescope.focal_length_mm
    return GuideField(
        model=model,
        centre_mm=centre_mm(rig),
        centre_arcmin=radius_to_arcmin(centre_mm(rig), focal),
        width_arcmin=float(width) / focal * ARCMIN_PER_RADIAN,
        height_arcmin=float(height) / focal * ARCMIN_PER_RADIAN,
        scale_arcsec_per_mm=ARCSEC_PER_RADIAN / focal,
        outline_mm=outline,
        inner_mm=inner,
        outer_mm=outer,
    )


def radius_to_arcmin(radius_mm: float, focal_length_mm: float) -> float:
    """Return the angle from the axis of a focal-plane radius: ρ = f·tan(separation)."""
    return math.atan(radius_mm / focal_length_mm) * ARCMIN_PER_RADIAN
