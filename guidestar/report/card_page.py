"""A card put together: a printed page of fixed size, or one long narrow picture for a phone.

What has to be read first stands first: a warning of the Sun, then what is wrong with the plan, then the rest in the
order in which it is needed at the telescope. On paper the pictures give way until everything fits.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from guidestar.night.result import NightResult, TargetNight
from guidestar.report import card_sheet as s
from guidestar.report import card_stars, card_words
from guidestar.report import wording as w
from guidestar.report.card_blocks import Block, Columned, Columns, Framed, Heading, Name, Rows, Stack, Steps, Words
from guidestar.report.card_frame import Frames
from guidestar.report.card_guide import GuidePicture
from guidestar.report.card_stars import SideStars
from guidestar.report.night_wording import Clock, clock_of
from guidestar.train.result import TrainResult

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PAPERS_PT: Final = {"a4": (210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0), "letter": (8.5 * 72.0, 11.0 * 72.0)}
PHONE_WIDTH_PT: Final = 320.0
"""So narrow that the smallest type is still read where the whole width is that of a phone."""

_MARGIN_PT = 30.0
"""A good centimetre, which home printers can do without (common practice, no source)."""
_PHONE_MARGIN_PT = 14.0
_UPRIGHT = 1.5
"""Least height of a phone's card over its width."""
_LONGEST_NAME = 60


@dataclass(frozen=True)
class Room:
    """How much a card may show: heights of pictures and frames, stretches, neighbours of a star, notes, hints."""

    picture_pt: float
    frame_pt: float
    runs: int
    neighbours: int
    notes: int
    hints: bool = True
    gap_pt: float = 9.0


_ROOMS = (
    Room(110.0, 104.0, 8, 4, 4),
    Room(110.0, 88.0, 6, 3, 3),
    Room(100.0, 76.0, 4, 2, 1),
    Room(85.0, 60.0, 3, 1, 0, hints=False),
    Room(62.0, 50.0, 2, 1, 0, hints=False, gap_pt=5.0),
)
"""For paper, with the least height of a picture: the first that fits, its pictures grown into what is left."""
_MOST_PICTURE_PT = 230.0
_PHONE_ROOM = Room(330.0, 104.0, 12, 4, 6)


@dataclass(frozen=True)
class Contents:
    """All that goes on one card."""

    result: NightResult
    night: TargetNight
    train: TrainResult | None

    @property
    def clock(self) -> Clock:
        """The site's clocks."""
        return clock_of(self.result)

    def sides(self, room: Room) -> list[SideStars]:
        """Return the sides of the flip; none where the angle means nothing."""
        choice = self.night.choice
        if choice is None or (choice.holds == "never" and not choice.asked):
            return []
        return [card_stars.side_stars(self.night, side, room.neighbours) for side in self.night.sides]


def paper_card(contents: Contents, paper: str) -> Figure:
    """Lay a card out on a sheet of paper, "a4" or "letter", upright.

    What does not fit even in the smallest room makes the page longer: rather that than words left out.
    """
    width, height = PAPERS_PT[paper]
    across, down = width - 2.0 * _MARGIN_PT, height - 2.0 * _MARGIN_PT

    def page(room: Room) -> Stack:
        return Stack(list(_blocks(contents, room, two_columns=True)), room.gap_pt)

    def spare(room: Room) -> float:
        return down - page(room).height(across)

    room = next((one for one in _ROOMS if spare(one) >= 0.0), _ROOMS[-1])
    grown = min(room.picture_pt + max(spare(room), 0.0), _MOST_PICTURE_PT)
    whole = page(replace(room, picture_pt=grown))
    sheet = s.new_sheet(width, max(height, whole.height(across) + 2.0 * _MARGIN_PT))
    whole.draw(sheet, _MARGIN_PT, _MARGIN_PT, across)
    return sheet.figure


def phone_card(contents: Contents) -> Figure:
    """Lay a card out in one narrow column, as long as it takes."""
    inner = PHONE_WIDTH_PT - 2.0 * _PHONE_MARGIN_PT
    page = Stack(list(_blocks(contents, _PHONE_ROOM, two_columns=False)), _PHONE_ROOM.gap_pt)
    height = page.height(inner) + 2.0 * _PHONE_MARGIN_PT
    sheet = s.new_sheet(PHONE_WIDTH_PT, max(height, _UPRIGHT * PHONE_WIDTH_PT))
    page.draw(sheet, _PHONE_MARGIN_PT, _PHONE_MARGIN_PT, inner)
    return sheet.figure


def _blocks(contents: Contents, room: Room, *, two_columns: bool) -> Iterator[Block]:
    yield from _first(contents)
    yield _title(contents)
    sides = contents.sides(room)
    if contents.night.no_window is not None:
        yield from _together([_times(contents, room), _safety()], two_columns)
        return
    yield from _dial_and_times(contents, room, two_columns=two_columns, dial=bool(sides))
    if sides:
        yield _guide_heading(sides)
        yield from _sides(contents, sides, room, two_columns=two_columns)
    elif room.hints:
        yield from _hints(contents)
    if not two_columns:
        yield from (_train(contents), _focusing())
    yield _safety(two_columns=two_columns)


def _dial_and_times(contents: Contents, room: Room, *, two_columns: bool, dial: bool) -> Iterator[Block]:
    """Yield the angle and the times; on paper what belongs to the train stands below the times."""
    left = [_dial(contents, room)] if dial else []
    times = _times(contents, room)
    if not two_columns:
        yield from (*left, times)
    elif left:
        yield Columns([*left, Stack([times, _train(contents), _focusing()], room.gap_pt)])
    else:
        yield Columns([times, Stack([_train(contents), _focusing()], room.gap_pt)])


def _together(blocks: list[Block], two_columns: bool) -> Iterator[Block]:
    if two_columns and len(blocks) > 1:
        yield Columns(blocks)
    else:
        yield from blocks


def _first(contents: Contents) -> Iterator[Block]:
    """Yield what comes before everything else."""
    if contents.night.warnings:
        words = [Words(text, s.BODY, bold=True, gid="warning") for text in contents.night.warnings]
        yield Framed(Stack([Words("WARNING: THE SUN", s.LARGE, bold=True, gid="warning head"), *words]))
    doubts = card_words.doubts(contents.result, contents.train)
    if doubts:
        lines = [Words(text, gid="doubt") for text in doubts]
        yield Framed(Stack([Words("Mend or check this first", s.LARGE, bold=True, gid="doubt head"), *lines], 2.0))
    first = card_words.first_words(contents.night, contents.result.rig)
    if first is not None:
        head, sentence = first
        yield Framed(Stack([Words(head, s.LARGE, bold=True, gid="trouble head"), Words(sentence, gid="trouble")], 2.0))


def _title(contents: Contents) -> Block:
    target, rig = contents.night.target, contents.result.rig
    place = f"{w.right_ascension(target.ra_deg)},  {w.declination(target.dec_deg)} (J2000)"
    return Stack(
        [
            Name(target.name, gid="target"),
            Words(
                f"{card_words.night_of(contents.result.dark)}. {place}. Rig “{_short(rig.name)}”.",
                s.SMALL,
                gid="subtitle",
            ),
        ],
        1.0,
    )


def _short(name: str) -> str:
    return textwrap.shorten(name, _LONGEST_NAME, placeholder=" …") or f"{name[:_LONGEST_NAME]}…"


def _dial(contents: Contents, room: Room) -> Block:
    night, rig, clock = contents.night, contents.result.rig, contents.clock
    assert night.choice is not None
    lines = card_words.dial_lines(night, rig, clock)
    return Stack(
        [
            Heading("Camera angle to dial"),
            Words(card_words.dial_angle(night.choice), s.DIAL, bold=True, gid="dial"),
            *(Words(line, s.BODY, gid="dial line") for line in lines),
            _frames(contents, room),
            Words(
                f"Your picture on the screen, the prism hatched ({_prism_edge(contents)}). The angle is the position "
                "angle of up.",
                s.SMALL,
                gid="frame words",
            ),
        ],
        3.0,
    )


def _frames(contents: Contents, room: Room) -> Block:
    night, rig, clock = contents.night, contents.result.rig, contents.clock
    if night.turning is not None:
        marks = [
            (night.runs[0].start, night.runs[0].camera_angle_deg),
            (night.runs[-1].end, night.runs[-1].camera_angle_end_deg),
        ]
        named = [(f"at {clock.at(moment)}", angle) for moment, angle in marks]
    elif len(night.sides) > 1:
        named = [
            (f"{when} the flip", side.camera_angle_deg)
            for when, side in zip(("before", "after"), night.sides, strict=False)
        ]
    else:
        named = [("all night", night.sides[0].camera_angle_deg)]
    sense = card_words.north_sense(rig)
    captions = [f"{when}: N {w.angle(angle)} {sense} from up" for when, angle in named]
    return Frames(rig, [angle for _, angle in named], captions, room.frame_pt)


def _prism_edge(contents: Contents) -> str:
    prism = contents.result.rig.prism
    return f"{prism.side} edge" if prism.side else f"{w.plain(prism.side_deg)}° anticlockwise from up"


def _times(contents: Contents, room: Room) -> Block:
    night, dark, clock = contents.night, contents.result.dark, contents.clock
    notes = [*dark.notes, *night.notes][: room.notes]
    return Stack(
        [
            Heading("Times"),
            Rows(card_words.time_rows(contents.result, night, clock), s.LARGE, bold=True, gid="time"),
            Words(card_words.clocks(contents.result, clock), s.SMALL, gid="zone"),
            *(Words(note, s.SMALL, gid="note") for note in notes),
        ],
        4.0,
    )


def _guide_heading(sides: list[SideStars]) -> Block:
    if len(sides) < 2:
        return Heading("Guide star, in the guide camera's own picture")
    same = sides[0].signs.keys() == sides[1].signs.keys()
    return Heading("Guide star, in the guide camera's own picture" + ("" if same else ": the flip changes it"))


def _sides(contents: Contents, sides: list[SideStars], room: Room, *, two_columns: bool) -> Iterator[Block]:
    """Yield both sides of the flip beside each other, or the one side with its picture beside the words.

    A mount that turns back below the pole shows a third time the picture of the first: then words will do.
    """
    if len(sides) > 1:
        both: list[Block] = [
            Stack([*_words(contents, one, i, room), *_picture(one, room)], 3.0) for i, one in enumerate(sides[:2])
        ]
        yield from _together(both, two_columns)
        for number, one in enumerate(sides[2:], start=2):
            yield Stack([*_words(contents, one, number, room), Words("The picture is that before the flip.")], 3.0)
        return
    words, (picture, *table) = _words(contents, sides[0], 0, room), _picture(sides[0], room)
    if two_columns:
        yield Columns([Stack([*words, *table], 3.0), picture])
    else:
        yield Stack([*words, picture, *table], 3.0)


def _picture(stars: SideStars, room: Room) -> list[Block]:
    rows = card_stars.mark_rows(stars)
    picture = GuidePicture(stars, room.picture_pt)
    return [picture, Columned(rows, gid="mark")] if rows else [picture]


def _words(contents: Contents, stars: SideStars, number: int, room: Room) -> list[Block]:
    name = Words(card_stars.heading(contents.night, number, contents.clock), s.BODY, bold=True, gid="side")
    return [name, *_served(stars, contents.clock, room)]


def _served(stars: SideStars, clock: Clock, room: Room) -> Iterator[Block]:
    if stars.single is not None:
        yield Words(w.star(stars.single.star_id or ""), s.LARGE, bold=True, gid="guide star")
        yield Rows(card_stars.single_rows(stars), s.BODY, bold=True, gid="star row")
    else:
        yield Columned(card_stars.run_rows(stars.runs, stars.signs, clock, room.runs), gid="run")
    if any(run.saturated for run in stars.runs):
        yield Words("!: fills its brightest pixel even so; its place is less exact.", s.SMALL, gid="saturated")
    wanted = stars.check.rig.guiding.min_stars
    if wanted > 1 and stars.served:
        yield Words(f"{wanted} stars are needed at once; filled dots can guide.", s.SMALL, gid="wanted")


def _hints(contents: Contents) -> Iterator[Block]:
    words = card_words.hints(contents.night)
    if words:
        yield Stack([Heading("What would help"), Steps(words, sign="–", gid="hint")])


def _train(contents: Contents) -> Block:
    rows = card_words.train_rows(contents.result.rig, contents.train)
    return Stack([Heading("Imaging train"), Rows(rows, s.SMALL, gid="train")])


def _focusing() -> Block:
    return Stack([Heading("Order of focusing"), Steps(card_words.FOCUSING, gid="focusing")])


def _safety(*, two_columns: bool = False) -> Block:
    lines = card_words.SAFETY
    half = len(lines) // 2
    halves = (lines[:half], lines[half:]) if two_columns else (lines,)
    return Stack([Heading("Safety"), Columns([Steps(part, sign="•", gid="safety") for part in halves])])
