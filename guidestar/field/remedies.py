"""What would make the guide camera reach fainter: one change of the rig at a time, each worked out anew."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from guidestar.errors import InputError
from guidestar.field import geometry
from guidestar.field.light import rig_light
from guidestar.field.reach_points import SpotReach, spot_reach, usual_places
from guidestar.rig import Rig

RemedyKind = Literal["exposure", "binning", "focus", "ahead", "wider prism", "higher prism"]

LONGER: Final = 2.0
SHARPER: Final = 0.8
NEARER_MM: Final = 10.0
LARGER: Final = 1.5
"""The changes tried: exposure twice, star size four fifths, prism 10 mm nearer to the focal plane (at most half its
way), prism half as wide or half as high again."""

_MOST_BINNING: Final = 4


@dataclass(frozen=True)
class Remedy:
    """One change and what it gains, G magnitudes; negative: it loses.

    `values` are the rig keys changed, with their new values. `gain_mag` is that of the reach which half of the field
    attains; the others those at the centre and at the worst corner. None where no light comes before or after.
    `warnings`: what the changed rig warns of and the old one does not. `undersampled`: star images become so small for
    their pixels that centroids suffer.
    """

    kind: RemedyKind
    values: Mapping[str, float]
    gain_mag: float | None
    gain_centre_mag: float | None
    gain_corner_mag: float | None
    warnings: tuple[str, ...]
    undersampled: bool


def remedies(rig: Rig) -> tuple[Remedy, ...]:
    """Return what each change gains, the largest gain first; changes that this rig does not allow are left out."""
    now = _reach(rig)
    found = [_tried(rig, now, kind, values) for kind, values in _changes(rig)]
    return tuple(sorted((remedy for remedy in found if remedy is not None), key=_rank))


def _rank(remedy: Remedy) -> tuple[float, float]:
    gains = (remedy.gain_mag, remedy.gain_corner_mag)
    field, corner = (float("inf") if gain is None else -round(gain, 3) for gain in gains)
    return field, corner


def _changes(rig: Rig) -> Iterator[tuple[RemedyKind, dict[str, Any]]]:
    prism = rig.prism
    yield "exposure", {"guiding.exposure_s": rig.guiding.exposure_s * LONGER}
    if rig.guide_camera.binning * 2 <= _MOST_BINNING:
        yield "binning", {"guide_camera.binning": rig.guide_camera.binning * 2}
    yield "focus", {"telescope.fwhm_arcsec": round(rig.telescope.fwhm_arcsec * SHARPER, 6)}
    yield "ahead", {"prism.ahead_mm": prism.ahead_mm - min(NEARER_MM, prism.ahead_mm / 2)}
    yield "wider prism", {"prism.width_mm": prism.width_mm * LARGER}
    # Higher means outward: the inner edge stays where it is, or it would shadow the main sensor.
    more_mm = prism.height_mm * (LARGER - 1.0)
    higher = {"prism.height_mm": prism.height_mm + more_mm, "prism.offset_mm": prism.offset_mm + more_mm / 2}
    yield "higher prism", higher


def _tried(rig: Rig, now: tuple[SpotReach, bool], kind: RemedyKind, values: dict[str, Any]) -> Remedy | None:
    try:
        changed = rig.with_values(values)
        after, undersampled = _reach(changed)
    except InputError:  # outside what a rig may be, or in the dark: no remedy
        return None
    before, already = now
    return Remedy(
        kind=kind,
        values=values,
        gain_mag=_gain(before.half, after.half),
        gain_centre_mag=_gain(before.centre, after.centre),
        gain_corner_mag=_gain(before.corner, after.corner),
        warnings=tuple(text for text in changed.warnings if text not in rig.warnings),
        undersampled=undersampled and not already,
    )


def _reach(rig: Rig) -> tuple[SpotReach, bool]:
    light = rig_light(rig)
    return spot_reach(light, usual_places(light, geometry.centre_mm(rig))), light.setup.undersampled


def _gain(before: float | None, after: float | None) -> float | None:
    return None if before is None or after is None else after - before
