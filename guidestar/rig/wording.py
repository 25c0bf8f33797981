"""How faults of a rig file are put into words: the value found, what is allowed, "did you mean"."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Mapping
from typing import Any, Final, Literal, get_args, get_origin, get_type_hints

_LONGEST_SHOWN = 40

_UNITS: Final = (
    ("_mag_arcsec2", " mag/arcsec²"),
    ("_e_per_s", " electrons a second"),
    ("_arcsec", "″"),
    ("_mag", " mag"),
    ("_deg", "°"),
    ("_min", " min"),
    ("_mm", " mm"),
    ("_um", " µm"),
    ("_e", " electrons"),
    ("_s", " s"),
    ("_m", " m"),
)


def shown(value: Any) -> str:
    """Return a value the way a rig file would write it, shortened, always printable."""
    if isinstance(value, str):
        return f'"{plain(value)}" (text)'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return _shown_number(value)
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list" if value else "an empty list"
    return plain(f"{value} ({type(value).__name__})")


def _shown_number(value: float) -> str:
    """Return a number in full unless it is absurdly long (a file may hold whole numbers of any length)."""
    if isinstance(value, int):
        return str(value) if abs(value) < 10**15 else "a whole number of more than 15 digits"
    return str(float(value))


def plain(text: str) -> str:
    """Return text shortened and with everything unprintable escaped."""
    cut = text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 1] + "…"
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in cut)


def did_you_mean(word: Any, known: Iterable[str]) -> str:
    """Return "; did you mean x?" for the nearest known word, empty if none is near."""
    near = difflib.get_close_matches(str(word)[:100].lower(), list(known), n=1, cutoff=0.6)
    return f"; did you mean {near[0]}?" if near else ""


def near_miss(key: Any, known: Iterable[str]) -> str:
    """Return "; did you mean x?" for the nearest known key, or the list of known keys if none is near."""
    known = list(known)
    return did_you_mean(key, known) or f"; known here: {', '.join(known)}"


def choices_of(section: type, key: str) -> tuple[str, ...]:
    """Return the words that a key may be, empty for a key that is not a choice."""
    hint = get_type_hints(section)[key]
    return get_args(hint) if get_origin(hint) is Literal else ()


def unit_of(key: str) -> str:
    """Return the unit that a key's name ends in, ready to follow a number; empty if it has none."""
    return next((unit for ending, unit in _UNITS if key.endswith(ending)), "")


def allowed(section: type, key: str) -> str:
    """Return what a key of a section's class may be: "must be a number from 50 to 20000 mm"."""
    hint = get_type_hints(section)[key]
    choices = [f'"{word}"' for word in choices_of(section, key)]
    if choices:
        return f"must be {', '.join(choices[:-1])} or {choices[-1]}"
    if hint is bool:
        return "must be true or false"
    if hint is str:
        return "must be text of one line"
    if hint is int:
        return f"must be a whole number {_range(section, key)}"
    return f"must be a number {_range(section, key)}".rstrip()


def _range(section: type, key: str) -> str:
    """Return "from 50 to 20000 mm", "more than 0, at most 1" or "more than 0 mm (inf allowed)"."""
    bounds = _bounds(section, key)
    unit = unit_of(key)
    low, above, high, below = (bounds.get(name) for name in ("ge", "gt", "le", "lt"))
    infinite = " (inf allowed)" if bounds.get("allow_inf_nan") else ""
    if low is not None and high is not None:
        return f"from {_short(low)} to {_short(high)}{unit}"
    if low is not None and below is not None:
        return f"from {_short(low)} to less than {_short(below)}{unit}"
    if above is not None and high is not None:
        return f"more than {_short(above)}, at most {_short(high)}{unit}"
    return f"more than {_short(above)}{unit}{infinite}" if above is not None else ""


def _short(number: float) -> str:
    return f"{number:.6g}" if abs(number) < 10**6 else f"{number:.0f}"


def _bounds(section: type, key: str) -> dict[str, Any]:
    """Collect a key's bounds from its field; pydantic keeps each as an object with one attribute of that name."""
    names = ("ge", "gt", "le", "lt", "allow_inf_nan")
    metadata: Collection[Any] = getattr(section, "__pydantic_fields__")[key].metadata  # noqa: B009
    return {name: getattr(item, name) for item in metadata for name in names if hasattr(item, name)}


def number(value: float) -> str:
    """Return a length or ratio for a sentence: one decimal, two where the second says something."""
    rounded = f"{value:.2f}"  # "inf" stays "inf"
    return rounded[:-1] if rounded.endswith("0") else rounded
