"""Where north stands in the main picture, and at which of its edges the prism sits: a small drawing, not to scale.

The frame is drawn as the camera's picture is displayed. Its camera angle is the position angle of up, so north stands
that many degrees clockwise from up, and east a quarter turn anticlockwise from north; mirrored, both the other way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from guidestar.report import card_sheet as s
from guidestar.report.card_blocks import Words
from guidestar.report.card_sheet import Point, Sheet
from guidestar.rig import Rig

_PRISM_PT = (30.0, 11.0)
"""Length along the frame's edge and depth of the prism's sign."""
_SPACE_PT, _NO_PRISM_PT = 17.0, 3.0
"""Room kept at the sides of a frame: with the prism's sign there, and without."""
_LETTER_PT = 13.0
"""Room kept for a letter between an arrow's tip and the frame."""
_HATCH = "/////"
_BETWEEN_PT = 10.0
_LEAST_PT = 50.0
"""Shortest side of a frame: a very long one is drawn less long."""
_LONGEST_PT = {"N": 30.0, "E": 24.0}


@dataclass(frozen=True)
class Frames:
    """One frame, or two side by side, each at its camera angle with a caption below."""

    rig: Rig
    angles_deg: Sequence[float]
    captions: Sequence[str]
    most_pt: float
    """Longest side of a frame."""

    def height(self, width: float) -> float:
        """Return the height of frames and captions."""
        room = self._room(width)
        above, below = self._above_below(room)
        return above + self._frame(room)[1] + below + max(Words(one, s.SMALL).height(room) for one in self.captions)

    def draw(self, sheet: Sheet, x: float, top: float, width: float) -> None:
        """Draw the frames."""
        room = self._room(width)
        size, (above, below), (left, right) = self._frame(room), self._above_below(room), self._left_right()
        for number, (angle, caption) in enumerate(zip(self.angles_deg, self.captions, strict=True)):
            middle = (x + (left + room - right) / 2.0, top + above + size[1] / 2.0)
            self._draw_frame(sheet, middle, size, number)
            self._draw_sky(sheet, middle, (size[0] / 2.0, size[1] / 2.0), angle, number)
            low = top + above + size[1] + below
            for line in s.wrapped(caption, s.SMALL, room):
                sheet.words(x + room / 2.0, low, line, size=s.SMALL, align="center", gid="frame caption")
                low += s.line_height(s.SMALL)
            x += room + _BETWEEN_PT

    def _room(self, width: float) -> float:
        count = len(self.angles_deg)
        return (width - _BETWEEN_PT * (count - 1)) / count

    def _frame(self, room: float) -> tuple[float, float]:
        """Return width and height of a frame, points."""
        camera = self.rig.camera
        longest = min(self.most_pt, room - sum(self._left_right()))
        scale = longest / max(camera.width_mm, camera.height_mm)
        return max(camera.width_mm * scale, _LEAST_PT), max(camera.height_mm * scale, _LEAST_PT)

    def _left_right(self) -> tuple[float, float]:
        """Return the room kept left and right of a frame."""
        across, _ = towards(self.rig.prism.side_deg, clockwise=False)
        return (_SPACE_PT if across < -0.01 else _NO_PRISM_PT, _SPACE_PT if across > 0.01 else _NO_PRISM_PT)

    def _above_below(self, room: float) -> tuple[float, float]:
        """Return the room above and below a frame, for the prism's sign where that is."""
        width, height = self._frame(room)
        outward, half = towards(self.rig.prism.side_deg, clockwise=False), (width / 2.0, height / 2.0)
        down = [y for _, y in _prism((0.0, 0.0), outward, _to_edge(outward, half))]
        return max(-min(down) - half[1], 0.0) + 4.0, max(max(down) - half[1], 0.0) + 4.0

    def _draw_frame(self, sheet: Sheet, middle: Point, size: tuple[float, float], number: int) -> None:
        half = (size[0] / 2.0, size[1] / 2.0)
        corners = [(middle[0] + i * half[0], middle[1] + j * half[1]) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        sheet.polygon(corners, width=s.MEDIUM, gid=f"main frame {number}")
        outward = towards(self.rig.prism.side_deg, clockwise=False)
        edge = _to_edge(outward, half)
        sheet.polygon(_prism(middle, outward, edge), width=s.MEDIUM, hatch=_HATCH, gid=f"prism {number}")

    def _draw_sky(self, sheet: Sheet, middle: Point, half: tuple[float, float], angle_deg: float, number: int) -> None:
        """Draw north and east, as long as the frame has room for them and their letters."""
        for name, position_angle, width in (("N", 0.0, s.HEAVY), ("E", 90.0, s.MEDIUM)):
            way = sky_direction(self.rig, angle_deg, position_angle)
            length = min(_to_edge(way, (half[0] - _LETTER_PT, half[1] - _LETTER_PT)), _LONGEST_PT[name])
            tip = (middle[0] + length * way[0], middle[1] + length * way[1])
            sheet.arrow(middle, tip, width=width, gid=f"arrow {name} {number}")
            at = (middle[0] + (length + 7.0) * way[0], middle[1] + (length + 7.0) * way[1])
            top = at[1] - 0.58 * s.BODY
            sheet.words(at[0], top, name, size=s.BODY, bold=name == "N", align="center", gid=f"letter {name} {number}")


def towards(turn_deg: float, *, clockwise: bool) -> Point:
    """Return the direction on the page (right, down) that lies a turn round from up."""
    turn = math.radians(turn_deg if clockwise else -turn_deg)
    return (math.sin(turn), -math.cos(turn))


def sky_direction(rig: Rig, camera_angle_deg: float, position_angle_deg: float) -> Point:
    """Return where a position angle points in the displayed picture: (right, down), of length 1."""
    return towards(camera_angle_deg - position_angle_deg, clockwise=not rig.camera.mirrored)


def _to_edge(way: Point, half: tuple[float, float]) -> float:
    """Distance from a frame's middle to its edge in a direction."""
    return min(reach / abs(part) for reach, part in zip(half, way, strict=True) if abs(part) > 1e-9)


def _prism(middle: Point, outward: Point, edge: float) -> list[Point]:
    """Return the corners of the prism's sign, just outside the frame, its long side along the tangent."""
    along, deep = _PRISM_PT
    tangent = (-outward[1], outward[0])
    near = edge + 2.0 + abs(along * outward[0] * outward[1])
    return [
        (
            middle[0] + outward[0] * (near + out * deep) + tangent[0] * side * along / 2.0,
            middle[1] + outward[1] * (near + out * deep) + tangent[1] * side * along / 2.0,
        )
        for side, out in ((-1, 0), (1, 0), (1, 1), (-1, 1))
    ]
