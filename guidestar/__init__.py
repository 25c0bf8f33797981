"""Will the off-axis pick-off prism find a guide star? On which target, at which camera angle, on which star.

>>> import guidestar as gs
>>> rig = gs.read_rig("my-rig.toml")  # doctest: +SKIP
>>> answer = gs.check("NGC 7331", rig)  # doctest: +SKIP
>>> answer.usable.fraction, answer.best.angle_deg  # doctest: +SKIP

Everything is loaded on first use, so that importing the package costs nothing.
"""

TYPE_CHECKING = False  # what type checkers take for true; the module typing would take time to load

__version__ = "0.1.0"

__all__ = [
    "Answer",
    "CompareAnswer",
    "FlatAnswer",
    "MapAnswer",
    "MosaicAnswer",
    "NightAnswer",
    "ReachAnswer",
    "Rig",
    "TrainAnswer",
    "__version__",
    "build_train",
    "check",
    "compare",
    "judge_flat",
    "mosaic",
    "plan_night",
    "preset",
    "reach",
    "read_rig",
    "sky_map",
]

if TYPE_CHECKING:
    from guidestar.api.check import Answer, check
    from guidestar.api.compare import CompareAnswer, compare
    from guidestar.api.maps import MapAnswer, sky_map
    from guidestar.api.mosaic import MosaicAnswer, mosaic
    from guidestar.api.night import NightAnswer, plan_night
    from guidestar.api.reach import ReachAnswer, reach
    from guidestar.api.train import FlatAnswer, TrainAnswer, build_train, judge_flat
    from guidestar.rig import Rig, preset, read_rig


_HOMES = {
    "Answer": "guidestar.api.check",
    "CompareAnswer": "guidestar.api.compare",
    "FlatAnswer": "guidestar.api.train",
    "MapAnswer": "guidestar.api.maps",
    "MosaicAnswer": "guidestar.api.mosaic",
    "NightAnswer": "guidestar.api.night",
    "ReachAnswer": "guidestar.api.reach",
    "Rig": "guidestar.rig",
    "TrainAnswer": "guidestar.api.train",
    "build_train": "guidestar.api.train",
    "check": "guidestar.api.check",
    "compare": "guidestar.api.compare",
    "judge_flat": "guidestar.api.train",
    "mosaic": "guidestar.api.mosaic",
    "plan_night": "guidestar.api.night",
    "preset": "guidestar.rig",
    "reach": "guidestar.api.reach",
    "read_rig": "guidestar.rig",
    "sky_map": "guidestar.api.maps",
}


def __getattr__(name: str) -> object:
    """Load a public name from where it lives."""
    from importlib import import_module

    if name not in _HOMES:
        raise AttributeError(f"module 'guidestar' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    """Name what is public, loaded or not."""
    return sorted(__all__)
