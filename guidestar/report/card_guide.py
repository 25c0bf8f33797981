"""The guide camera's own picture on a card: the guide star ringed, and the stars near it to recognise it by.

Drawn as the guide camera displays it, v upward; u grows to the right where the picture is mirrored by the prism, to the
left where the display undoes that (`guidestar.report.guide_picture` says why). Pixels count from the corner "u 0, v 0".
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from guidestar.field.result import Placement
from guidestar.report import card_sheet as s
from guidestar.report import guide_picture
from guidestar.report.card_sheet import Point, Sheet
from guidestar.report.card_stars import Mark, SideStars
from guidestar.report.labels import Box, overlap

_CORNER_PT = s.line_height(s.SMALL) + 2.0
_MOST_DOTS = 40
_SMALLEST, _LARGEST, _LARGEST_IN_CROWD = 1.6, 5.5, 4.2
"""Radii of the faintest and brightest dots, points."""
_CROWD = 12
_RING_PT = 4.5
_TICK_PT = 6.0


@dataclass(frozen=True)
class GuidePicture:
    """The guide sensor with its stars, as wide as there is room for and at most `most_pt` high."""

    stars: SideStars
    most_pt: float

    def height(self, width: float) -> float:
        """Return the height of the picture with its corners' pixels above and below."""
        return self._size(width)[1] + 2.0 * _CORNER_PT

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Draw the picture."""
        across, high = self._size(width)
        frame = (x + (width - across) / 2.0, top + _CORNER_PT, across, high)
        left, upper = frame[:2]
        corners = [(left, upper), (left + across, upper), (left + across, upper + high), (left, upper + high)]
        sheet.polygon(corners, width=s.MEDIUM, gid="guide sensor")
        self._corners(sheet, frame)
        self._stars(sheet, frame)

    def _size(self, width: float) -> tuple[float, float]:
        width_px, height_px = guide_picture.sensor_px(self.stars.check)
        scale = min(width / width_px, self.most_pt / height_px)
        return width_px * scale, height_px * scale

    @property
    def _mirrored(self) -> bool:
        return self.stars.check.rig.guide_camera.picture_mirrored

    def _corners(self, sheet: Sheet, frame: Box) -> None:
        """Write the pixels of the corner from which they count, and of the opposite one."""
        width_px, height_px = guide_picture.sensor_px(self.stars.check)
        left, upper, across, high = frame
        sides: tuple[tuple[float, s.Align], ...] = ((left, "left"), (left + across, "right"))
        (start, first), (end, last) = sides if self._mirrored else sides[::-1]
        sheet.words(start, upper + high + 2.0, "u 0, v 0", size=s.SMALL, align=first, gid="corner")
        opposite = f"u {width_px:.0f}, v {height_px:.0f}"
        sheet.words(end, upper - _CORNER_PT, opposite, size=s.SMALL, align=last, gid="corner")

    def _stars(self, sheet: Sheet, frame: Box) -> None:
        marked = {mark.placement.star_id: mark for mark in self.stars.marks}
        dots = self._dots()
        if not dots:
            sheet.words(
                frame[0] + frame[2] / 2.0,
                frame[1] + frame[3] / 2.0 - s.BODY,
                "no star here",
                align="center",
                gid="no star",
            )
            return
        window = replace(sheet, window=(frame[0], frame[1], frame[0] + frame[2], frame[1] + frame[3]))
        radii = {item.star_id: radius_of(item.g_mag, dots) for item in dots}
        places = {item.star_id: self._place(item, frame) for item in dots}
        for item in dots:
            mark = marked.get(item.star_id)
            gid = f"star {mark.sign}" if mark else "star"
            window.disc(places[item.star_id], radii[item.star_id], filled=item.usable, gid=gid)
            if mark is not None and mark.serves:
                _ring(window, places[item.star_id], radii[item.star_id], mark.sign)
        taken = [box for i in places for box in _marks(places[i], radii[i], marked.get(i))]
        for mark in self.stars.marks:
            centre = places[mark.placement.star_id]
            clear = _clear(radii[mark.placement.star_id], mark)
            taken.append(_sign(sheet, mark, centre, clear, frame, taken))

    def _dots(self) -> list[Placement]:
        """Return the stars to draw: those with a sign, then the brightest."""
        asked = self.stars.check.asked
        everything = sorted(asked.placements, key=lambda item: item.g_mag) if asked is not None else []
        marked = {mark.placement.star_id for mark in self.stars.marks}
        chosen = sorted(everything, key=lambda item: item.star_id not in marked)[:_MOST_DOTS]
        return sorted(chosen, key=lambda item: item.g_mag)  # fainter ones on top

    def _place(self, item: Placement, frame: Box) -> Point:
        width_px, height_px = guide_picture.sensor_px(self.stars.check)
        left, upper, across, high = frame
        share = item.u_px / width_px
        return (
            left + across * (share if self._mirrored else 1.0 - share),
            upper + high * (1.0 - item.v_px / height_px),
        )


def radius_of(g_mag: float, among: list[Placement]) -> float:
    """Radius of a star's dot, points: even steps of magnitude are even steps of radius."""
    faintest, brightest = (pick(item.g_mag for item in among) for pick in (max, min))
    span = max(faintest - brightest, 3.0)
    largest = _LARGEST if len(among) <= _CROWD else _LARGEST_IN_CROWD
    return _SMALLEST + (largest - _SMALLEST) * max(1.0 - (g_mag - brightest) / span, 0.0)


def _clear(radius: float, mark: Mark | None) -> float:
    """Return how far from a star's middle its sign has to stay."""
    return radius + (_RING_PT + 1.5 if mark is not None and mark.serves else 1.5)


def _ring(sheet: Sheet, centre: Point, radius: float, sign: str) -> None:
    """Ring a star, with four ticks that point at it."""
    ring = radius + _RING_PT
    sheet.ring(centre, ring, gid=f"ring {sign}")
    for across, down in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        ends = [(centre[0] + across * reach, centre[1] + down * reach) for reach in (ring, ring + _TICK_PT)]
        sheet.line(ends, width=s.MEDIUM, gid="tick")


def _sign(sheet: Sheet, mark: Mark, centre: Point, clear: float, frame: Box, taken: list[Box]) -> Box:
    """Write a star's sign where it covers least, and return its box."""
    size = s.HEAD if mark.serves else s.SMALL
    wide, high = s.width_of(mark.sign, size, bold=True), s.line_height(size)
    choices = []
    for order, (distance, step) in enumerate((d, k) for d in (1.0, 5.0, 10.0, 16.0, 24.0, 34.0) for k in range(16)):
        across, down = _square(math.radians(45.0 + 22.5 * step))
        reach = clear + distance
        at = (centre[0] + across * (reach + wide / 2.0), centre[1] + down * (reach + high / 2.0))
        box = (at[0] - wide / 2.0, at[1] - high / 2.0, at[0] + wide / 2.0, at[1] + high / 2.0)
        cost = sum(overlap(box, other) for other in taken) + 10.0 * _outside(box, frame)
        choices.append((cost, order, box))
        if cost <= 0.0:
            break
    _, _, box = min(choices)
    sheet.words(
        (box[0] + box[2]) / 2.0, box[1], mark.sign, size=size, bold=True, align="center", gid=f"sign {mark.sign}"
    )
    return box


def _square(turn: float) -> Point:
    """Return where a direction (right, down) meets the square from −1 to 1."""
    across, down = math.cos(turn), -math.sin(turn)
    longer = max(abs(across), abs(down))
    return across / longer, down / longer


def _marks(at: Point, radius: float, mark: Mark | None) -> list[Box]:
    """Return what a star's dot, ring and ticks cover."""
    if mark is None or not mark.serves:
        return [_around(at, radius)]
    ring, reach = radius + _RING_PT, radius + _RING_PT + _TICK_PT
    return [
        _around(at, ring),
        (at[0] - reach, at[1] - 1.0, at[0] + reach, at[1] + 1.0),
        (at[0] - 1.0, at[1] - reach, at[0] + 1.0, at[1] + reach),
    ]


def _around(at: Point, reach: float) -> Box:
    return (at[0] - reach, at[1] - reach, at[0] + reach, at[1] + reach)


def _outside(box: Box, frame: Box) -> float:
    inner = (frame[0] + 1.0, frame[1] + 1.0, frame[0] + frame[2] - 1.0, frame[1] + frame[3] - 1.0)
    return (box[2] - box[0]) * (box[3] - box[1]) - overlap(box, inner)
