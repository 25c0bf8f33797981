"""The rig: everything the user owns that matters here, from a TOML file to checked, frozen values."""

from guidestar.rig.build import Rig, rig_from_dict
from guidestar.rig.clearance import least_clear_offset_mm
from guidestar.rig.model import (
    Camera,
    GuideCamera,
    Guiding,
    Mount,
    Part,
    Prism,
    Site,
    Sky,
    Telescope,
    Train,
)
from guidestar.rig.presets import PRESETS, preset, preset_toml
from guidestar.rig.read import read_rig

__all__ = [
    "PRESETS",
    "Camera",
    "GuideCamera",
    "Guiding",
    "Mount",
    "Part",
    "Prism",
    "Rig",
    "Site",
    "Sky",
    "Telescope",
    "Train",
    "least_clear_offset_mm",
    "preset",
    "preset_toml",
    "read_rig",
    "rig_from_dict",
]
