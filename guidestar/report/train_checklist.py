"""The order of building a rig's imaging train, step by step with its numbers."""

from __future__ import annotations

import math

from guidestar.report.train_sentences import CLOSE_ENOUGH_MM, mm, percent
from guidestar.train.result import TrainResult

SAFETY = (
    "By day, work with the telescope covered and never pointed at or near the Sun: focused sunlight blinds an eye at "
    "once and burns sensors and prism holders.",
    "Cables off and mains power away while you screw; hold camera and train with one hand until the last thread has "
    "gripped. Do not touch glass or sensors, and keep tools off them.",
    "Clear the path of cables and legs before the mount moves, and mind cold, darkness and your footing outdoors. The "
    "rules of the place and the makers' instructions come before anything here.",
)


def checklist(result: TrainResult) -> list[str]:
    """Return the steps in order, one or two sentences each."""
    return [
        _film(),
        _spacers(result),
        _screws(),
        _depth(result),
        _guide_sensor(result),
        _main_focus(),
        _guide_focus(result),
        _flat(result),
        _rotate(),
    ]


def _film() -> str:
    return "Take any protective film or cap off the prism and the filter, and look through for dust and fingerprints."


def _spacers(result: TrainResult) -> str:
    spacing = result.spacing
    order = ", ".join(f"{piece.name} ({mm(piece.length_mm, 2)})" for piece in spacing.pieces)
    if spacing.spacer_mm < -CLOSE_ENOUGH_MM:
        return (
            f"Spacing first: the train is {mm(-spacing.spacer_mm, 2)} too long and has to be shortened. Now: {order}."
        )
    own = ""
    if spacing.chosen_mm:
        pieces = " + ".join(f"{length:g}" for length in spacing.chosen_mm)
        own = f" From your own spacers use {pieces} mm."
    return f"Screw together from the telescope on: {order}. In all {mm(spacing.wanted_mm, 2)} to the main sensor.{own}"


def _screws() -> str:
    return (
        "Tighten clamping screws crosswise, a little at a time in turn, so that nothing tilts; threads by hand, until "
        "they stop."
    )


def _depth(result: TrainResult) -> str:
    window = result.window
    goal = window.min_offset_mm if window.best_offset_mm is None else window.best_offset_mm
    inner = goal - result.rig.prism.height_mm / 2
    side = result.rig.prism.side
    where = f"the {side} edge" if side else "its side"
    least = f"never less than {mm(window.min_offset_mm, 2)}"
    greatest = (
        ""
        if math.isinf(window.max_offset_mm) or window.best_offset_mm is None
        else (f", never more than {mm(window.max_offset_mm, 2)}")
    )
    return (
        f"Set the prism's depth at {where} of the frame: {mm(goal, 2)} from the axis to the middle of its face, "
        f"that is {mm(inner, 2)} to its inner edge; {least}{greatest}."
    )


def _guide_sensor(result: TrainResult) -> str:
    guide, prism = result.rig.guide_camera, result.rig.prism
    long_side, short_side = max(guide.width_mm, guide.height_mm), min(guide.width_mm, guide.height_mm)
    if prism.width_mm >= prism.height_mm:
        along = "its longer side" if prism.width_mm > prism.height_mm else "the edge of the frame (the prism is square)"
    else:
        along = "its longer side, which points outward"
    return (
        f"Turn the guide camera until the long side of its sensor ({mm(long_side)} by {mm(short_side)}) lies along the "
        f"prism's: {along}."
    )


def _main_focus() -> str:
    return (
        "On a clear night focus the main camera first, on a star, with the telescope's focuser. Do not touch it again "
        "for the next step: it would move both cameras."
    )


def _guide_focus(result: TrainResult) -> str:
    focus = result.focus
    start = (
        ""
        if focus.focuser_mm is None or focus.in_travel is False
        else (f" Begin with it drawn out {mm(focus.focuser_mm)}.")
    )
    trouble = "" if focus.in_travel is not False else " As things stand it does not get there: see the report."
    return f"Then focus the guide camera by moving it alone, until stars are smallest; lock it.{start}{trouble}"


def _flat(result: TrainResult) -> str:
    expected = (
        f"Expect the {result.shadow.corner} of it {percent(result.shadow.worst)} darker."
        if result.shadow.corner
        else "It should show no one-sided dark edge."
    )
    return (
        f"Take a flat of the main camera and look at it. {expected} 'guidestar train --flat FLAT.fits --rig FILE' "
        "measures such an edge and says how far to draw the prism out."
    )


def _rotate() -> str:
    return (
        "Rotate only while the prism's stalk, guide camera and cables clear mount, tripod and tube through the whole "
        "turn; try it slowly by hand once, by light."
    )
