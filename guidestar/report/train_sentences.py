"""What `train` has to say, in sentences that a beginner can act on."""

from __future__ import annotations

import math
from collections.abc import Iterator

from guidestar.report import wording as w
from guidestar.train.result import GuideFocus, Remedy, TrainResult

CLOSE_ENOUGH_MM = 0.3
"""A train within this of the wanted length is taken as right (common practice, no source)."""


def mm(value: float, digits: int = 1) -> str:
    """Write a length."""
    return w.unit(w.plain(value, digits), "mm")


def percent(share: float) -> str:
    """Write a loss of light: one decimal below ten per cent."""
    return w.unit(w.plain(100.0 * share, 1 if share < 0.0995 else 0), "%")


def problems(result: TrainResult) -> list[str]:
    """Return what has to be mended before the night, most basic first."""
    spacing = spacing_problem(result)
    found = [*([spacing] if spacing else []), *_focus_problems(result), *_depth_problems(result)]
    if result.filter.place == "ahead":
        found.append(_filter_ahead(result))
    return found


def verdict(result: TrainResult) -> str:
    """Say in a few words how many things there are to mend, or to settle first because the rig file is at odds."""
    found = [
        f"{w.counted(len(things), 'thing')} to {what}"
        for things, what in ((result.warnings, "settle first"), (problems(result), "mend"))
        if things
    ]
    return w.joined(found) or "nothing to mend"


def spacing_problem(result: TrainResult) -> str:
    """Say in one sentence why the train cannot be built as it is, and what would help; "" if it can."""
    spacing = result.spacing
    if spacing.spacer_mm < -CLOSE_ENOUGH_MM:
        there = spacing.parts_mm + spacing.flange_mm
        return (
            f"The train is {mm(-spacing.spacer_mm, 2)} too long: parts and camera take {mm(there, 2)}, but the main "
            f"sensor belongs {mm(spacing.wanted_mm, 2)} behind the corrector; {_shorten(result)}."
        )
    if spacing.residual_mm is None or abs(spacing.residual_mm) <= CLOSE_ENOUGH_MM:
        return ""
    owned = sum(result.rig.train.spacers_mm) if result.rig.train else 0.0
    if owned < spacing.spacer_mm - CLOSE_ENOUGH_MM:
        return (
            f"Your spacers cannot reach it: {mm(spacing.spacer_mm, 2)} are missing and all of them together are "
            f"{mm(owned, 2)}; one more of about {mm(spacing.spacer_mm - owned, 1)} would do."
        )
    return (
        f"No combination of your spacers comes closer than {mm(abs(spacing.residual_mm), 2)}: the train would be that "
        f"much too {'long' if spacing.residual_mm > 0 else 'short'}; {_mend_residual(result)}."
    )


def _shorten(result: TrainResult) -> str:
    """Say how to shorten a train: by the shortest part that may go and is long enough, else by shorter parts.

    A part may go that holds neither prism nor filter, if the rig file says where both are.
    """
    pieces, excess = result.spacing.pieces, -result.spacing.spacer_mm
    parts = [piece for piece in pieces if piece.kind == "part"]
    spare = [piece for piece in parts if piece.prism_at_mm is None and piece.filter_at_mm is None]
    all_told = result.filter.stated and any(piece.prism_at_mm is not None for piece in parts)
    enough = [piece for piece in spare if all_told and piece.length_mm >= excess - CLOSE_ENOUGH_MM]
    if enough:
        shortest = min(enough, key=lambda piece: piece.length_mm)
        rest = shortest.length_mm - excess
        instead = f" and put a spacer of {mm(rest, 2)} in its place" if rest > CLOSE_ENOUGH_MM else ""
        return f"leave out the {shortest.name} ({mm(shortest.length_mm, 2)}){instead}"
    longest = max(parts, key=lambda piece: piece.length_mm, default=None)
    which = "" if longest is None else f" (the longest is the {longest.name}, {mm(longest.length_mm, 2)})"
    return f"use shorter parts{which} or a camera with a shorter flange: no spacer can mend this"


def _mend_residual(result: TrainResult) -> str:
    residual = result.spacing.residual_mm or 0.0
    if residual < 0.0:
        return f"a thin ring of {mm(-residual, 2)} in addition would close the gap"
    return f"a spacer of {mm(result.spacing.spacer_mm, 1)} would fit"


def _focus_problems(result: TrainResult) -> Iterator[str]:
    focus = result.focus
    if focus.in_travel is not False or focus.focuser_mm is None:
        return
    if focus.focuser_mm < 0.0:
        yield (
            f"The guide camera cannot reach focus: even drawn in it stands {mm(-focus.focuser_mm)} too far out. "
            f"{_mend_too_long(result)}"
        )
        return
    travel = focus.travel_mm or 0.0
    yield (
        f"The guide camera cannot reach focus: it would have to be drawn out {mm(focus.focuser_mm)}, and its focuser "
        f"gives {mm(travel)}. {_mend_too_short(result)}"
    )


def _mend_too_short(result: TrainResult) -> str:
    focus = result.focus
    least, most = (focus.focuser_mm or 0.0) - (focus.travel_mm or 0.0), focus.focuser_mm or 0.0
    ring = (
        f"A ring of {mm(least)} to {mm(most)} between stalk and guide camera mends it; {mm(focus.adapter_mm)} puts the "
        "focus at mid-travel."
    )
    return f"{ring}{_order_hint(result)}"


def _mend_too_long(result: TrainResult) -> str:
    focus = result.focus
    short = -(focus.focuser_mm or 0.0)
    hint = _order_hint(result)
    if not hint and result.spacer_behind is not None and result.spacer_behind.in_travel:
        hint = (
            f" Putting the missing spacer behind the prism instead of in front mends it: the prism then stands "
            f"{mm(result.spacer_behind.ahead_mm)} before the sensor."
        )
    flange = result.rig.train.guide_flange_mm if result.rig.train else None
    camera = (
        ""
        if flange is None or flange - short < 0.0
        else (f" or a guide camera whose sensor lies {mm(flange - short)} or less behind its front")
    )
    return (
        f"It needs the prism at least {mm(short)} farther from the main sensor, a stalk shorter by that{camera}.{hint}"
    )


def _order_hint(result: TrainResult) -> str:
    order = result.better_order
    if order is None:
        return ""
    return (
        f" In the order {w.joined([*order.names], 'and')} (telescope side first) it would reach focus with the focuser "
        f"at {mm(order.focus.focuser_mm or 0.0)}; the prism then stands {mm(order.focus.ahead_mm)} before the sensor."
    )


def _depth_problems(result: TrainResult) -> Iterator[str]:
    window, shadow = result.window, result.shadow
    if window.best_offset_mm is None:
        yield (
            f"There is no depth at which this prism clears the main sensor and still has all its light: it clears "
            f"the sensor from an offset of {mm(window.min_offset_mm, 2)} outward, and the {window.limited_by} lights "
            f"the guide field fully only up to {_greatest(result)}."
        )
    elif not window.in_window and window.offset_mm > window.max_offset_mm:
        yield (
            f"The prism stands {mm(window.offset_mm - window.max_offset_mm, 2)} too far out: at an offset of "
            f"{mm(window.offset_mm, 2)} part of the guide field lies outside the light of the {window.limited_by}."
        )
    if shadow.worst > max(window.allowed_loss, 5e-4) and window.offset_mm < window.min_offset_mm:
        yield (
            f"The prism stands {mm(window.min_offset_mm - window.offset_mm, 2)} too far in and shadows the main "
            f"picture: {shadow.corner}, {percent(shadow.worst)} darker."
        )


def _greatest(result: TrainResult) -> str:
    greatest = result.window.max_offset_mm
    return mm(greatest, 2) if greatest > 0.0 else "none at all"


def _filter_ahead(result: TrainResult) -> str:
    place = result.filter
    cost = (
        "how much, the tool can say once filter_bandwidth_nm is given"
        if place.cost_mag is None or place.bandwidth_nm is None
        else f"with {w.plain(place.bandwidth_nm)} nm of bandwidth about {w.plain(place.cost_mag)} magnitudes of a star "
        "of even spectrum"
    )
    return (
        f"The filter stands ahead of the prism, so the guide camera sees filtered light and loses reach: {cost}. The "
        "usual order is pick-off body first, filter behind it."
    )


def spacing_answer(result: TrainResult) -> list[str]:
    """Say which spacer is missing, and what of the person's own comes nearest."""
    spacing = result.spacing
    if abs(spacing.spacer_mm) <= 0.05:
        said = ["The spacing is right: nothing is missing between corrector and camera."]
    elif spacing.spacer_mm > 0.0:
        said = [f"A spacer of {mm(spacing.spacer_mm, 2)} is still needed."]
    else:
        said = [f"The train is {mm(-spacing.spacer_mm, 2)} too long."]
    if spacing.glass_shift_mm > 0.0:
        ray = "for the outermost ray of your beam" if spacing.ray_exact else "for rays near the axis"
        said.append(
            f"The filter's glass moves the focus back by {mm(spacing.glass_shift_mm, 2)} ({ray}), so the corrector's "
            f"{mm(spacing.back_focus_mm, 2)} become {mm(spacing.wanted_mm, 2)}."
        )
    if spacing.chosen_mm is not None and spacing.residual_mm is not None and spacing.spacer_mm > 0.05:
        said.append(_own_spacers(spacing.chosen_mm, spacing.residual_mm))
    return said


def _own_spacers(chosen: tuple[float, ...], residual: float) -> str:
    together = w.joined([w.plain(length, 2) for length in chosen])
    what = f"{together} mm" if chosen else "none of them"
    off = (
        f"{mm(abs(residual), 2)} too {'long' if residual > 0 else 'short'}"
        if abs(residual) >= 0.005
        else "exactly right"
    )
    return f"Of your own spacers {what} come nearest: {off}."


def filter_answer(result: TrainResult) -> list[str]:
    """Say what a filter ahead of the prism would cost, where it stands behind."""
    place = result.filter
    if place.place != "behind":
        return []
    where = "" if place.stated else " (no part says where it is, so it counts as behind the prism)"
    cost = (
        ""
        if place.cost_mag is None
        else (f"; ahead of the prism it would cost the guide star about {w.plain(place.cost_mag)} magnitudes")
    )
    return [f"The filter stands behind the prism{where}: the guide camera sees unfiltered light{cost}."]


def focus_answer(result: TrainResult) -> list[str]:
    """Say how long the guide side must be, and whether its focuser gets there."""
    focus = result.focus
    parts = f"{mm(focus.ahead_mm, 2)} from the prism's face to the main sensor"
    if focus.filter_shift_mm:
        parts += f", less {mm(focus.filter_shift_mm, 2)} that the filter makes up"
    if focus.prism_shift_mm:
        parts += f", plus {mm(focus.prism_shift_mm, 2)} for the prism's own glass"
    said = [
        f"The guide sensor is in focus together with the main one at {mm(focus.needed_mm, 2)} from the prism's "
        f"entrance face, along the light round the reflection: {parts}."
    ]
    return [*said, *_extension(focus), *_behind(result)]


def _extension(focus: GuideFocus) -> Iterator[str]:
    if focus.focuser_mm is None:
        yield "Give stalk_mm and guide_flange_mm in [train] to learn whether the guide camera gets there."
    elif focus.travel_mm is None:
        yield (
            f"That is its focuser drawn out by {mm(focus.focuser_mm)}; give focuser_travel_mm to learn whether it can."
        )
    elif focus.in_travel:
        yield (
            f"Its focuser reaches that at {mm(focus.focuser_mm)} of {mm(focus.travel_mm)}: {mm(focus.focuser_mm)} "
            f"left inward, {mm(focus.travel_mm - focus.focuser_mm)} outward."
        )


def _behind(result: TrainResult) -> Iterator[str]:
    behind = result.spacer_behind
    if behind is not None:
        yield (
            f"This holds with the missing spacer in front of the prism; behind it, the prism would stand "
            f"{mm(behind.ahead_mm, 2)} before the sensor and the guide side would need {mm(behind.needed_mm, 2)}."
        )


ORDER_OF_FOCUSING = (
    "Focus the main camera first, with the telescope's focuser, then the guide camera with its own: the telescope's "
    "focuser moves both at once, the guide camera's only itself."
)


def depth_answer(result: TrainResult) -> list[str]:
    """Say between which offsets the prism may stand, and where best."""
    window = result.window
    clear = f"from {mm(window.min_offset_mm, 2)}"
    if window.allowed_loss or window.clear_share < 1.0:
        clear += (
            f" (allowing {percent(window.allowed_loss)} of shadow, "
            f"over {w.plain(100 * window.clear_share)} % of the picture)"
        )
    if window.best_offset_mm is None:
        said = [
            f"Window: none. The main sensor is clear {clear} outward; the guide field is lit up to {_greatest(result)}."
        ]
        if window.remedies:
            said.append("What would open one:")
        return said
    if math.isinf(window.max_offset_mm):
        outer = "outward; nothing in the rig file sets a limit there (image_circle_mm or clear_aperture_mm would)"
    else:
        outer = f"to {mm(window.max_offset_mm, 2)}, where the guide field begins to leave the {window.limited_by}"
    inside = "inside" if window.in_window else "outside"
    said = [
        f"The prism's offset, from the axis to the middle of its face, may be {clear} {outer}. Yours, "
        f"{mm(window.offset_mm, 2)}, is {inside} that window."
    ]
    gain = window.best_field_light_mm2 / window.field_light_mm2 - 1.0 if window.field_light_mm2 > 0.0 else 0.0
    more = f", with {percent(gain)} more light on the guide sensor than now" if gain > 0.005 else ""
    said.append(
        f"Best is {mm(window.best_offset_mm, 2)}{more}: as far in as the accuracy of your measuring allows, since "
        "light and sharpness only fall outward."
    )
    return said


def remedy(result: TrainResult, item: Remedy) -> str:
    """Say one thing that would open the depth window."""
    rig = result.rig
    if item.kind == "crop":
        edge = rig.prism.side or "prism's"
        pixels = 1000.0 * item.amount / rig.camera.pixel_um
        return (
            f"give up a strip of {mm(item.amount, 2)} ({pixels:.0f} pixels) of the picture at the {edge} edge, "
            f"or use a sensor smaller by twice that"
        )
    if item.kind == "side":
        edge = f"the {item.where} edge of the frame{_long_or_short(result, item.where)}"
        return f"set the prism at {edge}: the window there is {mm(item.amount, 2)} wide"
    if item.kind == "ahead":
        words = "nearer to the sensor" if item.where == "nearer" else "farther from the sensor"
        return f"set the prism {words}: {mm(item.amount)} before it instead of {mm(rig.prism.ahead_mm)}"
    if item.kind == "dim":
        return (
            f"accept a dimmer guide field: at the least clear offset of {mm(result.window.min_offset_mm, 2)} it "
            f"still gets {percent(item.amount)} of the light that it would have without the {result.window.limited_by}"
        )
    alone = ", together with the other opening" if item.where else ""
    return f"a larger {item.kind}: {mm(item.amount)} across instead of {mm(_present_mm(result, item.kind))}{alone}"


def _long_or_short(result: TrainResult, side: str) -> str:
    """Say whether an edge is one of the frame's long or short sides; nothing of a square frame."""
    camera = result.rig.camera
    if camera.width_mm == camera.height_mm:
        return ""
    along_width = side in ("top", "bottom")
    return ", a long side" if along_width == (camera.width_mm > camera.height_mm) else ", a short side"


def _present_mm(result: TrainResult, kind: str) -> float:
    if kind == "image circle":
        return result.rig.telescope.image_circle_mm or 0.0
    return (result.rig.train.clear_aperture_mm if result.rig.train else None) or 0.0


def shadow_answer(result: TrainResult) -> str:
    """Say what the prism takes from the main picture, worst place first."""
    shadow = result.shadow
    if not shadow.corner:
        return "The prism throws no shadow on the main picture."
    return (
        f"Shadow on the main picture: {shadow.corner}, {percent(shadow.worst)} darker; {percent(shadow.area)} of the "
        "picture lose more than one per cent."
    )


def plain_text(sentences: list[str]) -> list[str]:
    """Return sentences with plain spaces, as a machine wants them."""
    return [sentence.replace(w.NBSP, " ") for sentence in sentences]
