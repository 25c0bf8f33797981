"""Rigs to start from, by kind and size, and the commented file made from each.

The numbers are of the usual order for such equipment (common practice, no source); everybody measures their own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from types import MappingProxyType
from typing import Any, Final

from guidestar.errors import InputError
from guidestar.rig.build import Rig, rig_from_dict
from guidestar.rig.template import RIG_FILE
from guidestar.rig.wording import did_you_mean, plain, shown

_GUIDE_CAMERA: Final = {"width_mm": 5.6, "height_mm": 3.2, "pixel_um": 2.9}
_SMALL_GUIDE_CAMERA: Final = {"width_mm": 4.8, "height_mm": 3.6, "pixel_um": 3.75, "read_noise_e": 3.5}

# Offsets clear the main sensor's light by more than the millimetre to which an offset is known.
_KINDS: Final[Mapping[str, Mapping[str, Any]]] = {
    "compound-2000-f10": {
        "name": "Compound telescope 2000 mm f/10",
        "telescope": {
            "focal_length_mm": 2000.0,
            "aperture_mm": 200.0,
            "central_obstruction_mm": 68.0,
            "exit_pupil_mm": 700.0,
            "image_circle_mm": 38.0,
            "transmission": 0.8,
        },
        "camera": {"width_mm": 17.7, "height_mm": 13.4, "pixel_um": 3.8},
        "prism": {"offset_mm": 14.5, "ahead_mm": 60.0},
        "guide_camera": _GUIDE_CAMERA,
    },
    "newtonian-1000-f5": {
        "name": "Newtonian with corrector 1000 mm f/5",
        "telescope": {
            "focal_length_mm": 1000.0,
            "aperture_mm": 200.0,
            "central_obstruction_mm": 70.0,
            "image_circle_mm": 44.0,
            "transmission": 0.78,
        },
        "camera": {"width_mm": 23.5, "height_mm": 15.7, "pixel_um": 3.76},
        "prism": {"offset_mm": 17.0, "ahead_mm": 40.0},
        "guide_camera": _GUIDE_CAMERA,
    },
    "refractor-480-f6": {
        "name": "Refractor with flattener 480 mm f/6",
        "telescope": {
            "focal_length_mm": 480.0,
            "aperture_mm": 80.0,
            "image_circle_mm": 44.0,
            "transmission": 0.9,
            "fwhm_arcsec": 4.0,
        },
        "camera": {"width_mm": 11.3, "height_mm": 11.3, "pixel_um": 3.76},
        "prism": {"offset_mm": 14.0, "ahead_mm": 42.0},
        "guide_camera": _SMALL_GUIDE_CAMERA,
    },
}
_PRISMS_MM: Final = {"8x8": (8.0, 8.0), "14x8": (14.0, 8.0)}

# Keys that a file to start from leaves commented out unless the preset sets them: their defaults follow other keys,
# or they are limits that not everybody has.
_LEFT_OUT: Final = (
    "telescope.exit_pupil_mm",
    "telescope.image_circle_mm",
    "prism.side_deg",
    "prism.holder_width_mm",
    "prism.glass_path_mm",
    "guiding.faintest_mag",
)
_COMMENT_COLUMN: Final = 33
_EXAMPLES: Final = {"telescope.image_circle_mm": 40.0, "guiding.faintest_mag": 12.0}


def _with_prism(kind: Mapping[str, Any], size: str) -> Mapping[str, Any]:
    """Return a kind's values with a prism of this size, its name saying so."""
    width_mm, height_mm = _PRISMS_MM[size]
    prism = {"width_mm": width_mm, "height_mm": height_mm, **kind["prism"]}
    return {**kind, "name": f"{kind['name']}, prism {width_mm:g} × {height_mm:g} mm", "prism": prism}


PRESETS: Final[Mapping[str, Mapping[str, Any]]] = MappingProxyType(
    {f"{name}-prism-{size}": _with_prism(kind, size) for name, kind in _KINDS.items() for size in _PRISMS_MM}
    | {name: _with_prism(kind, "8x8") for name, kind in _KINDS.items()}
)
"""Each preset's values, shaped like a rig file; a name without a prism has the 8 × 8 mm one."""


def preset(name: str) -> Rig:
    """Return a preset as a rig; `InputError` with the nearest and all names if there is none of that name."""
    if not isinstance(name, str):
        raise InputError(f"name: found {shown(name)}, must be the name of a preset.")
    if name not in PRESETS:
        near = did_you_mean(name, PRESETS)
        raise InputError(f'there is no preset "{plain(name)}"{near or "."} Presets: {", ".join(PRESETS)}')
    return rig_from_dict(PRESETS[name], where=name)


def preset_toml(name: str) -> str:
    """Return the commented rig file of a preset, every key in it; `InputError` if there is none of that name.

    Reading it gives the preset's rig.
    """
    rig = preset(name)
    values = _flat(rig)
    section, lines = "", []
    for line in RIG_FILE.splitlines():
        section = line if line.startswith("[") else section
        lines.append(_filled(line, section.strip("[]"), rig, values))
    return "".join(f"{line}\n" for line in lines)


def _filled(line: str, section: str, rig: Rig, values: Mapping[str, str]) -> str:
    """Fill in one line of the template and move its comment to a column of its own."""
    code, gap, comment = line.partition("  # ")
    if not gap and not code.endswith(" = $"):
        return line
    if code.endswith(" = $"):
        key = code.removesuffix(" = $")
        path = f"{section}.{key}".lstrip(".")
        code = f"{code[:-1]}{values[path]}"
        if path in _LEFT_OUT and key not in rig.source.get(section, {}):
            code = f"# {code}"
    return f"{code:<{_COMMENT_COLUMN - 2}}  # {comment}" if gap else code


def _flat(rig: Rig) -> dict[str, str]:
    """Return every value of the rig by key path, written as TOML."""
    values: dict[str, Any] = {"name": rig.name, "prism.side": rig.prism.side}
    for section in ("telescope", "camera", "prism", "guide_camera", "guiding", "mount", "sky"):
        values |= {f"{section}.{key}": value for key, value in asdict(getattr(rig, section)).items()}
    return {path: _toml(_EXAMPLES.get(path) if value is None else value) for path, value in values.items()}


def _toml(value: Any) -> str:
    """Write a name, a switch or a number as TOML (names of presets hold nothing that needs escaping)."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and math.isinf(value):
        return "inf"
    return f'"{value}"' if isinstance(value, str) else repr(value)
