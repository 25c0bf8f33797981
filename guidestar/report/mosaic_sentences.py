"""What a mosaic says, as sentences for a person."""

from __future__ import annotations

from guidestar.field.result import Intervals
from guidestar.nudge.result import Mosaic, Panel, Shift
from guidestar.report import wording as w
from guidestar.report.nudge_sentences import arcmin, centre, towards

_LEAST_SHOWN_LEANING_DEG = 0.05


def opening(mosaic: Mosaic) -> list[str]:
    """Say what the mosaic is, and about where."""
    target, rig = mosaic.target, mosaic.rig
    sides = f"{w.plain(rig.camera.width_mm, 2)}{w.NBSP}×{w.NBSP}{w.plain(rig.camera.height_mm, 2)}"
    return [
        f"A mosaic of {mosaic.columns} × {mosaic.rows} panels about {w.right_ascension(target.ra_deg)}, "
        f"{w.declination(target.dec_deg)} (ICRS). Neighbours share {w.unit(w.plain(mosaic.overlap_percent, 1), '%')} "
        f"of a frame. Stars are placed where they stand in {mosaic.epoch_year:.1f}; {mosaic.source}.",
        f"Rig “{rig.name}”: {w.unit(w.plain(rig.telescope.focal_length_mm), 'mm')}, camera {w.unit(sides, 'mm')}.",
    ]


def meaning(mosaic: Mosaic) -> str:
    """Say which camera angle is meant, and what the grid does."""
    grid = (
        "The grid of panels turns with the camera."
        if mosaic.grid_angle_deg is None
        else f"The grid stays put: its upper side points to {w.angle(mosaic.grid_angle_deg)}."
    )
    return (
        "One camera angle serves for all panels: set it once and leave the camera alone. It is counted from north at "
        f"each panel's own centre, as a plate solution there gives it and as an equatorial mount keeps it. {grid}"
    )


def warnings(mosaic: Mosaic) -> list[str]:
    """One paragraph a warning."""
    texts = list(mosaic.warnings)
    if mosaic.gaps:
        steepest = max(abs(panel.leaning_deg) for panel in mosaic.panels)
        texts.append(
            f"So near to the pole, or so wide, the panels' pictures lean by up to {steepest:.1f}° against the grid, "
            "neighbours by more than their overlap covers: expect gaps, or ask for more --overlap."
        )
    return [f"WARNING  {w.sentence(text)}" for text in texts]


def answer(mosaic: Mosaic) -> list[str]:
    """Which camera angles serve every panel."""
    if not mosaic.usable_angles_deg:
        return ["NO ANGLE FOR ALL  No camera angle gives every panel a guide star."]
    paragraphs = []
    if mosaic.sure_angles_deg:
        paragraphs.append(
            f"SURE  {_share(mosaic.sure_angles_deg)} of all camera angles give every panel a guide star wherever the "
            f"prism sits within its accuracy: {w.spans(mosaic.sure_angles_deg)}."
        )
    else:
        paragraphs.append("SURE  No camera angle is sure for every panel.")
    paragraphs.append(
        f"USABLE  {_share(mosaic.usable_angles_deg)} of all camera angles, if the prism sits exactly where you "
        f"measured it: {w.spans(mosaic.usable_angles_deg)}."
    )
    return paragraphs + _flip(mosaic)


def _flip(mosaic: Mosaic) -> list[str]:
    safe = mosaic.flip_safe_angles_deg
    if safe is None:
        return []
    if not safe:
        return ["MERIDIAN FLIP  None of them serves every panel both before and after the flip."]
    return [f"MERIDIAN FLIP  {_share(safe)} serve every panel both before and after the flip: {w.spans(safe)}."]


def _share(intervals: Intervals) -> str:
    return w.share(sum(end - start for start, end in intervals) / 360.0)


def chosen(mosaic: Mosaic) -> str:
    """Say which camera angle the table shows, and how the panels fare there."""
    total = len(mosaic.panels)
    counts = f"{mosaic.usable_panels} of {w.counted(total, 'panel')} usable, {mosaic.sure_panels} of them sure"
    if mosaic.asked_for:
        play = f", give or take {w.plain(mosaic.tolerance_deg, 2)}°" if mosaic.tolerance_deg > 0 else ""
        return f"YOUR ANGLE  {w.angle(mosaic.angle_deg)}{play}: {counts}."
    if mosaic.margin_deg is None:
        return f"No panel has a guide star at any camera angle; drawn at {w.angle(mosaic.angle_deg)}."
    missed = "Any other will do." if mosaic.margin_deg >= 180.0 else _missed(mosaic.margin_deg)
    return f"BEST ANGLE  Set the camera to {w.angle(mosaic.angle_deg)}: {counts}. {missed}{_too_narrow(mosaic)}"


def _too_narrow(mosaic: Mosaic) -> str:
    """Say why the best angle leaves panels without a star although some angles serve them all."""
    if not mosaic.usable_angles_deg or mosaic.usable_panels == len(mosaic.panels):
        return ""
    return (
        f" The angles that serve every panel are too narrow to be set to ±{w.plain(mosaic.tolerance_deg, 2)}°: to try "
        "one, set --tolerance lower."
    )


def _missed(margin_deg: float) -> str:
    return f"You may miss it by {w.margin(margin_deg)} either way."


def panel_name(panel: Panel) -> str:
    """Name a panel by its row and column."""
    return f"{panel.row}.{panel.column}"


def verdict(panel: Panel) -> str:
    """One word for a panel."""
    return "sure" if panel.asked.sure else "usable" if panel.asked.usable else "no"


def leaning(panel: Panel) -> str:
    """Write how far a panel's picture leans against the grid."""
    return "–" if abs(panel.leaning_deg) < _LEAST_SHOWN_LEANING_DEG else f"{w.signed(panel.leaning_deg, 1)}°"


def table_note() -> str:
    """Say what the table's columns are."""
    return (
        "panel: row.column, from the top left as the picture shows it; centres ICRS; lean: how far its picture leans "
        "against the grid, as north there does (towards the east of north positive); stars: how many are usable."
    )


def nudges(mosaic: Mosaic) -> list[str]:
    """Say what would help each panel that has no star."""
    found = []
    for panel in mosaic.panels:
        if panel.nudge is not None:
            name, best, beyond = panel_name(panel), panel.nudge.best, panel.nudge.beyond
            if best is not None:
                found.append(f"Panel {name}: {_move(best)}.")
            elif beyond is not None:
                found.append(
                    f"Panel {name}: no shift of up to {arcmin(mosaic.nudge_limit_arcmin)} brings a star; the nearest: "
                    f"{_move(beyond)}."
                )
            else:
                found.append(f"Panel {name}: no shift that keeps its middle in the picture brings a star.")
    return found


def _move(shift: Shift) -> str:
    how = "surely" if shift.sure else "if the prism sits where you measured it"
    stars = w.joined([w.star(star_id) for star_id in shift.star_ids[:2]])
    return (
        f"point to {centre(shift)}, {arcmin(shift.shift_arcmin)} to the {w.compass(shift.direction_deg)}, so that its "
        f"middle moves towards the {towards(shift.target)} of the picture; {stars} then, {how}"
    )


def completeness(mosaic: Mosaic) -> str:
    """Say how far the answer can be trusted."""
    source = f"{mosaic.source} is complete to about {w.magnitude(mosaic.complete_to_mag)}"
    reach = f"Your guide camera reaches {w.magnitude(mosaic.faintest_mag)} at best"
    if mosaic.exposure_s is None:
        reach = f"Every star down to {w.magnitude(mosaic.faintest_mag)} counts"
    if mosaic.faintest_mag <= mosaic.complete_to_mag:
        return f"STARS  {reach}, and {source}."
    return (
        f"STARS  {reach}, and {source}: fainter stars that it does not list may serve more panels than shown, never "
        "fewer. 'guidestar stars fetch' brings them."
    )
