"""A `CheckResult` as plain JSON values (schema `guidestar.check/1`).

Fields may be added to the schema, never changed or dropped. Angles are rounded to 1e-4°, coordinates to 1e-7°
(0.4 mas), mm to 1e-4, pixels to 0.01. No NaN or infinity leaves here: a value that is not a number becomes null.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from guidestar.field.result import (
    Asked,
    CheckResult,
    Expected,
    GuideField,
    GuideStar,
    Hint,
    Placement,
    Setting,
    SideAnswer,
    StarLight,
    StarsUsed,
    Target,
    Usable,
    UsableRange,
    together,
)
from guidestar.nudge.result import Nudge, Shift
from guidestar.report.json_values import (
    ANGLE_DIGITS,
    COORDINATE_DIGITS,
    direction,
    intervals_or_null,
    number,
    tidy_intervals,
)

SCHEMA = "guidestar.check/1"


def to_json(result: CheckResult, nudge: Nudge | None = None) -> dict[str, Any]:
    """Turn a result into values that `json.dumps(…, allow_nan=False)` takes.

    Parameters
    ----------
    result : CheckResult
    nudge : Nudge, optional
        The shifts that were asked for besides.

    Returns
    -------
    dict
        The object described in the module's docstring; key order is fixed.
    """
    return {
        "schema": SCHEMA,
        "target": target_json(result.target),
        "epoch_year": number(result.epoch_year, 4),
        "rig": result.rig.name,
        "exposure_s": number(result.exposure_s, 4),
        "exposure_chosen": bool(result.exposure_chosen),
        "field": _field(result.field),
        "stars": _stars(result.stars),
        "usable": _usable(result.usable),
        "expected": _expected(result.expected),
        "best": _setting(result.best),
        "best_sure": _setting(result.best_sure),
        "best_flip_safe": _setting(result.best_flip_safe),
        "ranges": [_range(item) for item in result.ranges],
        "guide_stars": [_guide_star(star) for star in result.guide_stars],
        "asked": asked_json(result.asked),
        "nudge": None if nudge is None else nudge_json(nudge),
        "hints": [_hint(hint) for hint in result.hints],
        "warnings": list(result.warnings),
    }


def error_row(row: int | None, sentence: str) -> dict[str, Any]:
    """Return what stands in place of a result for a bad row of a list; row None: what is wrong with the whole list."""
    return {"row": row, "error": sentence}


def target_json(target: Target) -> dict[str, Any]:
    """Return a target's name and places."""
    return {
        "name": target.name,
        "ra_deg": direction(target.ra_deg, COORDINATE_DIGITS),
        "dec_deg": number(target.dec_deg, COORDINATE_DIGITS),
        "l_deg": direction(target.l_deg, COORDINATE_DIGITS),
        "b_deg": number(target.b_deg, COORDINATE_DIGITS),
    }


def _field(field: GuideField) -> dict[str, Any]:
    lengths = {
        name: number(getattr(field, name), 4)
        for name in (
            "centre_mm",
            "centre_arcmin",
            "width_arcmin",
            "height_arcmin",
            "scale_arcsec_per_mm",
            "inner_mm",
            "outer_mm",
        )
    }
    return {"model": field.model, **lengths}


def _stars(stars: StarsUsed) -> dict[str, Any]:
    return {
        "source": stars.source,
        "band": stars.band,
        "complete_to_mag": number(stars.complete_to_mag, 3),
        "faintest_mag": number(stars.faintest_mag, 3),
        "candidates": int(stars.candidates),
    }


def _usable(usable: Usable) -> dict[str, Any]:
    return {
        "fraction": number(usable.fraction, 6),
        "angles_deg": tidy_intervals(usable.angles_deg),
        "sure_fraction": number(usable.sure_fraction, 6),
        "sure_angles_deg": tidy_intervals(usable.sure_angles_deg),
        "flip_safe_fraction": number(usable.flip_safe_fraction, 6),
        "flip_safe_angles_deg": intervals_or_null(usable.flip_safe_angles_deg),
        "expected_fraction": number(usable.expected_fraction, 6),
    }


def _expected(expected: Expected | None) -> dict[str, Any] | None:
    """Return the estimate of stars beyond the catalogue; null where none can be missing."""
    if expected is None:
        return None
    return {
        "stars": number(expected.stars, 4),
        "stars_error": number(expected.stars_error, 4),
        "listed": number(expected.listed, 4),
        "chance": number(expected.chance, 6),
        "per_deg2": number(expected.per_deg2, 2),
        "fraction": number(expected.fraction, 6),
        "fraction_low": number(expected.fraction_low, 6),
        "fraction_high": number(expected.fraction_high, 6),
        "by_angle": [
            {
                "angle_deg": direction(item.angle_deg),
                "stars": number(item.stars, 4),
                "chance": number(item.chance, 6),
            }
            for item in expected.by_angle
        ],
        "counts": expected.counts,
    }


def _setting(setting: Setting | None) -> dict[str, Any] | None:
    if setting is None:
        return None
    return {
        "angle_deg": direction(setting.angle_deg),
        "margin_deg": number(setting.margin_deg, ANGLE_DIGITS),
        "star_ids": list(setting.star_ids),
        "twin_star_ids": list(setting.twin_star_ids),
        "sure": bool(setting.sure),
        "placements": [_placement(item) for item in setting.placements],
        "together": _together(setting.placements),
    }


def _placement(placement: Placement) -> dict[str, Any]:
    return {
        "id": placement.star_id,
        "g_mag": number(placement.g_mag, 3),
        "x_mm": number(placement.x_mm, 4),
        "y_mm": number(placement.y_mm, 4),
        "u_mm": number(placement.u_mm, 4),
        "v_mm": number(placement.v_mm, 4),
        "u_px": number(placement.u_px, 2),
        "v_px": number(placement.v_px, 2),
        "usable": bool(placement.usable),
        **_light(placement.light),
    }


def _light(light: StarLight | None) -> dict[str, Any]:
    """Return what the guide camera gets of a star; all null where no light is reckoned (geometric model)."""
    if light is None:
        return dict.fromkeys(("snr", "transmission", "peak_fill", "centroid_arcsec", "unsaturated_exposure_s"))
    return {
        "snr": number(light.snr, 2),
        "transmission": number(light.transmission, 4),
        "peak_fill": number(light.peak_fill, 4),
        "centroid_arcsec": number(light.centroid_arcsec, 4),
        "unsaturated_exposure_s": number(light.unsaturated_exposure_s, 4),
    }


def _together(placements: Sequence[Placement]) -> dict[str, Any] | None:
    """Return how well the usable stars tell a shift together; null for fewer than two."""
    found = together(placements)
    return None if found is None else {"stars": found.stars, "centroid_arcsec": number(found.centroid_arcsec, 4)}


def _range(item: UsableRange) -> dict[str, Any]:
    [(start_deg, end_deg)] = tidy_intervals([(item.start_deg, item.end_deg)])
    return {
        "start_deg": start_deg,
        "end_deg": end_deg,
        "sure_deg": number(item.sure_deg, ANGLE_DIGITS),
        "brightest_id": item.brightest_id,
        "brightest_mag": number(item.brightest_mag, 3),
        "star_count": int(item.star_count),
        "flip_safe": item.flip_safe,
        "settable": bool(item.settable),
    }


def _guide_star(star: GuideStar) -> dict[str, Any]:
    return {
        "id": star.id,
        "ra_deg": direction(star.ra_deg, COORDINATE_DIGITS),
        "dec_deg": number(star.dec_deg, COORDINATE_DIGITS),
        "g_mag": number(star.g_mag, 3),
        "v_mag": number(star.v_mag, 3),
        "separation_arcmin": number(star.separation_arcmin, 4),
        "position_angle_deg": direction(star.position_angle_deg),
        "radius_mm": number(star.radius_mm, 4),
        "angles_deg": tidy_intervals(star.angles_deg),
        "flags": list(star.flags),
        **_light(star.light),
    }


def asked_json(asked: Asked | None) -> dict[str, Any] | None:
    """Return one framing's verdict, null where none was asked for."""
    if asked is None:
        return None
    return {
        "angle_deg": direction(asked.angle_deg),
        "tolerance_deg": number(asked.tolerance_deg, ANGLE_DIGITS),
        "usable": bool(asked.usable),
        "sure": bool(asked.sure),
        "twin_usable": None if asked.twin_usable is None else bool(asked.twin_usable),
        "star_ids": list(asked.star_ids),
        "placements": [_placement(item) for item in asked.placements],
        "together": _together(asked.placements),
        "sides": [_side(side) for side in asked.sides],
    }


def nudge_json(nudge: Nudge) -> dict[str, Any]:
    """Return the shifts found, each null where there is none."""
    return {
        "limit_arcmin": number(nudge.limit_arcmin, 4),
        "furthest_arcmin": number(nudge.furthest_arcmin, 4),
        "angle_deg": direction(nudge.angle_deg),
        "tolerance_deg": number(nudge.tolerance_deg, ANGLE_DIGITS),
        "turn_cost_percent": number(nudge.turn_cost_percent, 4),
        "turn_cost_arcmin": number(nudge.turn_cost_arcmin, 4),
        "sure": _shift(nudge.sure),
        "usable": _shift(nudge.usable),
        "beyond": _shift(nudge.beyond),
        "turned": _shift(nudge.turned),
    }


def _shift(shift: Shift | None) -> dict[str, Any] | None:
    if shift is None:
        return None
    names = ("right_mm", "up_mm", "right_px", "up_px", "right_percent", "up_percent")
    return {
        "shift_arcmin": number(shift.shift_arcmin, 4),
        "direction_deg": direction(shift.direction_deg),
        "ra_deg": direction(shift.ra_deg, COORDINATE_DIGITS),
        "dec_deg": number(shift.dec_deg, COORDINATE_DIGITS),
        "angle_deg": direction(shift.angle_deg),
        "turn_deg": number(shift.turn_deg, ANGLE_DIGITS),
        "cost_arcmin": number(shift.cost_arcmin, 4),
        "sure": bool(shift.sure),
        "proved": bool(shift.proved),
        "star_ids": list(shift.star_ids),
        "placements": [_placement(item) for item in shift.placements],
        "target": {name: number(getattr(shift.target, name), 3) for name in names},
    }


def _side(side: SideAnswer) -> dict[str, Any]:
    return {
        "side": side.side,
        "side_deg": direction(side.side_deg),
        "usable": bool(side.usable),
        "sure": bool(side.sure),
        "star_ids": list(side.star_ids),
    }


def _hint(hint: Hint) -> dict[str, Any]:
    return {
        "kind": hint.kind,
        "star_id": hint.star_id,
        "g_mag": number(hint.g_mag, 3),
        "amount": number(hint.amount, 4),
        "direction_deg": direction(hint.direction_deg),
        "angle_deg": direction(hint.angle_deg),
        "width_deg": number(hint.width_deg, ANGLE_DIGITS),
        "others": [{"id": star_id, "g_mag": number(g_mag, 3)} for star_id, g_mag in hint.others],
    }
