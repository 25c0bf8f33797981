"""A rig and what follows from it, as text for a person and as plain values for a machine. No physics here."""

from __future__ import annotations

import math
import textwrap
from dataclasses import asdict
from typing import Any, Final

from guidestar.field.rigfacts import RigFacts
from guidestar.rig.build import SECTIONS

SCHEMA: Final = "guidestar.rig/1"

_LABEL_WIDTH: Final = 22


def render_rig(facts: RigFacts, *, width: int = 100) -> str:
    """Return the report of `rig show`: lines of at most `width` characters (60 at least), a newline at the end."""
    width = max(width, 60)
    blocks = [("Main camera", _main_camera(facts)), ("Guide field", _guide_field(facts)), ("Prism", _prism(facts))]
    lines = [*textwrap.wrap(facts.rig.name, width)]
    for title, rows in blocks:
        lines += ["", title]
        for label, text in rows:
            lines += _row(label, text, width)
    lines += _warnings(facts, width)
    lines += ["", "Values in use, defaults included (units are in the names)"]
    for section in SECTIONS:
        lines += _row(section, _values_line(facts, section), width)
    return "\n".join(lines) + "\n"


def _row(label: str, text: str, width: int) -> list[str]:
    first = f"  {label:<{_LABEL_WIDTH}}"
    return textwrap.wrap(
        text,
        width,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_long_words=False,
        break_on_hyphens=False,
    )


def _main_camera(facts: RigFacts) -> list[tuple[str, str]]:
    telescope = facts.rig.telescope
    return [
        (
            "focal ratio",
            f"f/{facts.f_ratio:.1f} ({telescope.focal_length_mm:g} mm, {telescope.aperture_mm:g} mm aperture)",
        ),
        ("image scale", f"{facts.main_scale_arcsec_per_px:.2f}″ a pixel"),
        ("frame on the sky", f"{facts.frame_width_arcmin:.1f}′ × {facts.frame_height_arcmin:.1f}′ (width × height)"),
    ]


def _guide_field(facts: RigFacts) -> list[tuple[str, str]]:
    field, guide = facts.field, facts.rig.guide_camera
    binned = (
        ""
        if guide.binning == 1
        else f", {facts.guide_scale_arcsec_per_px * guide.binning:.2f}″ binned by {guide.binning}"
    )
    return [
        ("image scale", f"{facts.guide_scale_arcsec_per_px:.2f}″ a pixel{binned}"),
        ("centre", f"{field.centre_mm:.2f} mm or {field.centre_arcmin:.1f}′ from the axis, {_side(facts)}"),
        (
            "size",
            f"{facts.field_width_mm:.2f} × {facts.field_height_mm:.2f} mm or {field.width_arcmin:.1f}′ × "
            f"{field.height_arcmin:.1f}′ (along the edge × outward), limited by the {facts.limited_by}",
        ),
        (
            "full turn",
            f"{facts.turn_area_deg2:.3f} square degrees of sky, from {field.inner_mm:.2f} to {field.outer_mm:.2f} mm "
            "from the axis",
        ),
    ]


def _side(facts: RigFacts) -> str:
    """Say where the prism sits in the displayed main picture."""
    prism = facts.rig.prism
    if prism.side:
        return f"beyond the {prism.side} edge of the main picture"
    return f"{prism.side_deg:g}° from the top of the main picture towards its left"


def _prism(facts: RigFacts) -> list[tuple[str, str]]:
    prism = facts.rig.prism
    dark = f", of which the middle {facts.beam_dark_diameter_mm:.1f} mm are dark" if facts.beam_dark_diameter_mm else ""
    face = f"its face is {prism.width_mm:g} × {prism.height_mm:g} mm"
    return [
        ("beam of one star", f"{facts.beam_diameter_mm:.1f} mm across at the prism{dark}; {face}"),
        ("exit pupil", _exit_pupil(facts)),
        ("clearance", _clearance(facts)),
    ]


def _exit_pupil(facts: RigFacts) -> str:
    pupil = facts.rig.telescope.exit_pupil_mm
    if math.isinf(pupil):
        return "infinitely far (telecentric): the guide field's centre lies as far out as the prism's"
    return (
        f"{pupil:g} mm before the focal plane; if it were infinitely far (telecentric), the guide field's centre "
        f"would lie {facts.telecentric_shift_mm:.2f} mm or {facts.telecentric_shift_arcmin:.1f}′ nearer to the axis"
    )


def _clearance(facts: RigFacts) -> str:
    offset = facts.rig.prism.offset_mm
    start = f"offset {offset:.2f} mm, least clear offset {facts.least_clear_offset_mm:.2f} mm: the prism "
    if facts.clear_depth_mm < 0:
        return f"{start}shadows the main sensor, {-facts.clear_depth_mm:.2f} mm too far in"
    return f"{start}may go in {facts.clear_depth_mm:.2f} mm further before it shadows the main sensor"


def _warnings(facts: RigFacts, width: int) -> list[str]:
    warnings = facts.rig.warnings
    if not warnings:
        return ["", "No warnings."]
    lines = ["", "Warnings"]
    for warning in warnings:
        lines += textwrap.wrap(warning, width, initial_indent="  - ", subsequent_indent="    ", break_on_hyphens=False)
    return lines


def _values_line(facts: RigFacts, section: str) -> str:
    """Write a section's values in one run of text, or that the rig has no such section."""
    values = rig_values(facts)[section]
    if values is None:
        return "none in the file"
    return ", ".join(f"{key} {_shown(value)}" for key, value in values.items())


def _shown(value: Any) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(_shown(item) for item in value)}]"
    return ", ".join(f"{k} {_shown(v)}" for k, v in value.items()) if isinstance(value, dict) else str(value)


def rig_values(facts: RigFacts) -> dict[str, dict[str, Any] | None]:
    """Return the rig's values by section, defaults filled in; None for a section that the rig does not have."""
    sections = {name: getattr(facts.rig, name) for name in SECTIONS}
    return {name: None if section is None else asdict(section) for name, section in sections.items()}


def rig_to_json(facts: RigFacts) -> dict[str, Any]:
    """Return the facts in the schema guidestar.rig/1.

    Numbers to six decimals; an infinite exit pupil is null, since JSON has no infinity.
    """
    values = rig_values(facts)
    telescope = values["telescope"] or {}
    if math.isinf(telescope["exit_pupil_mm"]):
        telescope["exit_pupil_mm"] = None
    field = facts.field
    plain = {
        "schema": SCHEMA,
        "name": facts.rig.name,
        "f_ratio": facts.f_ratio,
        "main": {
            "scale_arcsec_per_px": facts.main_scale_arcsec_per_px,
            "width_arcmin": facts.frame_width_arcmin,
            "height_arcmin": facts.frame_height_arcmin,
        },
        "guide": {"scale_arcsec_per_px": facts.guide_scale_arcsec_per_px, "binning": facts.rig.guide_camera.binning},
        "field": {
            "centre_mm": field.centre_mm,
            "centre_arcmin": field.centre_arcmin,
            "width_mm": facts.field_width_mm,
            "height_mm": facts.field_height_mm,
            "width_arcmin": field.width_arcmin,
            "height_arcmin": field.height_arcmin,
            "scale_arcsec_per_mm": field.scale_arcsec_per_mm,
            "limited_by": facts.limited_by,
            "inner_mm": field.inner_mm,
            "outer_mm": field.outer_mm,
            "turn_area_deg2": facts.turn_area_deg2,
        },
        "prism": {
            "beam_diameter_mm": facts.beam_diameter_mm,
            "beam_dark_diameter_mm": facts.beam_dark_diameter_mm,
            "telecentric_shift_mm": facts.telecentric_shift_mm,
            "telecentric_shift_arcmin": facts.telecentric_shift_arcmin,
            "least_clear_offset_mm": facts.least_clear_offset_mm,
            "clear_depth_mm": facts.clear_depth_mm,
        },
        "rig": values,
        "warnings": list(facts.rig.warnings),
    }
    return {key: _rounded(value) for key, value in plain.items()}


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, 6)
    return {key: _rounded(item) for key, item in value.items()} if isinstance(value, dict) else value
