"""What a comparison of rigs says, as sentences for a person."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from guidestar.maps.compare import Compared, Comparison
from guidestar.report import wording as w
from guidestar.report.map_sentences import made_from, share
from guidestar.rig.wording import unit_of

LITTLE: Final = 0.01
"""A difference of less than a hundredth of all cases is not worth a new part."""

Measure = Callable[[Compared], float | None]


def usable(rig: Compared) -> float | None:
    """Return the share of all cases with a confirmed star."""
    return rig.summary.whole.usable.mean


def sure(rig: Compared) -> float | None:
    """Return the share of all cases with a sure one."""
    return rig.summary.whole.sure.mean


def flip_safe(rig: Compared) -> float | None:
    """Return the share of all cases with a confirmed star before and after the meridian flip."""
    return rig.summary.whole.flip_safe.mean


def expected(rig: Compared) -> float | None:
    """Return the share of all cases with a confirmed or an estimated star."""
    return rig.summary.whole.expected.mean


def value_of(key: str, value: float) -> str:
    """Write a varied value with its unit."""
    return f"{value:g}{unit_of(key)}".replace(" ", w.NBSP)


def name_of(found: Comparison, number: int) -> str:
    """Name a rig in a sentence: by its number, and by its varied values if it has any."""
    variant = found.rigs[number].variant
    if not found.varied:
        return f"rig {number + 1}"
    pairs = zip(found.varied, variant.values, strict=True)
    return f"rig {number + 1} ({', '.join(f'{item.key} {value_of(item.key, value)}' for item, value in pairs)})"


def conditions(found: Comparison) -> str:
    """Say what all rigs were measured on."""
    sky = found.rigs[0].sky
    alike = {rig.reach_mag for rig in found.rigs}
    words = made_from(sky)
    if len(alike) > 1:
        # Each rig counts stars to its own reach, which the table gives.
        mag = w.magnitude(found.rigs[0].reach_mag, sky.sweep.stars.band)
        words = words.replace(f"stars counted to {mag},", "stars counted to each rig's own reach,")
    return words


def verdict(found: Comparison) -> list[str]:
    """Say which rig serves more of the sky, by confirmed stars and then by expected ones."""
    asked = [(usable, "by confirmed stars", "CONFIRMED"), (sure, "by sure ones", "SURE")]
    if any(rig.reach_mag > rig.sky.sweep.stars.complete_to_mag for rig in found.rigs):
        asked.append((expected, "with estimated fainter stars besides", "EXPECTED"))
    lines = [_best(found, *question) for question in asked]
    return [line for line in (*lines, _bounds(found)) if line]


def _bounds(found: Comparison) -> str:
    """Say where a larger prism would show the guide sensor no more sky, if prisms are what is compared."""
    faces = {(rig.rig.prism.width_mm, rig.rig.prism.height_mm) for rig in found.rigs}
    bounded = [at for at, rig in enumerate(found.rigs) if rig.limited_by == "guide sensor"]
    if len(faces) < 2 or not bounded:
        return ""
    which = "every rig" if len(bounded) == len(found.rigs) else _together(found, bounded)
    return (
        f"FIELD  In {which} the guide sensor bounds the guide field, not the prism: a larger prism shows it no more "
        "sky there, it can only bring more light to the sensor's edge."
    )


def _best(found: Comparison, measure: Measure, words: str, head: str) -> str:
    """Say which rig is best, of those that keep the main sensor clear, and by how much against the first one."""
    known = {at: value for at, rig in enumerate(found.rigs) if (value := measure(rig)) is not None}
    clear = {at: value for at, value in known.items() if not found.rigs[at].shadows} or known
    if 0 not in known or not clear:
        return ""
    most = max(clear.values())
    but = _tempting(found, known, most)
    if most - min(clear.values()) < LITTLE:
        alike = f"all serve {share(known[0])} of all cases, give or take a point"
        return f"{head}  No rig is worth more than another {words}: {alike}.{but}"
    peers = [at for at, value in clear.items() if most - value < LITTLE]
    best, others = peers[0], peers[1:]  # of those that are alike the first one named
    as_much = _as_much(others, [clear[at] - known[0] for at in others])
    if best == 0:
        return f"{head}  The first rig serves most {words}: {share(known[0])} of all cases.{as_much}{but}"
    return (
        f"{head}  {w.capital(name_of(found, best))} serves most {words}: {share(clear[best])} of all cases against "
        f"{share(known[0])} with the first, {points(clear[best] - known[0])} points.{as_much}{but}"
    )


def _as_much(others: list[int], gains: list[float]) -> str:
    """Name the rigs that are the best one's equals, with the figures that the table gives; empty if there are none."""
    if not others:
        return ""
    verb = "serves" if len(others) == 1 else "serve"
    return f" {w.capital(_numbered(others))} {verb} as much to within a point: {w.joined([points(g) for g in gains])}."


def _tempting(found: Comparison, known: dict[int, float], most: float) -> str:
    """Name the rig that would serve more still, but shadows the main sensor; empty if none does."""
    best = max(known, key=lambda at: known[at])
    if known[best] - most < LITTLE:
        return ""
    return f" {w.capital(name_of(found, best))} would serve {share(known[best])}, but shadows the main sensor."


def only_expected_differ(found: Comparison) -> bool:
    """Tell whether the rigs serve alike by confirmed stars and differ by estimated fainter ones alone."""
    confirmed, estimated = (
        [value for rig in found.rigs if (value := measure(rig)) is not None] for measure in (usable, expected)
    )
    if not confirmed or not estimated:
        return False
    return max(confirmed) - min(confirmed) < LITTLE <= max(estimated) - min(estimated)


def points(difference: float | None) -> str:
    """Write a difference of two shares in percentage points."""
    if difference is None:
        return "–"
    text = w.signed(100.0 * difference, 1)
    return "0.0" if text == "+0.0" else text


def cautions(found: Comparison) -> list[str]:
    """Say what is wrong with which rigs: a shadow above all."""
    about: dict[str, list[int]] = {}
    for at, rig in enumerate(found.rigs):
        for text in rig.rig.warnings:
            about.setdefault(text.strip().rstrip("."), []).append(at)
    return [f"WARNING  {w.capital(_together(found, numbers))}: {text}." for text, numbers in about.items()]


def _together(found: Comparison, numbers: list[int]) -> str:
    return name_of(found, numbers[0]) if len(numbers) == 1 else _numbered(numbers)


def _numbered(numbers: list[int]) -> str:
    """Name rigs by their numbers alone."""
    words = w.joined([str(at + 1) for at in numbers])
    return f"rig {words}" if len(numbers) == 1 else f"rigs {words}"


def table_note(found: Comparison) -> str:
    """Explain the first table."""
    limit = w.share(found.rigs[0].summary.sparse_below)
    mark = " !: the prism shadows the main sensor." if any(rig.shadows for rig in found.rigs) else ""
    return (
        "usable, sure, flip-safe: chance of a confirmed star for a target and a camera angle taken at random, the mean "
        f"over the sky. no angle: share of the sky without any usable angle. sparse: share with under {limit} of the "
        "angles usable. expected: as usable, with stars that the catalogue does not list, an estimate. reach: faintest "
        "star that is usable anywhere on the field. lit: share of the guide sensor where the prism catches at least "
        f"half of a star's beam.{mark}"
    )


BANDS_NOTE: Final = (
    "Usable share by distance from the Milky Way's plane |b|, by confirmed stars; below, what each rig has more (+) or "
    "less (−) than the first one, in percentage points."
)

EXPECTED_NOTE: Final = "The same with stars that the catalogue does not list, by star counts: an estimate."

TARGETS_NOTE: Final = "Per rig: usable / sure, shares of all camera angles by confirmed stars."
