"""What a card says, in few words: what to know first, what to dial, when, the train, and how to stay whole."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timedelta
from itertools import pairwise

from guidestar.night.result import Bound, Choice, Dark, NightResult, Span, TargetNight, Turning
from guidestar.report import sentences
from guidestar.report import wording as w
from guidestar.report.night_wording import MONTHS, Clock, hours, offset
from guidestar.report.train_sentences import CLOSE_ENOUGH_MM, mm
from guidestar.rig import Rig
from guidestar.train.result import Spacing, TrainResult

FOCUSING = (
    "Main camera first, with the telescope's focuser.",
    "Then the guide camera, moving it alone; lock it.",
    "Turn to the angle, check it by a plate solution.",
    "Compare the guide picture, calibrate, guide.",
)
"""Common practice, no source."""

SAFETY = (
    "Never point any optics near the Sun.",
    "Cold: dress far warmer than it feels at first.",
    "Dark: a dim red lamp; tell somebody where you are.",
    "Tripping: cables aside, tripod legs marked.",
    "Mains, damp: dry plugs, residual-current breaker.",
    "The rules of the place come first.",
)
"""Common practice, no source; two columns of three on paper."""

_NOT_TONIGHT = "Not tonight"
_MOST_HINTS = 2


def night_of(dark: Dark) -> str:
    """Name a night by the dates of its evening and its morning."""
    evening, morning = dark.evening, dark.evening + timedelta(days=1)
    first = str(evening.day)
    if evening.month != morning.month:
        first += f" {MONTHS[evening.month - 1]}"
    if evening.year != morning.year:
        first += f" {evening.year}"
    return f"Night of {first} to {morning.day} {MONTHS[morning.month - 1]} {morning.year}"


def clocks(result: NightResult, clock: Clock) -> str:
    """Name the clocks by which the times are given."""
    zone = result.site.time_zone
    if clock.changes:
        return f"Times of {zone}, whose clocks change in this night."
    ahead = offset(clock.local(result.dark.whole.start))
    return "Times are UTC." if ahead == "+0" else f"Times of {zone}, UTC{ahead}."


def doubts(result: NightResult, train: TrainResult | None) -> list[str]:
    """Return what the rig, its stars and its train are warned of, each once: it makes the whole card doubtful."""
    found = (*result.warnings, *(() if train is None else train.warnings))
    return [w.sentence(text) for text in dict.fromkeys(found)]


def first_words(night: TargetNight, rig: Rig) -> tuple[str, str] | None:
    """Return what has to be known before anything is dialled: a head and a sentence; None if a star is sure."""
    choice = night.choice
    if choice is None or night.no_window is not None:
        return _NOT_TONIGHT, night.no_window or "There are no hours in which this target can be imaged."
    if choice.holds == "sure":
        return None
    return _head(choice), _trouble(night, choice, rig)


def _head(choice: Choice) -> str:
    if choice.holds == "usable":
        return "No star is sure"
    return "No guide star" if choice.holds == "never" else "Not sure, and not all night"


def _trouble(night: TargetNight, choice: Choice, rig: Rig) -> str:
    play = w.play(rig.prism.offset_accuracy_mm)
    where = "At the angle asked for" if choice.asked else "At this angle"
    if choice.holds == "usable":
        return (
            f"{where} a star serves all night if the prism stands exactly where the rig file says, but perhaps not if "
            f"it stands up to {play} off. Look for the star before you rely on it."
        )
    if choice.holds == "partly":
        no_angle = "" if choice.asked else "No camera angle has a star all night. "
        served = f"{hours(night.guidable_hours)} of {hours(night.hours)}"
        return f"{no_angle}{where} a star serves for {served}: what serves when stands below."
    if choice.asked:
        return "At the angle asked for no star serves at any time tonight."
    return "At no camera angle does a star serve at any time tonight; the report says what would help."


def hints(night: TargetNight) -> list[str]:
    """Return what would bring a star, where none serves at any angle."""
    if not night.sides:
        return []
    check = night.sides[0].check
    return [sentences.hint(check, item) for item in check.hints[:_MOST_HINTS]]


def dial_angle(choice: Choice) -> str:
    """Write the angle to dial."""
    return w.angle(choice.angle_deg)


def dial_lines(night: TargetNight, rig: Rig, clock: Clock) -> list[str]:
    """Return what belongs to the angle: its margin, what the flip makes of it, how an alt-azimuth mount turns it."""
    choice = night.choice
    assert choice is not None
    return [*_margin(choice), *_flip_lines(night), *_turning_lines(night, choice, rig, clock)]


def north_sense(rig: Rig) -> str:
    """Return which way round from up an angle counted like a position angle goes in the displayed picture."""
    return "anticlockwise" if rig.camera.mirrored else "clockwise"


def _margin(choice: Choice) -> Iterator[str]:
    if choice.holds in ("partly", "never"):
        return
    if choice.margin_deg >= 180.0:
        yield f"any angle will do ({choice.holds} all night)"
        return
    yield f"give or take {w.margin(choice.margin_deg)} ({choice.holds} all night)"


def _flip_lines(night: TargetNight) -> Iterator[str]:
    if len(night.sides) < 2:
        return
    yield f"The flip by itself makes it {w.angle(night.sides[1].camera_angle_deg)}."
    own = [side.own_angle_deg for side in night.sides[:2]]
    if night.choice is not None and night.choice.holds in ("partly", "never"):
        parts = [
            f"{w.angle(one)} {when}" for one, when in zip(own, ("before", "after"), strict=True) if one is not None
        ]
        if parts:
            yield f"Angles that hold on one side of the flip: {w.joined(parts)} it."


def _turning_lines(night: TargetNight, choice: Choice, rig: Rig, clock: Clock) -> Iterator[str]:
    turning, sense = night.turning, north_sense(rig)
    if turning is None:
        return
    yield f"at {clock.at(night.windows[0].start)}; it turns with the sky, by {w.width(turning.total_deg)} in all."
    if choice.roll_deg is not None:
        yield f"In the picture the zenith stays {w.angle(choice.roll_deg)} {sense} from up."
    yield _longest_exposure(turning, clock)


def _longest_exposure(turning: Turning, clock: Clock) -> str:
    """Say how long the main camera may expose when the field turns fastest; a limit is rounded down."""
    when, limit = clock.at(turning.fastest_at), turning.exposure_limit_s
    if limit < 0.1:
        return f"Round {when} it turns too fast for any exposure."
    seconds = math.floor(limit) if limit >= 10.0 else math.floor(10.0 * limit) / 10.0
    return f"Round {when}, the fastest, main exposures of up to {w.exposure(seconds)} stay sharp in the corners."


def time_rows(result: NightResult, night: TargetNight, clock: Clock) -> list[tuple[str, str]]:
    """Return dark from and to, start, flip, pauses and end, in order of time as far as they go together."""
    dark = result.dark
    kind = "dark (nautical)" if dark.kind == "nautical" else "dark"
    rows = [(kind, w.joined([clock.span(span) for span in dark.spans]) or "never")]
    if not night.windows:
        return rows
    first, last = night.windows[0], night.windows[-1]
    between = [Span(one.end, other.start) for one, other in pairwise(night.windows)]
    marks = [(pause.start, ("pause", clock.span(pause))) for pause in between]
    if night.flip is not None:
        marks.append((night.flip, ("flip", clock.at(night.flip))))
    marks += [(side.start, ("flip back", clock.at(side.start))) for side in night.sides[2:]]
    return [
        *rows,
        ("start", f"{clock.at(first.start)}, {_bound(first.begins)}"),
        *(row for _, row in sorted(marks)),
        ("end", f"{clock.at(last.end)}, {_bound(last.ends)}"),
    ]


def _bound(why: Bound) -> str:
    """Return why the hours begin or end; a target need not set to be too low."""
    return {"rises": "high enough", "sets": "too low"}.get(why, str(why))


def train_rows(rig: Rig, train: TrainResult | None) -> list[tuple[str, str]]:
    """Return spacer, prism offset and guide focus; what is not known is said to be not known."""
    offset, accuracy = w.plain(rig.prism.offset_mm, 2), w.play(rig.prism.offset_accuracy_mm)
    prism = f"{offset}{w.NBSP}±{w.NBSP}{accuracy} from the axis"
    if train is None:
        no_train = "not known: no [train] in the rig file"
        return [("spacer", no_train), ("prism", prism), ("guide focus", no_train)]
    return [("spacer", _spacer(train)), ("prism", prism), ("guide focus", _guide_focus(train))]


def _spacer(train: TrainResult) -> str:
    spacing = train.spacing
    if spacing.spacer_mm < -CLOSE_ENOUGH_MM:
        return f"none fits: the train is {mm(-spacing.spacer_mm, 2)} too long"
    if spacing.spacer_mm <= 0.05:
        return "none needed"
    return f"{mm(spacing.spacer_mm, 2)}{_own_spacers(spacing)}"


def _own_spacers(spacing: Spacing) -> str:
    """Name the person's own spacers that come nearest, and how far off they leave the train."""
    if not spacing.chosen_mm:
        return ""
    lengths = " + ".join(w.plain(one, 2) for one in spacing.chosen_mm)
    own = f"; of your own: {w.unit(lengths, 'mm')}"
    off = spacing.residual_mm or 0.0
    if abs(off) <= CLOSE_ENOUGH_MM:
        return own
    return f"{own}, which leaves it {mm(abs(off), 2)} too {'long' if off > 0.0 else 'short'}"


def _guide_focus(train: TrainResult) -> str:
    focus = train.focus
    if focus.focuser_mm is None:
        return "not known: no stalk_mm or guide_flange_mm"
    if focus.in_travel is False:
        way = "drawn in" if focus.focuser_mm < 0.0 else "drawn out"
        return f"out of reach as built (would need {mm(abs(focus.focuser_mm))} {way}): see the train's report"
    return f"drawn out {mm(focus.focuser_mm)}"
