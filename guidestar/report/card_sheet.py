"""The sheet that a card is drawn on: points from its upper left corner, black on white, and how wide words are.

One ink, no greys: a one-colour printer would break a grey up into dots, and a red lamp would swallow it.
"""

from __future__ import annotations

import bisect
import contextlib
import functools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

from guidestar.report import palette, paper
from guidestar.report import wording as w

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties

Point = tuple[float, float]
Align = Literal["left", "center", "right"]

INK: Final = "#000000"
THIN, MEDIUM, HEAVY = 0.8, 1.3, 2.4
"""Line widths, points; nothing is drawn thinner."""

SMALL, BODY, HEAD, LARGE, NAME, DIAL = 9.0, 10.0, 11.5, 14.0, 20.0, 34.0
"""Type sizes, points; nothing is set smaller."""

_LINE_HEIGHT = 1.3
_ASCENT = 0.93
"""Height of a line above its baseline over the type size, DejaVu Sans."""
_FAMILY = "DejaVu Sans"
_STYLE: dict[Any, Any] = {"pdf.fonttype": 42, "text.hinting": "none"}
"""Type in the pdf that can be searched and copied, and letters as wide as `width_of` says."""


@dataclass(frozen=True)
class Sheet:
    """A page in points; y counts downward from its upper edge.

    Lines and shapes are cut off at the edges of `window` (left, top, right, low) where there is one.
    """

    figure: Figure
    axes: Axes
    window: tuple[float, float, float, float] | None = None

    def words(
        self,
        x: float,
        top: float,
        words: str,
        *,
        size: float = BODY,
        bold: bool = False,
        align: Align = "left",
        gid: str = "",
    ) -> None:
        """Write one line whose box begins at `top`; `x` is its left end, its middle or its right end."""
        self.axes.text(
            x,
            top + _ASCENT * size,
            plain(words),
            fontsize=size,
            weight="bold" if bold else "normal",
            family=_FAMILY,
            color=INK,
            ha=align,
            va="baseline",
            gid=gid or "words",
            parse_math=False,  # a dollar sign in a target's name is a dollar sign
        )

    def line(self, points: Sequence[Point], *, width: float = THIN, gid: str = "line", dashed: bool = False) -> None:
        """Draw a line through points."""
        style = palette.DASHED if dashed else "solid"
        across, down = zip(*points, strict=True)
        (drawn,) = self.axes.plot(
            across, down, color=INK, linewidth=width, gid=gid, linestyle=style, solid_capstyle="butt"
        )
        self._cut(drawn)

    def arrow(self, foot: Point, tip: Point, *, width: float = MEDIUM, gid: str = "arrow") -> None:
        """Draw an arrow."""
        style = {
            "arrowstyle": "-|>,head_width=0.28,head_length=0.56",
            "color": INK,
            "lw": width,
            "shrinkA": 0,
            "shrinkB": 0,
        }
        self.axes.annotate("", xy=tip, xytext=foot, arrowprops=style, gid=gid)

    def polygon(
        self,
        corners: Sequence[Point],
        *,
        width: float = THIN,
        fill: bool = False,
        hatch: str = "",
        gid: str = "polygon",
    ) -> None:
        """Draw a polygon: an outline, filled, or hatched."""
        from matplotlib.patches import Polygon

        face = INK if fill else palette.PAPER
        shape = Polygon(
            corners, closed=True, facecolor=face, edgecolor=INK, linewidth=width, joinstyle="miter", gid=gid
        )
        shape.set_hatch(hatch)
        self.axes.add_patch(shape)

    def disc(self, centre: Point, radius: float, *, filled: bool, gid: str = "disc") -> None:
        """Draw a filled disc with a white rim, which keeps it apart from one that it touches, or a ring on white."""
        from matplotlib.patches import Circle

        face, edge = (INK, palette.PAPER) if filled else (palette.PAPER, INK)
        self._cut(self.axes.add_patch(Circle(centre, radius, facecolor=face, edgecolor=edge, linewidth=THIN, gid=gid)))

    def ring(self, centre: Point, radius: float, *, width: float = MEDIUM, gid: str = "ring") -> None:
        """Draw a ring that leaves what is inside it visible."""
        from matplotlib.patches import Circle

        self._cut(self.axes.add_patch(Circle(centre, radius, fill=False, edgecolor=INK, linewidth=width, gid=gid)))

    def _cut(self, drawn: Artist) -> None:
        """Cut what was drawn at the window's edges."""
        from matplotlib.transforms import Bbox, TransformedBbox

        if self.window is not None:
            drawn.set_clip_box(TransformedBbox(Bbox.from_extents(*self.window), self.axes.transData))


@contextlib.contextmanager
def style() -> Iterator[None]:
    """Draw with the cards' own settings, whatever the person's are; theirs come back afterwards."""
    import matplotlib as mpl

    with paper.style(), mpl.rc_context(_STYLE):
        yield


def new_sheet(width_pt: float, height_pt: float) -> Sheet:
    """Return an empty white sheet."""
    figure = paper.new_figure((width_pt / 72.0, height_pt / 72.0))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set(xlim=(0.0, width_pt), ylim=(height_pt, 0.0))
    return Sheet(figure, axes)


def plain(words: str) -> str:
    """Return words as they are drawn: plain spaces, no line breaks, "?" for a letter that the type does not have."""
    spaced = " ".join(words.replace(w.NBSP, " ").split())
    known = _letters()
    return "".join(letter if ord(letter) in known else "?" for letter in spaced)


def line_height(size: float) -> float:
    """Height of a line of type, points."""
    return _LINE_HEIGHT * size


@functools.lru_cache(maxsize=4096)
def width_of(words: str, size: float, *, bold: bool = False) -> float:
    """Width of a line of type, points; the same whatever it is drawn to."""
    from matplotlib.textpath import text_to_path

    width, _, _ = text_to_path.get_text_width_height_descent(plain(words), _type(size, bold), ismath=False)
    return float(width)


@functools.lru_cache(maxsize=1024)
def wrapped(words: str, size: float, room_pt: float, *, bold: bool = False) -> tuple[str, ...]:
    """Break words into lines that fit a width; at plain spaces, or within a word that is too long by itself."""
    lines: list[str] = []
    for word in (piece for part in words.split(" ") for piece in _fitting(part, size, room_pt, bold)):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size, bold=bold) <= room_pt:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)


def shortened(words: str, size: float, room_pt: float, *, bold: bool = False) -> str:
    """Return words cut to one line that fits, with "…" where something is left out."""
    if width_of(words, size, bold=bold) <= room_pt:
        return words
    room_left = room_pt - width_of("…", size, bold=bold)
    return f"{words[: _count_fitting(words, size, room_left, bold)].rstrip()}…"


def _fitting(word: str, size: float, room_pt: float, bold: bool) -> list[str]:
    """Return a word whole if it fits, else in pieces that do."""
    pieces, rest = [], word
    while rest:
        count = max(_count_fitting(rest, size, room_pt, bold), 1)
        pieces.append(rest[:count])
        rest = rest[count:]
    return pieces


def _count_fitting(words: str, size: float, room_pt: float, bold: bool) -> int:
    """Return how many of the first letters fit into one line."""
    if width_of(words, size, bold=bold) <= room_pt:
        return len(words)
    counts = range(1, len(words) + 1)
    return bisect.bisect_right(counts, room_pt, key=lambda count: width_of(words[:count], size, bold=bold))


@functools.cache
def _type(size: float, bold: bool) -> FontProperties:
    from matplotlib.font_manager import FontProperties

    return FontProperties(family=_FAMILY, size=size, weight="bold" if bold else "normal")


@functools.cache
def _letters() -> frozenset[int]:
    """Return the code points that both weights of the type have."""
    from matplotlib.font_manager import findfont, get_font

    return frozenset.intersection(
        *(frozenset(get_font(findfont(_type(10.0, bold))).get_charmap()) for bold in (False, True))
    )
