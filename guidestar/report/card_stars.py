"""The guide stars of one side of the flip, as a card shows them: which serves when, where it stands, its neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from guidestar.field.result import CheckResult, Placement
from guidestar.night.result import Run, SideOfNight, TargetNight
from guidestar.report import wording as w
from guidestar.report.night_wording import Clock

MOST_MARKS = 6
"""Stars of a guide picture that get a sign."""

_LETTERS = "abcdefgh"


@dataclass(frozen=True)
class Mark:
    """A star of the guide picture with its sign: a number if it serves, a letter if it is there to recognise it by."""

    sign: str
    placement: Placement
    serves: bool


@dataclass(frozen=True)
class SideStars:
    """One side of the flip: its check, its marked stars, its stretches, and the signs of the stars that serve."""

    side: SideOfNight
    marks: tuple[Mark, ...]
    runs: tuple[Run, ...]
    signs: dict[str, str]

    @property
    def check(self) -> CheckResult:
        """The full answer at the side's camera angle."""
        return self.side.check

    @property
    def single(self) -> Run | None:
        """The one stretch of a side that is served by one star throughout, else None."""
        return self.runs[0] if len(self.runs) == 1 and self.runs[0].star_id is not None else None

    @property
    def served(self) -> bool:
        """Whether any star serves at any time."""
        return bool(self.signs)

    def mark_of(self, star_id: str) -> Mark | None:
        """Return the mark of a star, None if the picture does not show it."""
        return next((mark for mark in self.marks if mark.placement.star_id == star_id), None)


def side_stars(night: TargetNight, side: SideOfNight, most_neighbours: int = 4) -> SideStars:
    """Return what a card shows of one side; `most_neighbours` stars besides those that serve."""
    runs = tuple(run for run in night.runs if side.start <= run.start < side.end)
    served = list(dict.fromkeys(run.star_id for run in runs if run.star_id is not None))
    signs = {star_id: str(number) for number, star_id in enumerate(served, start=1)}
    placements = side.check.asked.placements if side.check.asked is not None else ()
    here = {item.star_id: item for item in placements}
    marks = [Mark(signs[star_id], here[star_id], True) for star_id in served[:MOST_MARKS] if star_id in here]
    others = sorted((item for item in placements if item.star_id not in signs), key=lambda item: item.g_mag)
    room = max(min(MOST_MARKS - len(marks), most_neighbours), 0)
    marks += [Mark(sign, item, False) for sign, item in zip(_LETTERS, others[:room], strict=False)]
    return SideStars(side, tuple(marks), runs, signs)


def heading(night: TargetNight, number: int, clock: Clock) -> str:
    """Name a side by its number in order of time (below the pole a mount flips back, which is a flip all the same)."""
    if night.turning is not None:
        return f"The picture as it is at {clock.at(night.sides[number].start)}"
    if len(night.sides) == 1:
        return "All night"
    return ("Before the flip", "After the flip", "After it turns back")[min(number, 2)]


def single_rows(stars: SideStars) -> list[tuple[str, str]]:
    """Return what is needed of the one star of a side: place, exposure, brightness."""
    run = stars.single
    assert run is not None
    assert run.star_id is not None
    mark = stars.mark_of(run.star_id)
    place = "not in this picture" if mark is None else pixel(mark.placement)
    rows = [("pixel u, v", place), ("exposure", exposure(run))]
    return rows if run.g_mag is None else [*rows, ("brightness", w.magnitude(run.g_mag))]


def run_rows(runs: Sequence[Run], signs: dict[str, str], clock: Clock, most: int) -> list[tuple[str, str, str]]:
    """Return what serves when: sign, hours, and star with exposure; at most so many rows, the rest counted."""
    rows = [(signs.get(run.star_id or "", "–"), clock.span(run), _served(run)) for run in runs[:most]]
    if len(runs) > most:
        rest = f"{len(runs) - most}{w.NBSP}more, to {clock.at(runs[-1].end)}"
        rows.append(("", "", f"… {rest}: see the report"))
    return rows


def _served(run: Run) -> str:
    if run.star_id is not None:
        brightness = "" if run.g_mag is None else f", {w.magnitude(run.g_mag)}"
        return f"{w.star(run.star_id)}{brightness}, {exposure(run)}"
    if run.exposure_s is not None and run.would_be_id is not None:
        return f"no star; with {w.exposure(run.exposure_s)} {w.star(run.would_be_id)} would do"
    return "no star"


def exposure(run: Run) -> str:
    """Write a stretch's exposure, marked where its star fills a pixel; a fixed limit of magnitude has none."""
    if run.exposure_s is None:
        return "as usual"
    return w.exposure(run.exposure_s) + (f"{w.NBSP}!" if run.saturated else "")


def pixel(placement: Placement) -> str:
    """Write a place on the guide sensor in whole pixels, unbinned."""
    return f"{placement.u_px:.0f},{w.NBSP}{placement.v_px:.0f}"


def mark_rows(stars: SideStars) -> list[tuple[str, str, str, str]]:
    """Return the table below a guide picture: sign, brightness, pixel, what it is; not the one star named above it."""
    return [
        (mark.sign, w.magnitude(mark.placement.g_mag), pixel(mark.placement), _kind(mark))
        for mark in stars.marks
        if not (mark.serves and stars.single is not None)
    ]


def _kind(mark: Mark) -> str:
    if mark.serves:
        return "guide star"
    return "could guide too" if mark.placement.usable else "not usable"
