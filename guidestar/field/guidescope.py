"""Pick-off or guide scope: the same guide camera behind a small separate telescope, beside the rig's own prism."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, cast

from guidestar.constants import ARCMIN_PER_RADIAN
from guidestar.errors import InputError
from guidestar.field.light import guide_setup
from guidestar.field.reach_points import StarFigures, Wish, finite, star_figures
from guidestar.rig import Rig
from guidestar.signal import snr
from guidestar.signal.guidescope import Flexure, flexure_of_one_pixel, guide_scope_setup
from guidestar.signal.saturation import saturation_mag
from guidestar.signal.seeing import image_motion_arcsec
from guidestar.signal.setup import GuideSetup

STARS_PER_DEG2: Final = 61.57
"""Mean density of Tycho-2's main list over the whole sky: 2,539,913 entries of all magnitudes on 41,253 deg²."""

STARS_PER_DEG2_AT_POLE: Final = 23.6
STARS_PER_DEG2_IN_PLANE: Final = 144.5
"""The same within 10° of the galactic poles and within 2.5° of the galactic plane, counted from the catalogue's files;
its own ReadMe (CDS I/259) says 25 and 150."""

COUNTED_TO_G_MAG: Final = 12.0
"""Most of the entries that those densities count are brighter than this: a shallower reach sees fewer stars."""

LEVER_MM: Final = 200.0
"""An assumed length from the clamp to where a guide scope or its rail gives way."""

USUAL_MAIN_EXPOSURE_S: Final = 300.0

STEADY_PX: Final = 0.2
"""Our own yardstick: a guide star placed to a fifth of a main pixel leaves no mark on the picture."""


@dataclass(frozen=True)
class GuideView:
    """What the guide camera gets at one pointing, one way or the other.

    The scale is that of a binned pixel. Width, height and area are those of the sensor less its margin. `faintest_mag`
    and the figures of stars hold for full light (the guide scope) or for the field's centre (the pick-off).
    `image_motion_arcsec` as in `guidestar.field.reach`.
    """

    scale_arcsec_per_px: float
    width_arcmin: float
    height_arcmin: float
    area_deg2: float
    faintest_mag: float | None
    limited_by: Wish
    saturation_mag: float | None
    stars: tuple[StarFigures, ...]
    image_motion_arcsec: float
    undersampled: bool

    def catalogue_stars(self, per_deg2: float = STARS_PER_DEG2) -> float:
        """Return how many Tycho-2 entries the field holds at one pointing, at a density of the sky."""
        return self.area_deg2 * per_deg2


@dataclass(frozen=True)
class GuideScopeComparison:
    """The pick-off and a guide scope side by side.

    `flexure` moves the main picture by one pixel; `rate_arcsec_per_min` is the steady bending that does it within one
    main exposure. `light_suffices`: whether the guide scope places a star of G 10 to a fifth of a main pixel.
    """

    rig: Rig
    focal_length_mm: float
    aperture_mm: float
    main_exposure_s: float
    pick_off: GuideView
    guide_scope: GuideView
    flexure: Flexure
    rate_arcsec_per_min: float
    light_suffices: bool


def compare_guide_scope(
    rig: Rig,
    pick_off_throughput: float,
    *,
    focal_length_mm: float,
    aperture_mm: float,
    main_exposure_s: float = USUAL_MAIN_EXPOSURE_S,
) -> GuideScopeComparison:
    """Compare the rig's pick-off with the same guide camera behind a guide scope.

    Parameters
    ----------
    rig : Rig
        Whose guide camera, sky, exposure and wishes hold for both.
    pick_off_throughput : float
        τ at the centre of the rig's guide field, 0 to 1.
    focal_length_mm, aperture_mm : float
        Of the guide scope.
    main_exposure_s : float
        Length of one exposure of the main camera, > 0.

    Raises
    ------
    InputError
        Numbers that no guide scope or exposure has.
    """
    if not (math.isfinite(main_exposure_s) and main_exposure_s > 0):
        raise InputError(f"--main-exposure {main_exposure_s:g}: must be more than 0 seconds, such as 300.")
    main = guide_setup(rig)
    scope = guide_scope_setup(main, focal_length_mm=focal_length_mm, aperture_mm=aperture_mm)
    flexure = flexure_of_one_pixel(
        main_focal_length_mm=rig.telescope.focal_length_mm,
        main_pixel_um=rig.camera.pixel_um,
        guide_focal_length_mm=focal_length_mm,
        lever_mm=LEVER_MM,
    )
    behind_scope = _view(rig, scope, 1.0, main.fwhm_at_airmass_arcsec)
    brightest = behind_scope.stars[0].centroid_main_px
    return GuideScopeComparison(
        rig=rig,
        focal_length_mm=focal_length_mm,
        aperture_mm=aperture_mm,
        main_exposure_s=main_exposure_s,
        pick_off=_view(rig, main, pick_off_throughput, main.fwhm_at_airmass_arcsec),
        guide_scope=behind_scope,
        flexure=flexure,
        rate_arcsec_per_min=flexure.rate_arcsec_per_min(main_exposure_s),
        light_suffices=brightest is not None and brightest <= STEADY_PX,
    )


def _view(rig: Rig, setup: GuideSetup, throughput: float, seeing_arcsec: float) -> GuideView:
    found = snr.reach(throughput, setup)
    margin_mm = 2 * rig.guiding.edge_margin_mm
    half_width = (rig.guide_camera.width_mm - margin_mm) / 2 / setup.focal_length_mm
    half_height = (rig.guide_camera.height_mm - margin_mm) / 2 / setup.focal_length_mm
    return GuideView(
        scale_arcsec_per_px=setup.binned_pixel_arcsec,
        width_arcmin=2 * math.atan(half_width) * ARCMIN_PER_RADIAN,
        height_arcmin=2 * math.atan(half_height) * ARCMIN_PER_RADIAN,
        area_deg2=rectangle_deg2(half_width, half_height),
        faintest_mag=finite(found.faintest_mag),
        limited_by=cast(Wish, str(found.limited_by)),
        saturation_mag=finite(saturation_mag(throughput, setup)),
        stars=star_figures(throughput, setup, rig),
        image_motion_arcsec=image_motion_arcsec(setup, seeing_arcsec=seeing_arcsec),
        undersampled=setup.undersampled,
    )


def rectangle_deg2(half_width: float, half_height: float) -> float:
    """Return the solid angle, square degrees, of a rectangle centred on the axis, its half sides in focal lengths.

    4 atan(ab/√(1 + a² + b²)). A pick-off's field lies off the axis, where the sky on a millimetre is less by the cube
    of the cosine: under 0.1 % for one degree.
    """
    a, b = half_width, half_height
    return 4.0 * math.atan(a * b / math.sqrt(1.0 + a * a + b * b)) * math.degrees(1.0) ** 2
