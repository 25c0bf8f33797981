"""What the arguments of the Python interface may be: one of another type is told by name, before any work."""

from __future__ import annotations

import datetime
import functools
import inspect
import numbers
import os
from collections.abc import Callable, Iterable, Mapping, Set
from typing import Any, Final, ParamSpec, TypeVar

import numpy as np

from guidestar.errors import InputError
from guidestar.rig import Rig, Site
from guidestar.rig.wording import shown
from guidestar.sky.place import Place
from guidestar.stars.source import StarSource

Given = ParamSpec("Given")
Answer = TypeVar("Answer")


def judged(function: Callable[Given, Answer]) -> Callable[Given, Answer]:
    """Let a function raise an `InputError` that names the argument where one is of a type that it cannot use."""
    signature = inspect.signature(function)

    @functools.wraps(function)
    def called(*values: Given.args, **named: Given.kwargs) -> Answer:
        try:
            given = signature.bind(*values, **named).arguments
        except TypeError:
            given = {}  # an argument too many, or one missing: Python's own words for that follow
        for name, value in given.items():
            _judge(name, value, signature.parameters[name].default)
        return function(*values, **named)

    return called


def _judge(name: str, value: object, default: object) -> None:
    rule = RULES.get(name)
    if rule is None or (value is None and default is None):
        return
    fits, words = rule
    if not fits(value):
        raise InputError(f"{name}: found {shown(value)}, must be {words}.")


def _is_number(value: object) -> bool:
    return isinstance(value, numbers.Real | np.integer | np.floating) and not isinstance(value, bool)


def _is_whole(value: object) -> bool:
    return isinstance(value, numbers.Integral) and not isinstance(value, bool)


def _is_pair(value: object) -> bool:
    return isinstance(value, tuple | list | np.ndarray) and len(value) == 2 and all(_is_number(one) for one in value)


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _is_path(value: object) -> bool:
    return isinstance(value, str | os.PathLike)


def _is_rig(value: object) -> bool:
    return isinstance(value, Rig) or _is_path(value)


def _is_target(value: object) -> bool:
    # Of several each is judged by itself, later. Bytes would be taken for numbers, and a set has no order.
    return isinstance(value, str | Place | Iterable) and not isinstance(value, NO_PAIR)


def _are_rigs(value: object) -> bool:
    return isinstance(value, Iterable) and not isinstance(value, str)


NO_PAIR: Final = (bytes, bytearray, Set, Mapping)
TARGET: Final = "a name or coordinates as text, a pair (right ascension, declination) in degrees, or a Place"

RULES: Final[dict[str, tuple[Callable[[Any], bool], str]]] = {
    **dict.fromkeys(
        (
            "angle", "tolerance", "nudge", "nudge_percent", "turn_cost", "overlap", "grid_angle", "sparse",
            "main_exposure", "least_altitude", "allowed_loss", "clear_share",
        ),
        (_is_number, "a number"),
    ),
    **dict.fromkeys(("at", "bounds", "guide_scope"), (_is_pair, "two numbers in brackets, such as (1.0, 15.0)")),
    **dict.fromkeys(("panels", "order", "horizon", "time_zone", "equinox"), (_is_text, "text")),
    **dict.fromkeys(("store", "targets"), (_is_path, "a path")),
    "nside": (_is_whole, "a whole number"),
    "target": (_is_target, TARGET),
    "rig": (_is_rig, "a Rig, or the path of its TOML file"),
    "rigs": (_are_rigs, "a list of rigs, paths or names of presets"),
    "flat": (lambda value: isinstance(value, np.ndarray) or _is_path(value), "a path or an array of counts"),
    "stars": (lambda value: isinstance(value, str | StarSource), '"auto", "tycho2", "store" or a star source'),
    "epoch": (lambda value: _is_text(value) or _is_number(value), 'a year, or text such as "2026-11-25"'),
    "date": (lambda value: isinstance(value, str | datetime.date), 'a date, or text such as "2026-11-25"'),
    "site": (lambda value: isinstance(value, str | Site), 'a Site, or text: "LATITUDE LONGITUDE [ELEVATION]"'),
}  # fmt: skip
