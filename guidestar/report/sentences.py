"""What a result says, as sentences for a person; `text.py` lays them out.

Every function returns a list of paragraphs (strings without line breaks). Words in capitals at the head of a
paragraph are its name, so that the eye finds it also without colour.
"""

from __future__ import annotations

from collections.abc import Sequence

from guidestar.field.light import USUAL_EXPOSURES_S
from guidestar.field.result import Asked, CheckResult, Hint, Placement, Setting, SideAnswer
from guidestar.report import wording as w
from guidestar.stars.flags import SPOILED, flag_names

_SPOILED = frozenset(flag_names(SPOILED))

_MOST_STARS_SHOWN = 10


def opening(result: CheckResult) -> list[str]:
    """Where the target stands, and what looks at it."""
    target = result.target
    return [
        f"{w.right_ascension(target.ra_deg)}, {w.declination(target.dec_deg)} (ICRS); "
        f"{w.galactic_place(target.b_deg)}. "
        f"Stars are placed where they stand in {result.epoch_year:.1f}.",
        _rig_line(result),
        _light_line(result),
    ]


def _light_line(result: CheckResult) -> str:
    """Say how bright a star must be: by its light and the exposure, or by a fixed limit."""
    limit = w.magnitude(result.stars.faintest_mag, result.stars.band)
    if result.exposure_s is None:
        return f"Every star down to {limit} counts wherever it stands in the guide field: its light is not reckoned."
    airmass, sky = result.rig.guiding.airmass, result.rig.sky.brightness_mag_arcsec2
    return (
        f"With {w.exposure(result.exposure_s)} exposures{_chosen(result)}, at airmass {w.plain(airmass, 2)} under a "
        f"sky of V{w.NBSP}{w.plain(sky, 2)} a square arcsecond, the guide camera reaches {limit} where it gets most "
        "light."
    )


def _chosen(result: CheckResult) -> str:
    """Say why this exposure; one that was not enough has a warning of its own."""
    if not result.exposure_chosen:
        return ""
    asked = result.asked
    if asked is not None and asked.usable:
        return f" (the shortest usual ones that make the camera angle {w.angle(asked.angle_deg)} usable)"
    if asked is None and result.usable.angles_deg:
        return " (the shortest usual ones that make any camera angle usable)"
    return " (the longest usual ones)"


def _rig_line(result: CheckResult) -> str:
    rig, field = result.rig, result.field
    scope, camera, prism, guide = rig.telescope, rig.camera, rig.prism, rig.guide_camera
    place = f"at the {prism.side} edge" if prism.side else f"at {w.plain(prism.side_deg)}° round the frame"
    return (
        f"Rig “{rig.name}”: {w.unit(w.plain(scope.focal_length_mm), 'mm')} at "
        f"f/{w.plain(scope.focal_length_mm / scope.aperture_mm)}, "
        f"camera {_size(camera.width_mm, camera.height_mm)}, prism {_size(prism.width_mm, prism.height_mm)} {place}, "
        f"{w.unit(w.plain(prism.offset_mm), 'mm')} from the axis, "
        f"guide camera {_size(guide.width_mm, guide.height_mm)}. Its guide field of {w.plain(field.width_arcmin)}′"
        f"{w.NBSP}×{w.NBSP}{w.plain(field.height_arcmin)}′ lies {w.plain(field.centre_arcmin)}′ from the target."
    )


def _size(width_mm: float, height_mm: float) -> str:
    return w.unit(f"{w.plain(width_mm, 2)}{w.NBSP}×{w.NBSP}{w.plain(height_mm, 2)}", "mm")


def warnings(result: CheckResult) -> list[str]:
    """One paragraph a warning."""
    return [f"WARNING  {w.sentence(text)}" for text in result.warnings]


def camera_angle_meaning() -> str:
    """Say what a camera angle is, in one line."""
    return (
        "A camera angle is where the upper edge of your picture points on the sky, counted from north (0°) through "
        "east (90°), as a plate solution gives it."
    )


def _prism_play(result: CheckResult) -> str:
    """Say how far the prism may be off; needs an accuracy above 0."""
    return f"up to {w.play(result.rig.prism.offset_accuracy_mm)} from where you measured it"


def _is_exact(result: CheckResult) -> bool:
    """Tell whether the rig allows nothing for the prism, so that what is usable is sure."""
    return result.rig.prism.offset_accuracy_mm == 0.0


def _enough_stars(result: CheckResult) -> str:
    number = result.rig.guiding.min_stars
    return "a guide star" if number == 1 else f"at least {number} guide stars"


def shares(result: CheckResult) -> list[str]:
    """How much of the circle is sure, then how much is usable; needs at least one usable angle."""
    return [_sure(result), _usable(result)]


def _sure(result: CheckResult) -> str:
    usable = result.usable
    if _is_exact(result) and usable.sure_angles_deg:
        return (
            f"SURE  {_who_find(result, usable.sure_fraction)}{_where(result)}. The rig file allows nothing for the "
            "prism (prism.offset_accuracy_mm = 0), so these are the usable ones and hold only if it sits exactly there."
        )
    if not usable.sure_angles_deg:
        return (
            f"SURE  No camera angle is sure: each one can lose its star if the prism sits {_prism_play(result)}. "
            "Measure the prism's offset more closely, or expect to search."
        )
    found = _who_find(result, usable.sure_fraction)
    return f"SURE  {found}, even if the prism sits {_prism_play(result)}{_where(result)}."


def _who_find(result: CheckResult, fraction: float) -> str:
    if fraction >= 1.0:
        return f"Every camera angle finds {_enough_stars(result)}"
    return f"{w.share(fraction)} of all camera angles find {_enough_stars(result)}"


def _where(result: CheckResult) -> str:
    usable = result.usable
    return "" if usable.sure_fraction >= 1.0 else f": {w.spans(usable.sure_angles_deg)}"


def _usable(result: CheckResult) -> str:
    usable = result.usable
    if usable.fraction >= 1.0:
        return "USABLE  Every camera angle, if the prism sits exactly where you measured it."
    return (
        f"USABLE  {w.share(usable.fraction)} of all camera angles, if the prism sits exactly where you measured it "
        f"({w.counted(len(usable.angles_deg), 'range')}, in the table below)."
    )


def setting(result: CheckResult, best: Setting) -> list[str]:
    """Describe the camera angle to dial in, how exactly it must be met, and what stands there."""
    name = "BEST SURE ANGLE" if best.sure else "BEST ANGLE"
    found = w.counted(len(best.star_ids), "usable star")
    paragraphs = [f"{name}  Set the camera to {w.angle(best.angle_deg)}. {_room(result, best)} You will find {found}:"]
    return paragraphs + _star_caveats(result, best)


def _room(result: CheckResult, best: Setting) -> str:
    accuracy = result.rig.guiding.rotation_accuracy_deg
    if best.margin_deg >= 180.0:
        return "Every other angle will do as well."
    margin = w.margin(best.margin_deg)
    if best.margin_deg >= accuracy:
        return (
            f"You may miss it by {margin} either way; you can set the angle to ±{w.plain(accuracy)}°, so there is room."
        )
    return (
        f"You may miss it by only {margin} either way, and you can set the angle to ±{w.plain(accuracy)}°: "
        "expect to need more than one try."
    )


def _star_caveats(result: CheckResult, best: Setting) -> list[str]:
    """Return a sentence for each star of the table that an observer should know something of."""
    flags = {star.id: star.flags for star in result.guide_stars}
    here = {item.star_id: item for item in shown(best.placements)}
    found = [(star_id, _caveats(flags.get(star_id, ()), here[star_id])) for star_id in best.star_ids if star_id in here]
    return [f"{w.star(star_id)} {'; it '.join(words)}." for star_id, words in found if words]


def _caveats(flags: tuple[str, ...], item: Placement) -> list[str]:
    """Say what holds at one camera angle: a star saturated where it is best lit perhaps is not here."""
    words = w.caveats([flag for flag in flags if flag != "saturated"])
    return [_saturated(item), *words] if saturated(item) else words


def _saturated(item: Placement) -> str:
    """Say that a star fills its pixel, and which exposure would not do so."""
    assert item.light is not None
    (words,) = w.caveats(["saturated"])
    exposure = item.light.unsaturated_exposure_s
    if exposure is None:
        return f"{words}, and no usual exposure ({w.exposure(USUAL_EXPOSURES_S[0])} or more) is short enough for it"
    return f"{words}, but {w.exposure(exposure)} would leave room and be enough for it"


def shown(placements: Sequence[Placement]) -> Sequence[Placement]:
    """Return the usable stars that the table of a camera angle holds: the brightest ones."""
    return [item for item in placements if item.usable][:_MOST_STARS_SHOWN]


def saturated(item: Placement) -> bool:
    """Tell whether a star fills its brightest pixel in one exposure where it stands."""
    return item.light is not None and item.light.peak_fill >= 1.0


def spoiled_ids(result: CheckResult) -> frozenset[str]:
    """Return the guide stars that the catalogue marks as double, close to another, or a galaxy."""
    return frozenset(star.id for star in result.guide_stars if not _SPOILED.isdisjoint(star.flags))


def wider_choice(result: CheckResult) -> list[str]:
    """Name the angle of widest margin if it is another one than the sure angle already shown."""
    best, sure = result.best, result.best_sure
    if best is None or sure is None or sure.margin_deg >= 180.0:
        return []
    if best.margin_deg >= 180.0:
        return ["If you trust your measured prism offset, any camera angle will do."]
    apart_deg = abs((best.angle_deg - sure.angle_deg + 180.0) % 360.0 - 180.0)
    if apart_deg < result.rig.guiding.rotation_accuracy_deg:
        return []
    return [
        f"If you trust your measured prism offset, {w.angle(best.angle_deg)} leaves {w.margin(best.margin_deg)} "
        f"either way, on {_with_magnitudes(result, best.star_ids)}."
    ]


def _with_magnitudes(result: CheckResult, star_ids: tuple[str, ...], most: int = 4) -> str:
    magnitudes = {star.id: star.g_mag for star in result.guide_stars}
    parts = [
        f"{w.star(star_id)} ({w.magnitude(magnitudes[star_id])})" if star_id in magnitudes else w.star(star_id)
        for star_id in star_ids[:most]
    ]
    if len(star_ids) > most:
        parts.append(f"{len(star_ids) - most} more")
    return w.joined(parts)


def flip_safe(result: CheckResult) -> list[str]:
    """Say what survives the meridian flip; nothing for a mount without one."""
    usable, best = result.usable, result.best_flip_safe
    if usable.flip_safe_fraction is None:
        return []
    enough = _enough_stars(result)
    if best is None:
        return [
            f"MERIDIAN FLIP  No camera angle finds {enough} both before and after the flip: "
            "plan to turn the camera when the mount flips."
        ]
    if usable.flip_safe_fraction >= 1.0:
        return [f"MERIDIAN FLIP  Every camera angle finds {enough} both before and after the flip."]
    twin = w.angle(best.angle_deg + 180.0)
    sure = "It is sure, and holds" if best.sure else "It is not sure; it holds"
    return [
        f"MERIDIAN FLIP  {w.share(usable.flip_safe_fraction)} of all camera angles find {enough} both before and after "
        f"the flip, with the camera left alone. Best for that: {w.angle(best.angle_deg)}, which becomes {twin} after "
        f"the flip. {sure} for {w.margin(best.margin_deg)} either way. Before the flip you guide on "
        f"{_with_magnitudes(result, best.star_ids, 3)}, after it on {_with_magnitudes(result, best.twin_star_ids, 3)}."
    ]


def asked(result: CheckResult, question: Asked) -> list[str]:
    """Answer whether the framing asked about is all right, its flip twin and, if asked for, its sides."""
    play = f", give or take {w.plain(question.tolerance_deg, 2)}°" if question.tolerance_deg > 0.0 else ""
    paragraphs = [f"YOUR ANGLE  {w.angle(question.angle_deg)}{play}: {_verdict(result, question)}"]
    if question.twin_usable is not None:
        answer = "yes" if question.twin_usable else "no"
        paragraphs.append(f"After the meridian flip ({w.angle(question.angle_deg + 180.0)}{play}): {answer}.")
    if question.sides:
        paragraphs.append("The same framing with the prism at each side of the picture:")
    return paragraphs


def _verdict(result: CheckResult, question: Asked) -> str:
    enough = _enough_stars(result)
    if question.usable and question.sure and _is_exact(result):
        return (
            f"yes. You will find {enough} if the prism sits exactly where you measured it: prism.offset_accuracy_mm = "
            "0 allows nothing for it."
        )
    if question.usable and question.sure:
        return f"yes. You will find {enough} even if the prism sits {_prism_play(result)}."
    if question.usable:
        return (
            f"yes, if the prism sits where you measured it. It is not sure: with the prism {_prism_play(result)} "
            "the star can slip off the guide camera."
        )
    if len(question.star_ids) >= result.rig.guiding.min_stars and question.tolerance_deg > 0.0:
        return (
            f"only just. {_with_magnitudes(result, question.star_ids)} would be there at exactly "
            f"{w.angle(question.angle_deg)}, but not all the way across ±{w.plain(question.tolerance_deg, 2)}°."
        )
    return f"no. You will not find {enough} there."


def side_line(result: CheckResult, side: SideAnswer) -> str:
    """One line for the prism at one side of the frame."""
    if not side.usable:
        return f"{side.side}: no"
    found = f" ({_with_magnitudes(result, side.star_ids)})" if side.star_ids else ""
    return f"{side.side}: {'yes, surely' if side.sure else 'yes, but not surely'}{found}"


def nothing_usable(result: CheckResult) -> list[str]:
    """Say plainly that there is no usable angle, and introduce what would help."""
    limit = w.magnitude(result.stars.faintest_mag, result.stars.band)
    number = result.rig.guiding.min_stars
    if result.field.model == "geometric":
        bright = f"down to {limit}"
    else:
        bright = f"bright enough (your guide camera reaches {limit} at best)"
    crossing = (
        f"no star {bright} crosses the guide field."
        if number == 1
        else f"never are {number} stars {bright} in the guide field at once."
    )
    paragraphs = [f"NO GUIDE STAR  However you turn the camera, {crossing}"]
    if _most_are_missing(result):
        paragraphs[0] += (
            f" That holds for the stars that {result.stars.source} lists; fainter ones that your guide camera would "
            "still see may well be there."
        )
    paragraphs.append(
        "What would help:"
        if result.hints
        else "No small change of the prism, the guide camera's reach or the framing was found that would bring one."
    )
    return paragraphs


def hint(result: CheckResult, item: Hint) -> str:
    """One change that would bring a guide star, as a sentence."""
    stars = [f"{w.star(star_id)} ({w.magnitude(g_mag)})" for star_id, g_mag in _named(item)]
    who, verb = w.joined(stars), "is" if len(stars) == 1 else "are"
    where = f"from {w.angle(item.angle_deg)}" if item.width_deg >= 360.0 else f"at {w.angle(item.angle_deg)}"
    over = f", over {w.width(item.width_deg)} of rotation" if item.width_deg > 0.0 else ""
    if item.kind == "fewer":
        return (
            f"Do with {w.counted(round(item.amount), 'star')} at once instead of {result.rig.guiding.min_stars}: "
            f"{w.share(item.width_deg / 360.0)} of all camera angles have that many, such as "
            f"{w.angle(item.angle_deg)}, with {who}."
        )
    if item.kind == "exposure":
        return f"Expose the guide camera for {w.exposure(item.amount)}: {who} {verb} then bright enough {where}{over}."
    if item.kind == "fainter":
        how = "longer exposure, or a more sensitive one" if result.exposure_s is None else "no usual exposure is enough"
        return (
            f"A guide camera that reaches {w.magnitude(item.amount, result.stars.band)} ({how}) would use {who} "
            f"{where}{over}."
        )
    if item.kind == "offset":
        way = "outward, away from the axis" if item.amount > 0.0 else "inward, towards the axis"
        return (
            f"Move the prism {w.unit(w.plain(abs(item.amount), 2), 'mm')} {way}: {who} {verb} then there {where}{over}."
        )
    direction = "" if item.direction_deg is None else _towards(item.direction_deg)
    return (
        f"Point the telescope about {w.plain(item.amount)}′ off the target{direction}: {who} then reaches the guide "
        f"field {where}. 'check --nudge' finds the smallest shift."
    )


def _named(item: Hint) -> tuple[tuple[str, float], ...]:
    """Return the stars of a hint with their magnitudes, the brightest first."""
    return tuple(sorted(((item.star_id, item.g_mag), *item.others), key=lambda star: star[1]))


def _towards(direction_deg: float) -> str:
    return f", towards the {w.compass(direction_deg)} (position angle {direction_deg % 360.0:.0f}°)"


def completeness(result: CheckResult) -> str:
    """Say what the catalogue's completeness means for this answer, in one paragraph."""
    stars = result.stars
    complete = w.magnitude(stars.complete_to_mag, stars.band)
    limit = w.magnitude(stars.faintest_mag, stars.band)
    reach = (
        "Fainter stars were not counted"
        if result.field.model == "geometric"
        else f"Your guide camera reaches {limit} at best"
    )
    found = w.counted(stars.candidates, "star") if stars.candidates else "No star"
    lies = "lies" if stars.candidates < 2 else "lie"
    return (
        f"STARS  {found} down to {limit} {lies} in the ring that the guide field sweeps. {reach}, and "
        f"{stars.source} is complete to about {complete}: {_missing(result)} Magnitudes are {_band_words(stars.band)}."
    )


def _most_are_missing(result: CheckResult) -> bool:
    return result.expected is not None and result.expected.mostly_unlisted


def _missing(result: CheckResult) -> str:
    """Say what the stars that no catalogue here lists do to the answer."""
    stars = result.stars
    if stars.faintest_mag <= stars.complete_to_mag:
        gaps = "" if result.usable.fraction >= 1.0 else ", so the gaps are real"
        return f"no star that matters is missing from the catalogue{gaps}."
    if not _most_are_missing(result):
        more = "usable stars than listed" if result.usable.fraction >= 1.0 else "usable angles than shown"
        return f"some stars between the two may be missing from the catalogue, so there may be more {more}, not fewer."
    most = "most of the stars between the two are missing from the catalogue"
    if result.usable.fraction >= 1.0:
        return f"{most}, so there are more usable stars than listed, not fewer."
    return f"{most}, so the answer is a lower bound: expect more usable angles than shown, not fewer."


def _band_words(band: str) -> str:
    return "Gaia G" if band == "G" else f"{band} where marked so, else Gaia G"
