"""Will the off-axis pick-off prism find a guide star? On which target, at which camera angle, on which star.

>>> import guidestar as gs
>>> rig = gs.read_rig("my-rig.toml")  # doctest: +SKIP
>>> answer = gs.check("NGC 7331", rig)  # doctest: +SKIP
>>> answer.usable.fraction, answer.best.angle_deg  # doctest: +SKIP

Everything is loaded on first use, so that importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

__all__ = ["Answer", "ReachAnswer", "Rig", "__version__", "check", "preset", "reach", "read_rig"]

if TYPE_CHECKING:
    from guidestar.api.check import Answer, check
    from guidestar.api.reach import ReachAnswer, reach
    from guidestar.rig import Rig, preset, read_rig


_HOMES = {
    "Answer": "guidestar.api.check",
    "ReachAnswer": "guidestar.api.reach",
    "Rig": "guidestar.rig",
    "check": "guidestar.api.check",
    "preset": "guidestar.rig",
    "reach": "guidestar.api.reach",
    "read_rig": "guidestar.rig",
}


def __getattr__(name: str) -> Any:
    """Load a public name from where it lives."""
    if name not in _HOMES:
        raise AttributeError(f"module 'guidestar' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
