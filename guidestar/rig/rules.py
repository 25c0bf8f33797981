"""Rules that join several keys of a rig file, and what is worth a warning though not an error.

A rule is checked as soon as every key it needs is sound, whatever else is wrong with the file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from guidestar.rig.clearance import least_clear_offset_mm, sensor_extent_mm
from guidestar.rig.limits import AHEAD_DISAGREEMENT_MM, FASTEST_F_RATIO
from guidestar.rig.model import Part
from guidestar.rig.wording import number, shown

if TYPE_CHECKING:
    from guidestar.rig.build import Rig


@dataclass(frozen=True)
class Rule:
    """`holds` and `allowed` take the values of `keys`; the first key is blamed, `allowed` says what it may be."""

    keys: tuple[str, ...]
    holds: Callable[..., bool]
    allowed: Callable[..., str]


RULES: Final = (
    Rule(
        ("telescope.central_obstruction_mm", "telescope.aperture_mm"),
        lambda obstruction, aperture: obstruction < aperture,
        lambda _, aperture: f"must be less than the aperture ({number(aperture)} mm)",
    ),
    Rule(
        ("telescope.aperture_mm", "telescope.focal_length_mm"),
        lambda aperture, focal: focal / aperture >= FASTEST_F_RATIO,
        lambda _, focal: (
            f"must be at most {number(focal / FASTEST_F_RATIO)} mm at a focal length of {number(focal)} mm: "
            f"no light cone is wider than f/{number(FASTEST_F_RATIO)}"
        ),
    ),
    Rule(
        ("telescope.exit_pupil_mm", "prism.ahead_mm", "telescope.focal_length_mm"),
        # A pupil at the focal length or beyond is not to blame: then the prism is too far ahead (next rule).
        lambda pupil, ahead, focal: pupil > ahead or pupil >= focal,
        lambda _, ahead, __: (
            f"must be more than prism.ahead_mm ({number(ahead)} mm): the prism stands behind the exit pupil"
        ),
    ),
    Rule(
        ("prism.ahead_mm", "telescope.focal_length_mm"),
        lambda ahead, focal: ahead < focal,
        lambda _, focal: f"must be less than the focal length ({number(focal)} mm)",
    ),
    Rule(
        ("prism.offset_mm", "prism.height_mm"),
        lambda offset, height: offset > height / 2,
        lambda _, height: f"must be more than half the prism's height ({number(height / 2)} mm)",
    ),
    Rule(
        ("guiding.edge_margin_mm", "guide_camera.width_mm", "guide_camera.height_mm"),
        lambda margin, width, height: 2 * margin < min(width, height),
        lambda _, width, height: (
            f"must be less than half the guide sensor's shorter side ({number(min(width, height) / 2)} mm)"
        ),
    ),
)


def broken_rules(sound: Mapping[str, Any]) -> list[str]:
    """Return a sentence for each rule that the sound values (by key path) break."""
    faults = []
    for rule in RULES:
        if all(key in sound for key in rule.keys):
            values = [sound[key] for key in rule.keys]
            if not rule.holds(*values):
                faults.append(f"{rule.keys[0]}: found {shown(values[0])}, {rule.allowed(*values)}")
    return faults


def broken_part_rules(parts: tuple[Part | None, ...]) -> list[str]:
    """Return a sentence for each part whose prism or filter lies outside it, and for a second one of either.

    None stands for a part at fault.
    """
    sound = {i: part for i, part in enumerate(parts, 1) if part is not None}
    return [fault for what in ("prism", "filter") for fault in _misplaced(what, sound)]


def _misplaced(what: str, parts: Mapping[int, Part]) -> Iterator[str]:
    """Yield what is wrong with the places of prism or filter in parts, which are counted from 1."""
    key = f"{what}_at_mm"
    at_mm = {i: getattr(part, key) for i, part in parts.items() if getattr(part, key) is not None}
    for i, at in at_mm.items():
        if at > parts[i].length_mm:
            yield (
                f"train.parts[{i}].{key}: found {shown(at)}, must be at most the part's length "
                f"({number(parts[i].length_mm)} mm)"
            )
    first, *more = at_mm or [0]
    for i in more:
        yield (
            f"train.parts[{i}].{key}: a second {what}, must stand on one part only "
            f"(train.parts[{first}] has it already)"
        )


def least_clear_offset_of(rig: Rig) -> float:
    """Return the least prism offset, mm, at which this rig's main sensor keeps all its light."""
    return least_clear_offset_mm(
        prism_height_mm=rig.prism.height_mm,
        sensor_extent_mm=sensor_extent_mm(rig.camera.width_mm, rig.camera.height_mm, rig.prism.side_deg),
        ahead_mm=rig.prism.ahead_mm,
        exit_pupil_mm=rig.telescope.exit_pupil_mm,
        f_ratio=rig.telescope.f_ratio,
    )


def warnings_of(rig: Rig) -> Iterator[str]:
    """Yield what deserves a second look in a rig that is valid."""
    least = least_clear_offset_of(rig)
    if rig.prism.offset_mm < least:
        yield (
            f"prism.offset_mm: at {number(rig.prism.offset_mm)} mm the prism shadows the main sensor; "
            f"the least clear offset is {number(least)} mm"
        )
    yield from _outside_light(rig)
    from_train = rig.train.prism_ahead_mm if rig.train else None
    if from_train is not None and abs(from_train - rig.prism.ahead_mm) > AHEAD_DISAGREEMENT_MM:
        yield (
            f"prism.ahead_mm: {number(rig.prism.ahead_mm)} mm disagrees with the train, whose parts put the prism "
            f"{number(from_train)} mm ahead of the main sensor; {number(rig.prism.ahead_mm)} mm is used"
        )


def _outside_light(rig: Rig) -> Iterator[str]:
    """Yield a warning if the guide field's centre lies beyond the useful light."""
    circle = rig.telescope.image_circle_mm
    if circle is None:
        return
    centre = rig.prism.offset_mm / (1.0 - rig.prism.ahead_mm / rig.telescope.exit_pupil_mm)
    if centre > circle / 2:
        yield (
            f"prism.offset_mm: at {number(rig.prism.offset_mm)} mm the guide field's centre lies {number(centre)} mm "
            f"from the axis, outside the useful light (image_circle_mm / 2 = {number(circle / 2)} mm)"
        )
