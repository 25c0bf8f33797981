"""A rig from plain values, all its faults at once."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from types import MappingProxyType
from typing import Any, Final

from guidestar.errors import RigError
from guidestar.rig.model import (
    SIDES_DEG,
    Camera,
    GuideCamera,
    Guiding,
    Mount,
    Prism,
    Site,
    Sky,
    Telescope,
    Train,
)
from guidestar.rig.rules import broken_part_rules, broken_rules, warnings_of
from guidestar.rig.sections import Checked, check_parts, check_section
from guidestar.rig.site_values import one_line
from guidestar.rig.wording import did_you_mean, near_miss, plain, shown

SECTIONS: Final[Mapping[str, type]] = MappingProxyType(
    {
        "telescope": Telescope,
        "camera": Camera,
        "prism": Prism,
        "guide_camera": GuideCamera,
        "guiding": Guiding,
        "mount": Mount,
        "sky": Sky,
        "site": Site,
        "train": Train,
    }
)
"""The tables of a rig file, in the file's order."""

REQUIRED: Final = ("telescope", "camera", "prism", "guide_camera")
OPTIONAL: Final = ("site", "train")
"""Tables that a rig may lack altogether (None then); the remaining ones take their defaults."""


@dataclass(frozen=True)
class Rig:
    """Everything the user owns that matters here, checked. Made by `read_rig` or `rig_from_dict`.

    Units are in the field names. `site` and `train` are None where the file has none; `warnings` are sentences about
    what is possible but probably not meant.
    """

    name: str
    telescope: Telescope
    camera: Camera
    prism: Prism
    guide_camera: GuideCamera
    guiding: Guiding
    mount: Mount
    sky: Sky
    site: Site | None = None
    train: Train | None = None
    warnings: tuple[str, ...] = field(default=(), compare=False)
    source: Mapping[str, Any] = field(default_factory=dict, repr=False, compare=False)

    def with_values(self, values: Mapping[str, Any], where: str | None = None) -> Rig:
        """Return this rig with some keys changed, checked anew like a file.

        Parameters
        ----------
        values : mapping
            Key path, such as "prism.width_mm", to its new value; None takes the key out, so that its default counts.
        where : str, optional
            What the sentences of an error begin with; the rig's name if absent.

        Raises
        ------
        RigError
            With every fault of the changed rig, unknown key paths among them.
        """
        changed = copy.deepcopy(dict(self.source))
        faults = [fault for path, value in values.items() for fault in _put(changed, path, value)]
        return _build(changed, where or self.name, faults)


def rig_from_dict(values: Mapping[str, Any], where: str = "rig") -> Rig:
    """Return a checked rig from a mapping shaped like a rig file.

    Parameters
    ----------
    values : mapping
        As `tomllib` reads it; it is copied.
    where : str
        What each sentence of an error begins with, such as the file's path.

    Raises
    ------
    RigError
        With all faults: unknown keys, missing ones, wrong types, impossible values.
    """
    return _build(values, where, [])


def _build(values: Mapping[str, Any], where: str, faults: list[str]) -> Rig:
    if not isinstance(values, Mapping):
        raise RigError(where, [f"found {shown(values)}, must be a table of sections"])
    faults = faults + _unknown_sections(values) + _name_faults(values)
    checked, sound = _check_sections(values)
    faults += [fault for section in checked.values() for fault in section.faults]
    faults += broken_rules(sound)
    if faults:
        raise RigError(where, faults)
    rig = Rig(
        name=values["name"],
        source=copy.deepcopy(dict(values)),
        **{key: section.value for key, section in checked.items()},
    )
    object.__setattr__(rig, "warnings", tuple(warnings_of(rig)))  # they need the finished rig
    return rig


def _unknown_sections(values: Mapping[str, Any]) -> list[str]:
    """Word every top-level key that is no section; one that belongs into a section is sent there."""
    faults = []
    for key in values:
        if key != "name" and key not in SECTIONS:
            home = _homes().get(key)
            hint = f"; it belongs in [{home}]" if home else near_miss(key, ["name", *SECTIONS])
            what = "section" if isinstance(values[key], Mapping) else "key"
            faults.append(f"{plain(str(key))}: unknown {what}{hint}")
    return faults


def _homes() -> dict[Any, str]:
    """Map each key that only one section has to that section."""
    homes: dict[Any, list[str]] = {"side": ["prism"]}
    for section, kind in SECTIONS.items():
        for item in fields(kind):
            homes.setdefault(item.name, []).append(section)
    return {key: sections[0] for key, sections in homes.items() if len(sections) == 1}


def _name_faults(values: Mapping[str, Any]) -> list[str]:
    if "name" not in values:
        return ["name: missing, must be text of one line"]
    try:
        one_line(values["name"])
    except ValueError as error:
        return [f"name: found {shown(values['name'])}, {error}"]
    return []


def _check_sections(values: Mapping[str, Any]) -> tuple[dict[str, Checked], dict[str, Any]]:
    """Check every section; return them and all sound values by key path."""
    checked: dict[str, Checked] = {}
    checked["train"] = _check_train(values)  # before the prism, whose place may follow from it
    for section in SECTIONS:
        if section == "prism":
            checked[section] = _check_prism(values, checked["train"])
        elif section != "train":
            checked[section] = _check_plain(values, section)
    in_order = {section: checked[section] for section in SECTIONS}
    return in_order, {f"{name}.{key}": v for name, part in in_order.items() for key, v in part.sound.items()}


def _check_plain(values: Mapping[str, Any], section: str) -> Checked:
    if section in OPTIONAL and section not in values:
        return Checked()
    if section in REQUIRED and section not in values:
        return Checked(faults=[_missing(section)])
    return check_section(section, SECTIONS[section], values.get(section, {}), elsewhere=_homes())


def _missing(section: str) -> str:
    needed = [item.name for item in fields(SECTIONS[section]) if item.default is MISSING]
    return f"{section}: missing, must be a table [{section}] with at least {', '.join(needed)}"


def _check_train(values: Mapping[str, Any]) -> Checked:
    """Check the train's parts one by one, then the table around them."""
    raw = values.get("train")
    if not isinstance(raw, Mapping) or "parts" not in raw:
        return _check_plain(values, "train")
    parts, faults = check_parts("train.parts", raw["parts"])
    sound_parts = tuple(part for part in parts if part is not None)
    checked = check_section("train", Train, {**raw, "parts": sound_parts}, elsewhere=_homes())
    checked.faults += faults + broken_part_rules(parts)
    if checked.faults:
        checked.value = None
    return checked


def _check_prism(values: Mapping[str, Any], train: Checked) -> Checked:
    """Check the prism, with its side turned into an angle and its place taken from the train if need be."""
    raw = values.get("prism")
    if not isinstance(raw, Mapping):
        return _check_plain(values, "prism")
    filled, faults = _resolve_side(raw)
    derived = train.value.prism_ahead_mm if train.value else None
    if derived is not None:
        filled.setdefault("ahead_mm", derived)
    checked = check_section("prism", Prism, filled, elsewhere=_homes(), aliases=("side",))
    checked.faults = faults + [_about_ahead(fault) for fault in checked.faults]
    if train.value is None and _names_prism_at(values):  # the train's own faults say what is wrong
        checked.faults = [fault for fault in checked.faults if not fault.startswith(_AHEAD_MISSING)]
    if faults:
        checked.value = None
    return checked


_AHEAD_MISSING: Final = "prism.ahead_mm: missing"


def _about_ahead(fault: str) -> str:
    """Add the other way to give the prism's place to the sentence about its absence."""
    return f"{fault}, or follow from prism_at_mm of a train part" if fault.startswith(_AHEAD_MISSING) else fault


def _names_prism_at(values: Mapping[str, Any]) -> bool:
    """Tell whether a part of the train, sound or not, says where the prism is."""
    train = values.get("train")
    parts = train.get("parts") if isinstance(train, Mapping) else None
    return isinstance(parts, list | tuple) and any(isinstance(p, Mapping) and "prism_at_mm" in p for p in parts)


def _resolve_side(raw: Mapping[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """Return the prism's keys with the word `side` turned into `side_deg`, and faults."""
    filled = dict(raw)
    if "side" not in filled:
        return filled, []
    word = filled.pop("side")
    if not isinstance(word, str) or word not in SIDES_DEG:
        allowed = 'must be "top", "left", "bottom" or "right" (any other angle as side_deg)'
        return filled, [f"prism.side: found {shown(word)}, {allowed}{did_you_mean(word, SIDES_DEG)}"]
    if "side_deg" in filled:
        given = shown(filled["side_deg"])
        return filled, [f"prism.side: found {shown(word)} next to side_deg = {given}, must be given one way only"]
    return filled | {"side_deg": SIDES_DEG[word]}, []


def _put(values: dict[str, Any], path: str, value: Any) -> list[str]:
    """Set one key path of a raw rig in place (None takes it out); return faults of the path itself."""
    section, dot, key = str(path).partition(".")
    if not dot:
        _set(values, section, value, known=section == "name" or section in SECTIONS)
        return []
    table = values.get(section, {})
    if "." in key or not isinstance(table, Mapping):
        return [f"{plain(str(path))}: unknown key path, must be section.key such as prism.width_mm"]
    changed = dict(table)
    names = [item.name for item in fields(SECTIONS[section])] if section in SECTIONS else []
    if section == "prism" and key in ("side", "side_deg"):
        changed.pop("side", None)
        changed.pop("side_deg", None)
    _set(changed, key, value, known=key in names or (section == "prism" and key == "side"))
    if changed or section in values:
        values[section] = changed
    return []


def _set(table: dict[str, Any], key: str, value: Any, *, known: bool) -> None:
    """Set a key, or take a known one out; an unknown one stays in, so that the check names it."""
    if value is None and known:
        table.pop(key, None)
    else:
        table[key] = value
