"""Pick-off or guide scope, side by side, as text for a person."""

from __future__ import annotations

from collections.abc import Callable

from guidestar.field.guidescope import (
    COUNTED_TO_G_MAG,
    LEVER_MM,
    STARS_PER_DEG2_AT_POLE,
    STARS_PER_DEG2_IN_PLANE,
    STEADY_PX,
    GuideScopeComparison,
    GuideView,
)
from guidestar.report import wording as w
from guidestar.report.sheet import new_sheet
from guidestar.signal.centroid import pixel_arcsec

_NOT_ENOUGH = (
    "NOT GOOD ENOUGH  when the telescope itself moves what the guide scope cannot see (a primary mirror that tips, a "
    "focuser that sags), with long exposures or at long focal lengths: no guide star, however bright, tells it. Then "
    "the pick-off is the answer, and a brighter or better lit star there."
)


def render_guide_scope(scope: GuideScopeComparison, *, width: int | None = None, colour: bool = False) -> str:
    """Write the comparison; parameters and return value as `guidestar.report.reach_text.render_reach`."""
    sheet = new_sheet(width, colour)
    sheet.title(scope.rig.name)
    sheet.prose([_opening(scope)])
    for paragraph in _warnings(scope):
        sheet.prose([paragraph], hang="  ")
    sheet.gap()
    rows = _rows(scope)
    if not sheet.table(
        ("  per pointing", "pick-off", "guide scope"), [(f"  {a}", b, c) for a, b, c in rows], frozenset({0})
    ):
        sheet.prose([f"{a}: pick-off {b}, guide scope {c}" for a, b, c in rows], indent="  ", hang="  ")
    sheet.prose([_table_note(scope)], indent="  ")
    for paragraph in (_flexure(scope), _good_enough(scope), _NOT_ENOUGH, _find_out(scope)):
        sheet.gap()
        sheet.prose([paragraph], hang="  ")
    return sheet.finished()


def _opening(scope: GuideScopeComparison) -> str:
    focal, aperture = scope.focal_length_mm, scope.aperture_mm
    guiding = scope.rig.guiding
    return (
        f"The same guide camera behind a separate guide scope of {w.unit(w.plain(focal), 'mm')} focal length and "
        f"{w.unit(w.plain(aperture), 'mm')} aperture (f/{w.plain(focal / aperture)}), beside your pick-off; "
        f"{w.exposure(guiding.exposure_s)} exposures, airmass {w.plain(guiding.airmass, 2)}, sky "
        f"V{w.NBSP}{w.plain(scope.rig.sky.brightness_mag_arcsec2, 2)} a square arcsecond."
    )


def _warnings(scope: GuideScopeComparison) -> list[str]:
    views = (("pick-off", scope.pick_off), ("guide scope", scope.guide_scope))
    return [
        f"WARNING  With the {name} most of a star falls into one pixel of {w.small(view.scale_arcsec_per_px)}″: where "
        "in the pixel it stands then decides, and its errors below are too hopeful."
        for name, view in views
        if view.undersampled
    ]


def _rows(scope: GuideScopeComparison) -> list[tuple[str, str, str]]:
    pixel = pixel_arcsec(scope.rig.telescope.focal_length_mm, scope.rig.camera.pixel_um)

    def row(words: str, of: Callable[[GuideView], str]) -> tuple[str, str, str]:
        return words, of(scope.pick_off), of(scope.guide_scope)

    rows = [
        row("a guide pixel", lambda view: f"{w.small(view.scale_arcsec_per_px)}″"),
        row("field", lambda view: f"{view.width_arcmin:.1f}′{w.NBSP}×{w.NBSP}{view.height_arcmin:.1f}′"),
        row("field, square degrees", lambda view: f"{view.area_deg2:.3f}"),
        row("catalogue stars in it", lambda view: _count(view.catalogue_stars())),
        row("… near the galactic poles", lambda view: _count(view.catalogue_stars(STARS_PER_DEG2_AT_POLE))),
        row("… in the Milky Way", lambda view: _count(view.catalogue_stars(STARS_PER_DEG2_IN_PLANE))),
        row("faintest star, G", lambda view: "dark" if view.faintest_mag is None else f"{view.faintest_mag:.2f}"),
        row("the air's motion, at most", lambda view: w.arcsec(view.image_motion_arcsec)),
        row("… in main pixels", lambda view: w.small(view.image_motion_arcsec / pixel)),
    ]
    for here, there in zip(scope.pick_off.stars, scope.guide_scope.stars, strict=True):
        words = f"error for G{w.NBSP}{here.g_mag:g}, main pixels"
        errors = (here.centroid_main_px, there.centroid_main_px)
        first, second = ("–" if value is None else w.small(value) for value in errors)
        rows.append((words, first, second))
    return rows


def _count(stars: float) -> str:
    return f"{stars:.0f}" if stars >= 10 else f"{stars:.1f}"


def _table_note(scope: GuideScopeComparison) -> str:
    note = (
        "Catalogue stars: entries of Tycho-2 at the sky's mean density, 61.57 a square degree; an average, no count at "
        "your target. error: of the star's place, one axis, one exposure, from the light alone; one main pixel is "
        f"{w.small(scope.flexure.arcsec)}″."
    )
    faintest = scope.guide_scope.faintest_mag
    if faintest is not None and faintest < COUNTED_TO_G_MAG:
        note += f" Not all of these stars are within the guide scope's reach of {w.magnitude(faintest)}."
    return note


def _flexure(scope: GuideScopeComparison) -> str:
    flexure = scope.flexure
    lever, sensor = (w.unit(w.small(value), "µm") for value in (flexure.at_lever_um, flexure.at_guide_sensor_um))
    return (
        f"FLEXURE  Guide scope and telescope may bend against each other by {w.small(flexure.arcsec)}″ before your "
        f"picture moves by a pixel: that is {lever} at the end of a lever of {w.unit(w.plain(LEVER_MM), 'mm')} (an "
        f"assumed length), or {sensor} at the guide sensor. Within one exposure of {w.exposure(scope.main_exposure_s)} "
        f"a steady {w.small(scope.rate_arcsec_per_min)}″ a minute does it. A pick-off looks through the same telescope "
        "and does not have this fault."
    )


def _good_enough(scope: GuideScopeComparison) -> str:
    light = (
        f"Its light is enough: a star of G{w.NBSP}10 is placed to better than {w.plain(STEADY_PX)} main pixels."
        if scope.light_suffices
        else f"Its light is no help here: even a star of G{w.NBSP}10 is not placed to {w.plain(STEADY_PX)} main pixels."
    )
    return (
        "GOOD ENOUGH  when the two tubes stay together to within that figure: firm clamps and rings, no mirror or "
        "focuser that shifts, short exposures, coarse pixels in the picture. It shows more sky, so that a guide star "
        f"is rarely lacking. {light}"
    )


def _find_out(scope: GuideScopeComparison) -> str:
    return (
        "FIND OUT  Guide for an hour with the guide scope and compare your first and last picture: the shift in "
        f"pixels, over the number of exposures in that hour ({3600 / scope.main_exposure_s:.0f} of "
        f"{w.exposure(scope.main_exposure_s)}), is the smear in each. Under one pixel, and the guide scope will do."
    )
