"""How the figures' inks look under a red lamp."""

from __future__ import annotations

from guidestar.report import palette


def red_light(colour: str) -> float:
    """Share (0 to 1) of a pure red light that a printed `#rrggbb` colour sends back: that of a grey as red as it."""
    return palette.luminance(f"#{colour[1:3] * 3}")
