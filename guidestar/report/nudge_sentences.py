"""What a nudge says, as sentences for a person."""

from __future__ import annotations

import math

from guidestar.nudge.result import InPicture, Nudge, Shift
from guidestar.report import wording as w
from guidestar.sky.coordinates import sexagesimal

_NEAR_THE_MIDDLE_DEG = 22.5
"""A direction in the picture that is closer than this to straight up, down or across is called by that word alone."""

_LEAST_DIFFERENCE_ARCMIN = 0.05
"""Shifts that differ by less are printed alike, so only one is named."""


def nudge(found: Nudge) -> list[str]:
    """Say what the smallest shift is, and what else would do; the first paragraph is the answer."""
    best = found.best
    if best is None:
        paragraphs = [_none(found)]
    elif best.shift_arcmin < _LEAST_DIFFERENCE_ARCMIN / 10:
        paragraphs = [f"NUDGE  None is needed{_at(found, best)}: {_serves(best)}."]
    else:
        paragraphs = [f"NUDGE  Move the target {_move(best)}. {_then(found, best)}", *_pointing(best)]
    return [*paragraphs, *_shorter(found), *_no_sure(found), *_turned(found)]


def _at(found: Nudge, shift: Shift) -> str:
    if found.angle_deg is not None:
        return ""
    return f" at the camera angle {w.angle(shift.angle_deg)}"


def _move(shift: Shift) -> str:
    return f"{arcmin(shift.shift_arcmin)} towards the {towards(shift.target)} of the picture"


def arcmin(value: float) -> str:
    """Write a shift to a tenth of an arcminute, or to a hundredth below one; never more exactly than it matters."""
    if value < 0.005:
        return "under" + w.NBSP + "0.01′"
    return f"{value:.2f}′" if value < 1.0 else f"{value:.1f}′"


def towards(place: InPicture) -> str:
    """Name the side or corner of the picture in whose direction a place stands from its middle."""
    turn = math.degrees(math.atan2(place.right_mm, place.up_mm)) % 360.0
    words = ("top", "top right", "right", "bottom right", "bottom", "bottom left", "left", "top left")
    return words[round(turn / (2 * _NEAR_THE_MIDDLE_DEG)) % 8]


def _then(found: Nudge, shift: Shift) -> str:
    setting = f"With the camera at {w.angle(shift.angle_deg)}" if found.angle_deg is None else "Then"
    return f"{setting} {_serves(shift)}."


def _serves(shift: Shift) -> str:
    stars = w.joined([w.star(star_id) for star_id in shift.star_ids[:3]])
    verb = "serves" if len(shift.star_ids) == 1 else "serve"
    how = (
        "surely, wherever the prism sits within its accuracy"
        if shift.sure
        else "if the prism sits exactly where you measured it"
    )
    return f"{stars} {verb}, {how}"


def _pointing(shift: Shift) -> list[str]:
    return [
        f"Point the telescope to {centre(shift)} (ICRS), "
        f"{arcmin(shift.shift_arcmin)} off the target towards the {w.compass(shift.direction_deg)} (position angle "
        f"{shift.direction_deg % 360.0:.0f}°). The target then stands {_where(shift.target)}."
    ]


def centre(shift: Shift) -> str:
    """Write where the frame's centre then points, finely enough for the shift to hold as it is printed."""
    ra, dec = sexagesimal(shift.ra_deg, shift.dec_deg, decimals=1)
    return f"{ra}, {dec}".replace(" ", w.NBSP).replace(f",{w.NBSP}", ", ").replace("-", "−")


def _where(place: InPicture) -> str:
    """Say where in the picture something stands: pixels from the middle, and the share of its width and height."""
    across = "right" if place.right_px >= 0 else "left"
    along = "above" if place.up_px >= 0 else "below"
    pixels = tuple(w.counted(round(abs(value)), "pixel") for value in (place.right_px, place.up_px))
    shares = (w.percent(abs(place.right_percent) / 100), w.percent(abs(place.up_percent) / 100))
    return (
        f"{pixels[0]} {across} of the picture's middle and {pixels[1]} {along} it ({shares[0]} of its width, "
        f"{shares[1]} of its height)"
    )


def _shorter(found: Nudge) -> list[str]:
    """Name a shorter shift that is usable but not sure."""
    sure, usable = found.sure, found.usable
    if sure is None or usable is None or sure.shift_arcmin - usable.shift_arcmin < _LEAST_DIFFERENCE_ARCMIN:
        return []
    if usable.shift_arcmin < _LEAST_DIFFERENCE_ARCMIN / 10:
        where = f" at {w.angle(usable.angle_deg)}" if found.angle_deg is None else ""
        return [f"If you trust your measured prism offset you need no shift{where}."]
    camera = f" with the camera at {w.angle(usable.angle_deg)}" if found.angle_deg is None else ""
    return [
        f"If you trust your measured prism offset, {_move(usable)} is enough{camera} (point to "
        f"{centre(usable)}), on "
        f"{w.joined([w.star(star_id) for star_id in usable.star_ids[:3]])}."
    ]


def _no_sure(found: Nudge) -> list[str]:
    if found.sure is not None or found.usable is None:
        return []
    if found.beyond is None:
        return [f"No shift is sure that keeps the target in the picture (up to {arcmin(found.furthest_arcmin)})."]
    return [
        f"No shift of up to {arcmin(found.limit_arcmin)} is sure; the nearest that is would need {_move(found.beyond)}."
    ]


def _none(found: Nudge) -> str:
    angle = "any camera angle" if found.angle_deg is None else f"{w.angle(found.angle_deg)}"
    limit = f"up to {arcmin(found.limit_arcmin)}"
    if found.beyond is None:
        return (
            f"NUDGE  No shift of {limit} brings a guide star at {angle}, nor does any other that keeps the target in "
            f"the picture (up to {arcmin(found.furthest_arcmin)})."
        )
    beyond = found.beyond
    camera = f", with the camera at {w.angle(beyond.angle_deg)}" if found.angle_deg is None else ""
    return (
        f"NUDGE  No shift of {limit} brings a guide star at {angle}. The nearest would need {_move(beyond)}{camera}; "
        f"then {_serves(beyond)}."
    )


def _turned(found: Nudge) -> list[str]:
    shift = found.turned
    if shift is None:
        return []
    alone = found.sure if shift.sure else found.usable
    than = "" if alone is None else f", where the shift alone costs {arcmin(alone.cost_arcmin)}"
    moved = shift.shift_arcmin >= _LEAST_DIFFERENCE_ARCMIN / 10
    move = f"move the target {_move(shift)} (point to {centre(shift)})" if moved else "leave the framing"
    turned = f"{w.width(abs(shift.turn_deg))} {'more' if shift.turn_deg > 0 else 'less'} than asked"
    share = w.unit(w.plain(found.turn_cost_percent, 2), "%")
    costs = f"so this costs as much as {arcmin(shift.cost_arcmin)} of shift{than}"
    return [
        f"OR TURN AND SHIFT  Set the camera to {w.angle(shift.angle_deg)}, {turned}, and {move}: then "
        f"{_serves(shift)}. A degree of turn is taken to cost as much as a shift by {share} of the picture's shorter "
        f"side ({arcmin(found.turn_cost_arcmin)}), {costs}."
    ]
