"""The dial: every camera angle round a circle, and what each one finds.

0° is at the top and angles grow anticlockwise, as directions on a sky picture with north up and east left do: the
mark of an angle on the dial lies in the direction in which the picture's upper edge then points.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from guidestar.field.result import CheckResult, GuideStar, Intervals
from guidestar.report import layout, palette
from guidestar.report import wording as w

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BAND = (0.80, 0.97)
"""Inner and outer radius of the band of usable angles; the scale has radius 1."""
TWIN_BAND = (0.71, 0.77)
_LANES = (0.38, 0.67)
_REACH = (1.75, 1.50)
_MARK = 1.28
_NUMBER_DEG = 4.5
"""How far past the end of its arc a star's number stands, in the outermost lane."""


def draw_dial(axes: Axes, result: CheckResult) -> None:
    """Draw the dial into `axes` (plain axes, not polar).

    From outside in: the angle shown and its flip twin, the scale, the usable angles (hatched; solid where sure),
    the angles that are usable after the flip, and the arcs of the brightest guide stars.
    """
    _prepare(axes)
    _scale(axes)
    _bands(axes, result)
    if result.rig.mount.flips:
        _twin_band(axes, result.usable.angles_deg)
    drawn = result.guide_stars[: palette.MOST_STARS]
    _star_arcs(axes, drawn)
    _marks(axes, result)
    _middle(axes, result)
    more = len(result.guide_stars) - len(drawn)
    note = f" ({w.counted(more, 'fainter star')} not drawn)" if more > 0 else ""
    axes.set_title(
        f"All camera angles{note}".replace(w.NBSP, " "), fontsize=palette.NORMAL, weight="bold", color=palette.INK
    )


def caption(result: CheckResult) -> str:
    """Say what the signs of the picture mean."""
    accuracy_mm = result.rig.prism.offset_accuracy_mm
    where = f"within {w.play(accuracy_mm)} of its place" if accuracy_mm else "exactly in its place"
    flips = result.rig.mount.flips
    grey = " Grey inside it: usable after the meridian flip." if flips else ""
    marks = "Filled triangle: the angle shown" + ("; open: the same after the flip." if flips else ".")
    return (
        "Camera angle: 0° at the top, growing anticlockwise, so that a mark lies where the upper edge of the picture "
        f"points in the sky picture. Solid: sure, for a prism {where}; hatched: usable.{grey} "
        f"Numbered arcs: each guide star by itself. {marks}"
    )


def place(angle_deg: float, radius: float) -> tuple[float, float]:
    """Point of the dial for a camera angle, anticlockwise from the top."""
    phi = np.radians(angle_deg)
    return float(-radius * np.sin(phi)), float(radius * np.cos(phi))


def _prepare(axes: Axes) -> None:
    axes.set_xlim(-_REACH[0], _REACH[0])
    axes.set_ylim(-_REACH[1], _REACH[1])
    axes.set_aspect("equal")
    axes.set_axis_off()


def _scale(axes: Axes) -> None:
    from matplotlib.patches import Circle

    for radius in BAND:
        axes.add_patch(Circle((0.0, 0.0), radius, fill=False, edgecolor=palette.INK, linewidth=palette.THIN))
    for angle_deg in range(0, 360, 10):
        long = angle_deg % 30 == 0
        ends = np.array([place(angle_deg, BAND[1]), place(angle_deg, 1.04 if long else 1.01)])
        axes.plot(*ends.T, color=palette.INK, linewidth=palette.MEDIUM if long else palette.THIN)
        if long:
            axes.text(
                *place(angle_deg, 1.10 + 0.04 * abs(np.sin(np.radians(angle_deg)))),
                f"{angle_deg}°",
                fontsize=palette.SMALL,
                ha="center",
                va="center",
                color=palette.INK,
                gid=f"scale {angle_deg}",
            )


def _bands(axes: Axes, result: CheckResult) -> None:
    pen = {"edgecolor": palette.INK, "linewidth": palette.THIN}
    for start, end in result.usable.angles_deg:
        _wedge(axes, start, end, BAND, facecolor=palette.PAPER, hatch=palette.HATCH, gid="usable", **pen)
    for start, end in result.usable.sure_angles_deg:
        _wedge(axes, start, end, BAND, facecolor=palette.INK, gid="sure", **pen)


def _twin_band(axes: Axes, usable_deg: Intervals) -> None:
    for start, end in usable_deg:
        _wedge(axes, start + 180.0, end + 180.0, TWIN_BAND, facecolor=palette.SHADE, edgecolor="none", gid="twin")


def _wedge(axes: Axes, start_deg: float, end_deg: float, band: tuple[float, float], **style: object) -> None:
    from matplotlib.patches import Wedge

    # A wedge counts its angles anticlockwise from the right, the dial from the top.
    wedge = Wedge((0.0, 0.0), band[1], start_deg + 90.0, end_deg + 90.0, width=band[1] - band[0], **style)
    axes.add_patch(wedge)


def _star_arcs(axes: Axes, stars: Sequence[GuideStar]) -> None:
    lanes = lanes_of([star.angles_deg for star in stars])
    count = max(lanes, default=0) + 1
    step = min(0.07, (_LANES[1] - _LANES[0]) / count)
    for number, (star, lane) in enumerate(zip(stars, lanes, strict=True), start=1):
        radius = _LANES[1] - (lane + 0.5) * step
        for start, end in star.angles_deg:
            _arc(axes, start, end, radius, number)


def lanes_of(arcs: Sequence[Intervals], gap_deg: float = 7.0) -> list[int]:
    """Give every star a lane, the outermost that is free, so that the arcs in a lane keep `gap_deg` apart."""
    held: list[np.ndarray] = []
    lanes = []
    degrees = np.arange(0.0, 360.0, 1.0)
    for intervals in arcs:
        own = np.zeros(degrees.size, dtype=bool)
        for start, end in intervals:
            own |= (degrees - start + gap_deg) % 360.0 <= min(end - start + 2.0 * gap_deg, 360.0)
        lane = next((i for i, taken in enumerate(held) if not (taken & own).any()), len(held))
        if lane == len(held):
            held.append(np.zeros(degrees.size, dtype=bool))
        held[lane] |= own
        lanes.append(lane)
    return lanes


def _arc(axes: Axes, start_deg: float, end_deg: float, radius: float, number: int) -> None:
    steps = np.linspace(start_deg, end_deg, max(2, int(end_deg - start_deg) + 2))
    points = np.array([place(step, radius) for step in steps])
    axes.plot(
        *points.T, color=palette.ACCENT, linewidth=palette.HEAVY, solid_capstyle="butt", gid=f"arc of star {number}"
    )
    axes.text(
        *place(end_deg + _NUMBER_DEG * _LANES[1] / radius, radius),
        str(number),
        fontsize=palette.SMALL,
        ha="center",
        va="center",
        color=palette.INK,
        zorder=6,
    )


def _marks(axes: Axes, result: CheckResult) -> None:
    shown = layout.shown(result)
    if not shown.star_ids and result.asked is None:
        return
    _mark(axes, shown.angle_deg, w.angle(shown.angle_deg), filled=True)
    if result.rig.mount.flips:
        _mark(axes, shown.angle_deg + 180.0, f"flip\n{w.angle(shown.angle_deg + 180.0)}", filled=False)


def _mark(axes: Axes, angle_deg: float, words: str, *, filled: bool) -> None:
    """Set a slim triangle outside the scale that points inward, and its angle beside it."""
    from matplotlib.patches import Polygon

    half_base_deg = 1.9
    corners = [
        place(angle_deg, _MARK - 0.07),
        place(angle_deg - half_base_deg, _MARK + 0.06),
        place(angle_deg + half_base_deg, _MARK + 0.06),
    ]
    mark = Polygon(corners, closed=True, fill=filled, facecolor=palette.ACCENT, edgecolor=palette.ACCENT)
    mark.set(linewidth=palette.MEDIUM, gid="shown angle" if filled else "flip twin of the shown angle")
    axes.add_patch(mark)
    right, up = place(angle_deg, 1.0)  # words are wider than high, so they keep farther off sideways
    axes.text(
        (_MARK + 0.27) * right,
        (_MARK + 0.16) * up,
        words,
        fontsize=palette.NORMAL if filled else palette.SMALL,
        weight="bold" if filled else "normal",
        ha="center",
        va="center",
        color=palette.INK,
    )


def _middle(axes: Axes, result: CheckResult) -> None:
    usable = result.usable
    lines = [f"sure {w.share(usable.sure_fraction)}", f"usable {w.share(usable.fraction)}"]
    if usable.flip_safe_fraction is not None:
        lines.append(f"flip-safe {w.share(usable.flip_safe_fraction)}")
    if not usable.angles_deg:
        lines = ["no camera angle", f"finds {w.wanted(result.rig.guiding.min_stars)}"]
    text = "\n".join(lines).replace(w.NBSP, " ")
    axes.text(0.0, 0.0, text, fontsize=palette.SMALL, ha="center", va="center", linespacing=1.5, color=palette.INK)
