"""From a section as read to its frozen value, with all its faults.

A section that has faults still yields the values that are sound, so that rules joining several sections can be
checked in the same pass.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any, cast

from pydantic import ValidationError

from guidestar.rig.model import DEPENDENT_DEFAULTS, Part
from guidestar.rig.wording import allowed, choices_of, did_you_mean, near_miss, plain, shown


@dataclass
class Checked:
    """What became of one section: its value (None if it has faults), the sentences, and every sound value by key."""

    value: Any = None
    faults: list[str] = field(default_factory=list)
    sound: dict[str, Any] = field(default_factory=dict)


def check_section(
    path: str,
    kind: type,
    raw: Any,
    *,
    elsewhere: Mapping[Any, str] | None = None,
    aliases: tuple[str, ...] = (),
) -> Checked:
    """Check one table against the frozen class `kind`; `path` is its place in the file, such as "prism".

    `elsewhere` maps keys of other sections to the section they belong to, for keys that merely stand in the wrong
    one; `aliases` are keys dealt with before, to be proposed for a misspelt one.
    """
    if not isinstance(raw, Mapping):
        return Checked(faults=[f"{path}: found {shown(raw)}, must be a table of keys"])
    known = [item.name for item in fields(kind)]
    given = {key: value for key, value in raw.items() if key in known}
    checked = Checked(
        faults=[_unknown(path, key, [*known, *aliases], elsewhere or {}) for key in raw if key not in known]
    )
    try:
        value = kind(**given)
    except ValidationError as error:
        _add_faults(checked, path, kind, given, error)
    else:
        checked.value = None if checked.faults else value
        checked.sound = {key: getattr(value, key) for key in known}
    return checked


def _unknown(path: str, key: Any, known: list[str], elsewhere: Mapping[Any, str]) -> str:
    """Word a key that the section does not have: perhaps it belongs elsewhere, perhaps it is misspelt."""
    name = plain(str(key))
    hint = f"; it belongs in [{elsewhere[key]}]" if key in elsewhere else near_miss(key, known)
    return f"{path}.{name}: unknown key{hint}"


def _add_faults(checked: Checked, path: str, kind: type, given: Mapping[str, Any], error: ValidationError) -> None:
    """Word pydantic's findings, one a key, and keep what it found nothing wrong with."""
    faulty: dict[str, str] = {}
    for finding in error.errors(include_url=False):
        key = str(finding["loc"][0])
        faulty[key] = _sentence(path, kind, key, given, cast("dict[str, Any]", finding))
    checked.faults += faulty.values()
    checked.sound = {key: value for key, value in _with_defaults(kind, given).items() if key not in faulty}


def _sentence(path: str, kind: type, key: str, given: Mapping[str, Any], finding: dict[str, Any]) -> str:
    own_words = finding.get("ctx", {}).get("error")
    permitted = str(own_words) if isinstance(own_words, ValueError) else allowed(kind, key)
    if finding["type"] == "missing":
        return f"{path}.{key}: missing, {permitted}"
    return f"{path}.{key}: found {shown(given[key])}, {permitted}{did_you_mean(given[key], choices_of(kind, key))}"


def _with_defaults(kind: type, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the given values and the defaults of the rest, where there are any."""
    values = {item.name: item.default for item in fields(kind) if item.default is not MISSING} | dict(given)
    for key, source in DEPENDENT_DEFAULTS.items():
        if key in values and values[key] is None and source in values:
            values[key] = values[source]
    return values


def check_parts(path: str, raw: Any) -> tuple[tuple[Part | None, ...], list[str]]:
    """Check a list of parts of the train, None for one with faults; places are counted from 1 in the sentences."""
    if not isinstance(raw, list | tuple):
        return (), [f"{path}: found {shown(raw)}, must be a list of parts [{{ name = …, length_mm = … }}]"]
    checked = [check_section(f"{path}[{i}]", Part, item) for i, item in enumerate(raw, 1)]
    faults = [fault for part in checked for fault in part.faults]
    return tuple(part.value for part in checked), faults
