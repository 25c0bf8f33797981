"""How far a person lets a framing be moved, and what a turn of the camera is worth in shift."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from guidestar.constants import ARCMIN_PER_RADIAN
from guidestar.errors import InputError
from guidestar.rig import Rig

TURN_COST_PERCENT: Final = 1.0
"""A degree of turn counts as a shift by this share of the frame's shorter side (common practice, no source: turning is
the more laborious, so a few degrees are taken only where they save a good part of the frame)."""


@dataclass(frozen=True)
class Wish:
    """The largest shift, arcminutes, and what a degree of turn costs, per cent of the frame's shorter side."""

    limit_arcmin: float
    turn_cost_percent: float = TURN_COST_PERCENT


def side_arcmin(rig: Rig, share: float) -> float:
    """Return a share of the main frame's shorter side, measured from the frame's centre, as an angle on the sky."""
    shorter_mm = min(rig.camera.width_mm, rig.camera.height_mm)
    return math.atan(share * shorter_mm / rig.telescope.focal_length_mm) * ARCMIN_PER_RADIAN


def furthest_arcmin(rig: Rig) -> float:
    """Return how far the target may be moved at all: to the nearer edges of the picture."""
    return side_arcmin(rig, 0.5)


def wish_of(
    rig: Rig, nudge: float | None, nudge_percent: float | None, turn_cost: float | None, angle: float | None
) -> Wish | None:
    """Read the options of a nudge; None where none is asked for.

    Raises
    ------
    InputError
        Both sizes, one that is no shift within the picture, or a cost that is none.
    """
    if nudge is None and nudge_percent is None:
        if turn_cost is not None:
            raise InputError("--turn-cost weighs a turn against a shift: ask for one with --nudge or --nudge-percent.")
        return None
    if nudge is not None and nudge_percent is not None:
        raise InputError("--nudge and --nudge-percent both say how far the framing may be moved: leave one out.")
    if turn_cost is not None and angle is None:
        raise InputError("--turn-cost weighs a turn away from one camera angle: give that with --angle.")
    return Wish(_limit(rig, nudge, nudge_percent), _turn_cost(turn_cost))


def _limit(rig: Rig, nudge: float | None, nudge_percent: float | None) -> float:
    furthest = furthest_arcmin(rig)
    if nudge is not None:
        if not nudge > 0:
            raise InputError(f"--nudge {nudge:g}: how far the framing may be moved is given in arcminutes, above 0.")
        if nudge > furthest:
            raise InputError(
                f"--nudge {nudge:g}: that could put the target outside the picture, whose nearer edges are "
                f"{_floored(furthest)}′ from its middle; give no more than that."
            )
        return nudge
    share = math.nan if nudge_percent is None else nudge_percent
    if not 0 < share <= 50:
        raise InputError(
            f"--nudge-percent {share:g}: must be above 0 and at most 50 per cent of the picture's shorter side; more "
            "could put the target outside the picture."
        )
    return side_arcmin(rig, share / 100)


def _floored(value: float) -> str:
    return f"{math.floor(value * 10) / 10:g}" if value >= 1 else f"{math.floor(value * 1000) / 1000:g}"


def _turn_cost(percent: float | None) -> float:
    if percent is None:
        return TURN_COST_PERCENT
    if not 0 < percent <= 1000:
        raise InputError(
            f"--turn-cost {percent:g}: what a degree of turn counts as is given in per cent of the picture's shorter "
            f"side, above 0 and at most 1000; {TURN_COST_PERCENT:g} is usual."
        )
    return percent
