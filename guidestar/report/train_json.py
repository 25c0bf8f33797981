"""A `TrainResult` as plain JSON values (schema `guidestar.train/1`).

Fields may be added to the schema, never changed or dropped. Lengths in mm to 1e-4, shares 0 … 1 to 1e-6; a window that
nothing limits outward has a null `max_offset_mm`, and what a rig does not tell is null.
"""

from __future__ import annotations

from typing import Any, Final

from guidestar.report import train_sentences as say
from guidestar.report.json_values import number
from guidestar.report.train_checklist import SAFETY, checklist
from guidestar.train.result import GuideFocus, Piece, Spacing, TrainResult, Window

SCHEMA: Final = "guidestar.train/1"


def train_to_json(result: TrainResult, *, with_checklist: bool = False) -> dict[str, Any]:
    """Turn a result into values that `json.dumps(…, allow_nan=False)` takes."""
    spacing = result.spacing
    values = {
        "schema": SCHEMA,
        "rig": result.rig.name,
        "spacer_mm": _mm(spacing.spacer_mm),
        "glass_shift_mm": _mm(spacing.glass_shift_mm),
        "ray_exact": spacing.ray_exact,
        "spacing": _spacing(spacing),
        "filter": {
            "place": result.filter.place,
            "stated": result.filter.stated,
            "bandwidth_nm": _mm(result.filter.bandwidth_nm),
            "cost_ahead_mag": _mm(result.filter.cost_mag),
        },
        "guide_path": _focus(result.focus),
        "spacer_behind_prism": None if result.spacer_behind is None else _focus(result.spacer_behind),
        "better_order": None
        if result.better_order is None
        else {"names": list(result.better_order.names), "guide_path": _focus(result.better_order.focus)},
        "prism": _window(result.window),
        "shadow": {
            "worst": _share(result.shadow.worst),
            "corner": result.shadow.corner or None,
            "area": _share(result.shadow.area),
        },
        "problems": say.plain_text(say.problems(result)),
        "warnings": list(result.warnings),
    }
    if with_checklist:
        values["checklist"] = say.plain_text(checklist(result))
        values["safety"] = list(SAFETY)
    return values


def _spacing(spacing: Spacing) -> dict[str, Any]:
    return {
        "back_focus_mm": _mm(spacing.back_focus_mm),
        "wanted_mm": _mm(spacing.wanted_mm),
        "parts_mm": _mm(spacing.parts_mm),
        "camera_flange_mm": _mm(spacing.flange_mm),
        "pieces": [_piece(piece) for piece in spacing.pieces],
        "chosen_spacers_mm": None if spacing.chosen_mm is None else list(spacing.chosen_mm),
        "residual_mm": _mm(spacing.residual_mm),
    }


def _window(window: Window) -> dict[str, Any]:
    return {
        "min_offset_mm": _mm(window.min_offset_mm),
        "max_offset_mm": _mm(window.max_offset_mm),
        "best_offset_mm": _mm(window.best_offset_mm),
        "in_window": window.in_window,
        "offset_mm": _mm(window.offset_mm),
        "limited_by": window.limited_by,
        "allowed_loss": _share(window.allowed_loss),
        "clear_share": _share(window.clear_share),
        "field_light_mm2": _mm(window.field_light_mm2),
        "best_field_light_mm2": _mm(window.best_field_light_mm2),
        "remedies": [
            {"kind": item.kind, "amount": _mm(item.amount), "where": item.where or None} for item in window.remedies
        ],
    }


def _focus(focus: GuideFocus) -> dict[str, Any]:
    return {
        "needed_mm": _mm(focus.needed_mm),
        "focuser_mm": _mm(focus.focuser_mm),
        "in_travel": focus.in_travel,
        "ahead_mm": _mm(focus.ahead_mm),
        "filter_shift_mm": _mm(focus.filter_shift_mm),
        "prism_shift_mm": _mm(focus.prism_shift_mm),
        "travel_mm": _mm(focus.travel_mm),
        "adapter_mm": _mm(focus.adapter_mm),
    }


def _piece(piece: Piece) -> dict[str, Any]:
    return {
        "name": piece.name,
        "kind": piece.kind,
        "start_mm": _mm(piece.start_mm),
        "length_mm": _mm(piece.length_mm),
        "prism_at_mm": _mm(piece.prism_at_mm),
        "filter_at_mm": _mm(piece.filter_at_mm),
    }


def _mm(value: float | None) -> float | None:
    return number(value, 4)


def _share(value: float | None) -> float | None:
    return number(value, 6)
