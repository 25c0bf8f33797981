"""A mosaic as plain JSON values (schema `guidestar.mosaic/1`): fields may be added, never changed; no NaN."""

from __future__ import annotations

from typing import Any

from guidestar.nudge.result import Mosaic, Panel
from guidestar.report.json_output import asked_json, nudge_json, target_json
from guidestar.report.json_values import COORDINATE_DIGITS, direction, intervals_or_null, number, tidy_intervals

SCHEMA = "guidestar.mosaic/1"


def to_json(mosaic: Mosaic) -> dict[str, Any]:
    """Turn a mosaic into values that `json.dumps(…, allow_nan=False)` takes; key order is fixed."""
    return {
        "schema": SCHEMA,
        "target": target_json(mosaic.target),
        "epoch_year": number(mosaic.epoch_year, 4),
        "rig": mosaic.rig.name,
        "source": mosaic.source,
        "complete_to_mag": number(mosaic.complete_to_mag, 3),
        "faintest_mag": number(mosaic.faintest_mag, 3),
        "exposure_s": number(mosaic.exposure_s, 4),
        "columns": mosaic.columns,
        "rows": mosaic.rows,
        "overlap_percent": number(mosaic.overlap_percent, 4),
        "grid_angle_deg": direction(mosaic.grid_angle_deg),
        "usable_angles_deg": tidy_intervals(mosaic.usable_angles_deg),
        "sure_angles_deg": tidy_intervals(mosaic.sure_angles_deg),
        "flip_safe_angles_deg": intervals_or_null(mosaic.flip_safe_angles_deg),
        "angle_deg": direction(mosaic.angle_deg),
        "margin_deg": number(mosaic.margin_deg, 4),
        "asked_for": mosaic.asked_for,
        "tolerance_deg": number(mosaic.tolerance_deg, 4),
        "usable_panels": mosaic.usable_panels,
        "sure_panels": mosaic.sure_panels,
        "nudge_limit_arcmin": number(mosaic.nudge_limit_arcmin, 4),
        "gaps": mosaic.gaps,
        "panels": [_panel(panel) for panel in mosaic.panels],
        "warnings": list(mosaic.warnings),
    }


def _panel(panel: Panel) -> dict[str, Any]:
    return {
        "row": panel.row,
        "column": panel.column,
        "ra_deg": direction(panel.ra_deg, COORDINATE_DIGITS),
        "dec_deg": number(panel.dec_deg, COORDINATE_DIGITS),
        "leaning_deg": number(panel.leaning_deg, 4),
        "usable": bool(panel.asked.usable),
        "sure": bool(panel.asked.sure),
        "star_ids": list(panel.asked.star_ids),
        "asked": asked_json(panel.asked),
        "nudge": None if panel.nudge is None else nudge_json(panel.nudge),
    }
