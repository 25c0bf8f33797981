"""Trains for tests: the case of common practice (no source), in the rig file's own shape. All invented."""

from __future__ import annotations

import copy

from guidestar.rig import Rig, rig_from_dict

RIG = {
    "name": "reflector with corrector",
    "telescope": {
        "focal_length_mm": 1000.0, "aperture_mm": 200.0, "central_obstruction_mm": 70.0, "image_circle_mm": 44.0,
    },
    "camera": {"width_mm": 23.5, "height_mm": 15.7, "pixel_um": 3.76},
    "prism": {"width_mm": 8.0, "height_mm": 8.0, "offset_mm": 17.0},
    "guide_camera": {"width_mm": 5.6, "height_mm": 3.2, "pixel_um": 2.9},
    "train": {
        "back_focus_mm": 55.0,
        "camera_flange_mm": 6.5,
        "filter_thickness_mm": 0.0,
        "parts": [
            {"name": "pick-off body", "length_mm": 17.5, "prism_at_mm": 9.0},
            {"name": "filter drawer", "length_mm": 21.0, "filter_at_mm": 10.0},
        ],
    },
}  # fmt: skip
"""Body 17.5 mm, drawer 21 mm and flange 6.5 mm leave 10 mm of 55; the prism stands 36 mm before the sensor."""


def train_rig(**changes: object) -> Rig:
    """Return the rig with some keys changed: `train_rig(prism__offset_mm=12.0)`; None takes a key out."""
    content = copy.deepcopy(RIG)
    for key, value in changes.items():
        section, _, name = key.partition("__")
        if value is None:
            content[section].pop(name, None)
        else:
            content[section][name] = value
    return rig_from_dict(content)
