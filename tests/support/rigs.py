"""Rigs for tests: plain dictionaries in the rig file's own shape. All invented."""

from __future__ import annotations

import copy

from guidestar.rig import Rig, rig_from_dict

COMPOUND = {
    "name": "long compound",
    "telescope": {
        "focal_length_mm": 2000.0,
        "aperture_mm": 200.0,
        "central_obstruction_mm": 70.0,
        "exit_pupil_mm": 600.0,
    },
    "camera": {"width_mm": 11.3, "height_mm": 11.3, "pixel_um": 3.76},
    "prism": {"width_mm": 14.0, "height_mm": 8.0, "offset_mm": 14.0, "ahead_mm": 50.0},
    "guide_camera": {"width_mm": 5.6, "height_mm": 3.2, "pixel_um": 2.9},
}
NEWTONIAN = {
    "name": "fast reflector",
    "telescope": {"focal_length_mm": 1000.0, "aperture_mm": 200.0, "central_obstruction_mm": 70.0},
    "camera": {"width_mm": 23.5, "height_mm": 15.7, "pixel_um": 3.76, "mirrored": True},
    "prism": {"width_mm": 8.0, "height_mm": 8.0, "offset_mm": 18.0, "ahead_mm": 40.0, "side": "left"},
    "guide_camera": {"width_mm": 11.2, "height_mm": 6.3, "pixel_um": 2.9, "turned_deg": 20.0},
}
REFRACTOR = {
    "name": "short refractor",
    "telescope": {"focal_length_mm": 480.0, "aperture_mm": 80.0},
    "camera": {"width_mm": 17.7, "height_mm": 13.4, "pixel_um": 4.63},
    "prism": {"width_mm": 8.0, "height_mm": 8.0, "offset_mm": 15.0, "ahead_mm": 45.0, "side_deg": 215.0},
    "guide_camera": {"width_mm": 4.8, "height_mm": 3.6, "pixel_um": 3.75},
}


FAST = {
    "name": "fast reflector in a wide cone",
    "telescope": {"focal_length_mm": 800.0, "aperture_mm": 200.0, "central_obstruction_mm": 80.0},
    "camera": {"width_mm": 17.7, "height_mm": 13.4, "pixel_um": 3.76},
    "prism": {"width_mm": 8.0, "height_mm": 8.0, "offset_mm": 18.5, "ahead_mm": 60.0},
    "guide_camera": {"width_mm": 7.4, "height_mm": 5.0, "pixel_um": 2.9, "turned_deg": 12.0},
}


def rig(base: dict = COMPOUND, **changes: object) -> Rig:
    """Return a rig with some keys changed: `rig(COMPOUND, prism__offset_mm=12.0)`."""
    content = copy.deepcopy(base)
    for key, value in changes.items():
        section, name = key.split("__")
        content.setdefault(section, {})[name] = value
    return rig_from_dict(content)
