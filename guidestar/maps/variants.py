"""Rigs to compare: each rig given, or that rig with numbers varied, without any file being written."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Final

from guidestar.errors import InputError
from guidestar.rig import Rig
from guidestar.rig.wording import plain

MOST_RIGS: Final = 48
"""More of them take long, and nobody reads a table of more rows."""

Number = int | float


@dataclass(frozen=True)
class Vary:
    """A key of the rig file, such as "prism.width_mm", and the numbers to put in its place."""

    key: str
    values: tuple[Number, ...]


@dataclass(frozen=True)
class Variant:
    """A rig to compare; `base` is the name of the rig that it comes from, `values` what was put in, by varied key."""

    rig: Rig
    base: str
    values: tuple[Number, ...] = ()


def parse_vary(text: str) -> Vary:
    """Read what --vary takes: KEY=V1,V2,V3.

    Raises
    ------
    InputError
        It is something else.
    """
    key, equals, listed = (part.strip() for part in text.partition("="))
    example = "such as prism.width_mm=8,10,12,14"
    if not (key and equals and listed):
        raise InputError(
            f'--vary "{text}": give a key of the rig file, "=" and numbers with commas between, {example}.'
        )
    values = tuple(_number(word.strip(), text, example) for word in listed.split(","))
    twice = next((value for at, value in enumerate(values) if value in values[:at]), None)
    if twice is not None:
        raise InputError(f'--vary "{text}": the value {twice:g} is there twice; leave one out.')
    return Vary(key, values)


def _number(word: str, text: str, example: str) -> Number:
    try:
        return int(word)
    except ValueError:
        pass
    try:
        value = float(word)
    except ValueError:
        value = float("nan")
    if value != value:
        raise InputError(f'--vary "{text}": "{word}" is no number; numbers of the rig file can be varied, {example}.')
    return value


def variants(rigs: Sequence[Rig], varied: Sequence[Vary] = ()) -> tuple[Variant, ...]:
    """Return the rigs themselves or, with keys to vary, each rig with each combination of the values.

    Raises
    ------
    InputError
        Fewer than two rigs to compare, or too many, two of the same name, a key twice.
    RigError
        A key that is none, or a value that makes no rig.
    """
    _require_apart(rigs, varied)
    number = len(rigs)
    for item in varied:
        number *= len(item.values)
    if number > MOST_RIGS:
        raise InputError(f"That would be {number} rigs to compare; at most {MOST_RIGS}: leave out some of the values.")
    if number < 2:
        raise InputError("There is nothing to compare: name two rigs, or vary a number with --vary KEY=V1,V2.")
    keys = [item.key for item in varied]
    return tuple(_variant(rig, keys, values) for rig in rigs for values in product(*(item.values for item in varied)))


def told_apart(rigs: Sequence[Rig], sources: Sequence[str | os.PathLike[str] | None]) -> list[Rig]:
    """Return the rigs; those that share a name are called by what they were given as, by file name if that is enough.

    `sources` are files or names of presets, None for a rig that came from neither: that one keeps its name, and so do
    all where the sources are alike too.
    """
    names = [rig.name for rig in rigs]
    sharing = [at for at, name in enumerate(names) if names.count(name) > 1 and sources[at] is not None]
    texts = {at: os.fspath(sources[at] or "") for at in sharing}
    files = {at: Path(text).name for at, text in texts.items()}
    taken = {name for at, name in enumerate(names) if at not in texts}
    free = (way for way in (files, texts) if len(set(way.values())) == len(way) and taken.isdisjoint(way.values()))
    called = next(free, {})
    return [rig.with_values({"name": plain(called[at])}) if at in called else rig for at, rig in enumerate(rigs)]


def _require_apart(rigs: Sequence[Rig], varied: Sequence[Vary]) -> None:
    names = [rig.name for rig in rigs]
    same = next((name for at, name in enumerate(names) if name in names[:at]), None)
    if same is not None:
        raise InputError(f'Two of the rigs are called "{same}": give one of them another name in its file.')
    keys = [item.key for item in varied]
    twice = next((key for at, key in enumerate(keys) if key in keys[:at]), None)
    if twice is not None:
        raise InputError(f"--vary {twice} is there twice: put all its values into one.")


def _variant(rig: Rig, keys: Sequence[str], values: tuple[Number, ...]) -> Variant:
    if not keys:
        return Variant(rig, rig.name)
    given = dict(zip(keys, values, strict=True))
    words = ", ".join(f"{key}={value:g}" for key, value in given.items())
    changed = rig.with_values(given, where=f"--vary {words}")
    return Variant(changed.with_values({"name": f"{rig.name}, {words}"}), rig.name, values)
