"""One framing asked about: whether it holds, whether its twin does, and which other side of the frame would."""

from __future__ import annotations

from dataclasses import dataclass

from guidestar.angles import circular
from guidestar.field.result import Asked, SideAnswer
from guidestar.field.settings import Sweep, placements
from guidestar.rig.model import SIDES_DEG


@dataclass(frozen=True)
class Question:
    """A camera angle, how far it may be off either way (degrees), and whether the prism may change sides."""

    angle_deg: float
    tolerance_deg: float
    any_side: bool = False


def answer(swept: Sweep, question: Question) -> Asked:
    """Judge one framing. It holds if it does at every camera angle within the tolerance."""
    angle = question.angle_deg % 360.0
    twin = _holds(swept, angle + 180.0, question) if swept.rig.mount.flips else None
    return Asked(
        angle_deg=angle,
        tolerance_deg=question.tolerance_deg,
        usable=_holds(swept, angle, question),
        sure=_holds(swept, angle, question, sure=True),
        twin_usable=twin,
        star_ids=swept.names(swept.stars_at(angle)),
        placements=placements(swept, angle),
        sides=tuple(_side(swept, question, *side) for side in SIDES_DEG.items()) if question.any_side else (),
    )


def _holds(swept: Sweep, angle_deg: float, question: Question, *, sure: bool = False) -> bool:
    good = swept.sure if sure else swept.usable
    return circular.holds(good, angle_deg - question.tolerance_deg, angle_deg + question.tolerance_deg)


def _side(swept: Sweep, question: Question, name: str, side_deg: float) -> SideAnswer:
    """Judge the same framing with the prism at another side of the frame, as deep as it is now.

    Only the guide field's own direction ψ = φ + β (mirrored φ − β) matters to the stars: the prism at β' with the
    camera at φ sees what the prism at β sees with the camera at φ + β' − β (mirrored φ − β' + β).
    """
    change = side_deg - swept.rig.prism.side_deg
    as_if = question.angle_deg + (-change if swept.rig.camera.mirrored else change)
    return SideAnswer(
        side=name,
        side_deg=side_deg,
        usable=_holds(swept, as_if, question),
        sure=_holds(swept, as_if, question, sure=True),
        star_ids=swept.names(swept.stars_at(as_if % 360.0)),
    )
