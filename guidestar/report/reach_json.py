"""A `ReachResult` as plain JSON values (schema `guidestar.reach/1`).

Fields may be added to the schema, never changed or dropped. Magnitudes to 0.001, shares and mm to 1e-4. Where no light
comes there is no reach: null. No NaN or infinity leaves here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from guidestar.field.guidescope import (
    LEVER_MM,
    STARS_PER_DEG2_AT_POLE,
    STARS_PER_DEG2_IN_PLANE,
    GuideScopeComparison,
    GuideView,
)
from guidestar.field.reach import Figures, LitShares, ReachResult
from guidestar.field.reach_points import PointReach, SpotReach, StarFigures
from guidestar.field.remedies import Remedy
from guidestar.report.json_values import number

SCHEMA = "guidestar.reach/1"


def reach_to_json(result: ReachResult, scope: GuideScopeComparison | None = None) -> dict[str, Any]:
    """Turn a result, and a comparison with a guide scope if there is one, into values for `json.dumps`."""
    rig = result.rig
    return {
        "schema": SCHEMA,
        "rig": rig.name,
        "band": "G",
        "exposure_s": number(rig.guiding.exposure_s, 4),
        "airmass": number(rig.guiding.airmass, 4),
        "sky_v_mag_arcsec2": number(rig.sky.brightness_mag_arcsec2, 3),
        "centre": _figures(result.centre),
        "given": None if result.given is None else _figures(result.given),
        "points": [_point(point) for point in result.points],
        "lit": _lit(result.lit),
        "exposures": [_exposure(row, given=result.given is not None) for row in result.exposures],
        "remedies": [_remedy(remedy) for remedy in result.remedies],
        "image_motion_arcsec": number(result.image_motion_arcsec, 4),
        "scintillation": number(result.scintillation, 5),
        "fixed_limit_mag": number(rig.guiding.faintest_mag, 3),
        "guide_scope": None if scope is None else _scope(scope),
        "warnings": list(result.warnings),
    }


def _figures(figures: Figures) -> dict[str, Any]:
    return {**_point(figures.point), "saturation_mag": number(figures.saturation_mag, 3), **_stars(figures.stars)}


def _stars(stars: Sequence[StarFigures]) -> dict[str, dict[str, float | None]]:
    """Return one object a figure, with the stars' magnitudes as its keys."""
    return {
        "snr": {f"{star.g_mag:g}": number(star.snr, 2) for star in stars},
        "centroid_arcsec": {f"{star.g_mag:g}": number(star.centroid_arcsec, 5) for star in stars},
        "centroid_main_px": {f"{star.g_mag:g}": number(star.centroid_main_px, 5) for star in stars},
    }


def _point(point: PointReach) -> dict[str, Any]:
    return {
        "place": point.spot,
        "x_mm": number(point.x_mm, 4),
        "y_mm": number(point.y_mm, 4),
        "on_sensor": point.on_sensor,
        "transmission": number(point.transmission, 6),
        "vignetting": number(point.vignetting, 6),
        "faintest_mag": number(point.faintest_mag, 3),
        "limited_by": point.limited_by,
        "noise": point.noise,
        "lost_light_mag": number(point.lost_mag, 3),
    }


def _lit(lit: LitShares) -> dict[str, float]:
    full, half = round(lit.full, 6), round(lit.half, 6)
    return {"full": full, "half": half, "less": max(round(1.0 - full - half, 6), 0.0)}


def _exposure(row: SpotReach, *, given: bool) -> dict[str, float | None]:
    names = ("centre", "edge", "corner", "half", *(["given"] if given else []))
    return {"exposure_s": number(row.exposure_s, 4), **{name: number(getattr(row, name), 3) for name in names}}


def _remedy(remedy: Remedy) -> dict[str, Any]:
    return {
        "kind": remedy.kind,
        "values": {key: number(value, 4) for key, value in remedy.values.items()},
        "gain_mag": number(remedy.gain_mag, 3),
        "gain_centre_mag": number(remedy.gain_centre_mag, 3),
        "gain_corner_mag": number(remedy.gain_corner_mag, 3),
        "undersampled": remedy.undersampled,
        "warnings": list(remedy.warnings),
    }


def _scope(scope: GuideScopeComparison) -> dict[str, Any]:
    return {
        "focal_length_mm": number(scope.focal_length_mm, 3),
        "aperture_mm": number(scope.aperture_mm, 3),
        "main_exposure_s": number(scope.main_exposure_s, 3),
        "pick_off": _view(scope.pick_off),
        "guide_scope": _view(scope.guide_scope),
        "flexure": {
            "arcsec": number(scope.flexure.arcsec, 4),
            "at_guide_sensor_um": number(scope.flexure.at_guide_sensor_um, 4),
            "lever_mm": LEVER_MM,
            "at_lever_um": number(scope.flexure.at_lever_um, 4),
            "rate_arcsec_per_min": number(scope.rate_arcsec_per_min, 5),
        },
        "light_suffices": scope.light_suffices,
    }


def _view(view: GuideView) -> dict[str, Any]:
    return {
        "scale_arcsec_per_px": number(view.scale_arcsec_per_px, 4),
        "field_width_arcmin": number(view.width_arcmin, 3),
        "field_height_arcmin": number(view.height_arcmin, 3),
        "field_area_deg2": number(view.area_deg2, 6),
        "faintest_mag": number(view.faintest_mag, 3),
        "limited_by": view.limited_by,
        "saturation_mag": number(view.saturation_mag, 3),
        **_stars(view.stars),
        "image_motion_arcsec": number(view.image_motion_arcsec, 4),
        "undersampled": view.undersampled,
        "mean_tycho2_stars": number(view.catalogue_stars(), 3),
        "tycho2_stars_at_galactic_pole": number(view.catalogue_stars(STARS_PER_DEG2_AT_POLE), 3),
        "tycho2_stars_in_galactic_plane": number(view.catalogue_stars(STARS_PER_DEG2_IN_PLANE), 3),
    }
