"""What a flat frame tells, in sentences."""

from __future__ import annotations

import math

from guidestar.flat.result import FlatResult, Sensor
from guidestar.report import wording as w
from guidestar.report.train_sentences import mm, percent

FAINT_FOUND_PERCENT = (85, 49)
"""Of 100 rendered shadows, how many are found: of 3 to 10 per cent along an edge, of 3 to 20 per cent in a corner."""
ROUND_TAKEN_PERCENT = 8
"""Of 100 rendered flats darkened by a round opening off the middle, how many are called a prism's shadow.

Both measured by `tests/benchmarks/flat_detection.py`, on flats that the limits were not set on.
"""

_SIDES_DEG = {"top": 0.0, "top left": 45.0, "left": 90.0, "bottom left": 135.0, "bottom": 180.0}
_SIDES_DEG |= {"bottom right": 225.0, "right": 270.0, "top right": 315.0}
_FAR_DEG = 60.0


def answer(result: FlatResult, *, rig_known: bool) -> list[str]:
    """Say what was found, first of all whether there is a prism's shadow."""
    if result.verdict == "none":
        return [
            "No one-sided darkening: what falls off here falls off round, as a telescope's light does, and dust is "
            "left out. A shadow fainter than about 3 % along an edge, or 8 % in a corner, would not be told from that."
        ]
    if result.verdict == "other":
        mine = "this prism" if rig_known else "a prism"
        after_all = " If it is the prism after all, holder_width_mm or ahead_mm are off." if rig_known else ""
        return [
            f"One-sided darkening, not shaped like {mine}: {result.place}, about {percent(result.depth)} at the worst "
            "place. Look for a tube, adapter or filter ring out of line, or light falling in from one side."
            f"{after_all}"
        ]
    return [_found(result), _extent(result), _caution(result)]


def _found(result: FlatResult) -> str:
    told = f"a prism's shape accounts for {_share(result.confidence)} of that darkness"
    if result.verdict == "possible":
        return f"Possible shadow of the prism: {result.place}, about {percent(result.depth)} darker; {told}."
    return f"Shadow of the prism: {result.place}, {percent(result.depth)} darker at the worst place; {told}."


def _share(share: float) -> str:
    return w.unit(w.plain(100.0 * share, 0), "%")


def _caution(result: FlatResult) -> str:
    """Say how far the finding can be trusted, from what was measured on rendered flats, and how to make sure."""
    faint = ""
    if result.verdict == "possible":
        edge, corner = FAINT_FOUND_PERCENT
        faint = (
            f"Shadows as faint as this are found in about {edge} of 100 rendered flats along an edge, in {corner} in a "
            "corner. "
        )
    return (
        f"{faint}A round tube or adapter out of line is taken for the prism in about {ROUND_TAKEN_PERCENT} of 100; to "
        "make sure draw the prism out and take another flat: a shadow of the prism goes with it."
    )


def _extent(result: FlatResult) -> str:
    wide, deep = (
        w.unit(w.plain(100.0 * share, 0 if share > 0.1 else 1), "%") for share in (result.width, result.reach)
    )
    size = "" if result.width_mm is None else f" ({mm(result.width_mm)})"
    return (
        f"It is at least half as dark as there along {wide} of the picture's longer side{size} and reaches "
        f"{deep} of it into the picture."
    )


def remedy(result: FlatResult, sensor: Sensor | None) -> list[str]:
    """Say how far to draw the prism out, and what does not fit the rig file."""
    if result.draw_out_mm is None or result.offset_mm is None or sensor is None:
        return (
            []
            if result.verdict in ("none", "other")
            else ["With --rig the tool says by how many millimetres to draw the prism out."]
        )
    clear = result.offset_mm + result.draw_out_mm
    said = [
        f"Draw the prism out by {mm(result.draw_out_mm)}, to an offset of {mm(clear)}, to clear the picture; by the "
        f"shadow it stands at {mm(result.offset_mm)} now, by the rig file at {mm(sensor.body.offset_mm)}."
    ]
    apart = abs((_SIDES_DEG[result.place] - sensor.side_deg + 180.0) % 360.0 - 180.0)
    if apart > _FAR_DEG:
        said.append(
            f"The rig file puts the prism {_side_words(sensor.side_deg)}, the shadow lies {result.place}: correct side "
            "there, or say how the file's rows lie with --first-row top or bottom."
        )
    return said


def _side_words(side_deg: float) -> str:
    for word in ("top", "left", "bottom", "right"):
        if math.isclose(_SIDES_DEG[word], side_deg):
            return f"at the {word}"
    return f"at side_deg = {side_deg:g}"
