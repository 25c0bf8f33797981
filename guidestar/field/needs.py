"""What a rig needs of a star catalogue: how far around a target, and how faint."""

from __future__ import annotations

from dataclasses import dataclass

from guidestar.field import geometry
from guidestar.field.acceptance import accepting
from guidestar.field.nearby import HINT_REACH_MM
from guidestar.rig import Rig


@dataclass(frozen=True)
class StarNeeds:
    """Radii around a target, degrees, and a magnitude.

    `radius_deg` holds every star that can be usable, the prism's accuracy included; `wide_radius_deg` also those that
    hints and pictures look at. `faintest_mag` is the rig's limit, or its deepest reach anywhere in the field.
    """

    radius_deg: float
    wide_radius_deg: float
    faintest_mag: float


def star_needs(rig: Rig) -> StarNeeds:
    """Return what a rig needs of a star catalogue.

    Raises
    ------
    InputError
        Nothing is left of the guide field.
    """
    field, _, accepts = accepting(rig)
    outer_mm = field.outer_mm + accepts.accuracy_mm
    focal_mm = rig.telescope.focal_length_mm
    near, wide = (geometry.radius_to_arcmin(mm, focal_mm) / 60 for mm in (outer_mm, outer_mm + HINT_REACH_MM))
    return StarNeeds(near, wide, accepts.faintest_mag)
