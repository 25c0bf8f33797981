"""The guide camera's own picture at the camera angle shown, to recognise the stars by.

Seen as the guide camera displays it: v upward. With the prism at the top of the main picture, x (and so u, for an
unturned guide sensor) grows to the left there; the prism reflects once more, so in the guide camera's own picture
u grows to the right, and to the left only where the display undoes the reflection.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from guidestar.field.result import CheckResult, FloatArray, Placement
from guidestar.report import labels, layout, palette
from guidestar.report import wording as w

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MOST_LABELLED, _CROWD, _MOST_IN_CROWD = 8, 12, 5
"""Stars that get a label; with more than `_CROWD` on the sensor there is room for fewer."""


def draw_guide_picture(axes: Axes, result: CheckResult, shown: layout.Shown | None = None, *, after: str = "") -> None:
    """Draw the guide sensor in pixels with the stars on it, labelled with number, magnitude and pixel position.

    Pixels are counted from the corner of smallest u and v, unbinned; limits run from right to left where
    `guide_camera.picture_mirrored` is false. `shown` instead of the camera angle that the other pictures show, and
    `after` what had to be done for it, for the title.
    """
    shown = layout.shown(result) if shown is None else shown
    width_px, height_px = sensor_px(result)
    _prepare(axes, result, width_px, height_px)
    _edges(axes, result, width_px, height_px)
    _stars(axes, result, shown)
    _arrows(axes, result, shown.angle_deg)
    axes.set_title(
        f"The guide camera's picture at camera angle {w.angle(shown.angle_deg)}{after}".replace(w.NBSP, " "),
        fontsize=palette.NORMAL,
        weight="bold",
        color=palette.INK,
    )


def caption(result: CheckResult) -> str:
    """Say what the signs of the picture mean."""
    kind = (
        "as mirrored by the prism" if result.rig.guide_camera.picture_mirrored else "with the prism's mirroring undone"
    )
    return (
        f"As the guide camera shows it, {kind}; beside the brightest stars number and pixel position (u, v). Dashed: "
        "inside it a star counts if it is bright enough. If your display turns the picture by 180°, turn this page."
    )


def sensor_px(result: CheckResult) -> tuple[float, float]:
    """Width and height of the guide sensor, pixels."""
    guide = result.rig.guide_camera
    return guide.width_mm * 1000.0 / guide.pixel_um, guide.height_mm * 1000.0 / guide.pixel_um


def rig_to_sensor_mm(result: CheckResult, points_mm: FloatArray) -> FloatArray:
    """Turn rig-frame points (n, 2) of (x, y) mm into (u, v) mm from the guide sensor's centre.

    `turned_deg` turns the sensor from +y towards +x: v points to (sin, cos) of it, u to (cos, −sin).
    """
    return _turned(result, points_mm - np.array([0.0, result.field.centre_mm]))


def _turned(result: CheckResult, vectors: FloatArray) -> FloatArray:
    turned = np.radians(result.rig.guide_camera.turned_deg)
    x, y = vectors[:, 0], vectors[:, 1]
    return np.column_stack([x * np.cos(turned) - y * np.sin(turned), x * np.sin(turned) + y * np.cos(turned)])


def _to_px(result: CheckResult, uv_mm: FloatArray) -> FloatArray:
    guide = result.rig.guide_camera
    half_mm = np.array([guide.width_mm, guide.height_mm]) / 2.0
    return np.asarray((uv_mm + half_mm) * 1000.0 / guide.pixel_um)


def _prepare(axes: Axes, result: CheckResult, width_px: float, height_px: float) -> None:
    spare = 0.02 * max(width_px, height_px)
    ends = (-spare, width_px + spare)
    axes.set_xlim(*(ends if result.rig.guide_camera.picture_mirrored else ends[::-1]))
    axes.set_ylim(-spare, height_px + spare)
    axes.set_aspect("equal")
    axes.tick_params(labelsize=palette.SMALL, colors=palette.INK, width=palette.THIN, length=2.5)
    axes.set_xlabel("u, pixels", fontsize=palette.SMALL, color=palette.INK, labelpad=1.0)
    axes.set_ylabel("v, pixels", fontsize=palette.SMALL, color=palette.INK, labelpad=1.0)
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.apply_aspect()


def _edges(axes: Axes, result: CheckResult, width_px: float, height_px: float) -> None:
    from matplotlib.patches import Polygon, Rectangle

    sensor = Rectangle((0.0, 0.0), width_px, height_px, fill=False, edgecolor=palette.INK, linewidth=palette.MEDIUM)
    sensor.set_gid("sensor")
    axes.add_patch(sensor)
    outline = _to_px(result, rig_to_sensor_mm(result, result.field.outline_mm))
    field = Polygon(outline, closed=True, fill=False, edgecolor=palette.ACCENT, linewidth=palette.MEDIUM)
    field.set(linestyle=palette.DASHED, gid="guide field")
    axes.add_patch(field)


def _stars(axes: Axes, result: CheckResult, shown: layout.Shown) -> None:
    placements = shown.placements
    if not placements:
        never = f"no camera angle finds {w.wanted(result.rig.guiding.min_stars)}"
        words = "no star here" if result.usable.angles_deg else never.replace(w.NBSP, " ")
        axes.text(0.5, 0.5, words, transform=axes.transAxes, ha="center", va="center", fontsize=palette.NORMAL)
        return
    faintest = max(item.g_mag for item in placements)
    for usable, name in ((False, "faint stars"), (True, "stars")):
        some = [item for item in placements if item.usable == usable]
        axes.scatter(
            [item.u_px for item in some],
            [item.v_px for item in some],
            s=[1.5 * palette.star_area(item.g_mag, faintest) for item in some],
            facecolors=palette.INK if usable else palette.PAPER,
            edgecolors=palette.INK,
            linewidths=palette.MEDIUM,
            zorder=3,
            gid=name,
        )
    numbers = layout.star_numbers(result)
    ordered = sorted(placements, key=lambda item: (not item.usable, item.g_mag))
    most = _MOST_LABELLED if len(ordered) <= _CROWD else _MOST_IN_CROWD
    labels.place(
        axes,
        [labels.Label(item.u_px, item.v_px, _label(item, numbers), 5.0, item.usable) for item in ordered[:most]],
        keep_off=[(item.u_px, item.v_px) for item in ordered[most:]],
    )


def _label(item: Placement, numbers: dict[str, int]) -> str:
    unlisted = f"{item.star_id}\n" if item.usable else ""
    name = f"{numbers[item.star_id]}: " if item.star_id in numbers else unlisted
    return f"{name}G {item.g_mag:.1f}\n({item.u_px:.0f}, {item.v_px:.0f})"


def sky_directions(result: CheckResult, angle_deg: float) -> dict[str, FloatArray]:
    """Directions of north, east and the target in the displayed picture, unit vectors (right, up)."""
    north_east = layout.sky_to_rig(result.rig, np.array([[0.0, 1.0], [1.0, 0.0]]), angle_deg)
    found = _turned(result, np.vstack([north_east, [[0.0, -1.0]]]))
    if not result.rig.guide_camera.picture_mirrored:
        found = found * np.array([-1.0, 1.0])
    return dict(zip(("N", "E", "target"), found, strict=True))


def _arrows(axes: Axes, result: CheckResult, angle_deg: float) -> None:
    """Show where north, east and the target lie, to the right of the picture."""
    directions = sky_directions(result, angle_deg)
    _rose(axes, (1.02, 0.50, 0.32, 0.50), {name: directions[name] for name in "NE"})
    _rose(axes, (1.02, 0.00, 0.32, 0.45), {"target": directions["target"]})


def _rose(axes: Axes, place: tuple[float, float, float, float], directions: dict[str, FloatArray]) -> None:
    corner = axes.inset_axes(place)
    corner.set(xlim=(-2.0, 2.0), ylim=(-2.0, 2.0), aspect="equal")
    corner.set_axis_off()
    for name, direction in directions.items():
        corner.annotate(
            "",
            xy=tuple(direction),
            xytext=(0.0, 0.0),
            arrowprops={
                "arrowstyle": "-|>",
                "color": palette.INK,
                "lw": palette.MEDIUM,
                "shrinkA": 0,
                "shrinkB": 0,
            },
            gid=f"arrow {name}",
        )
        words = direction * (1.4 + 0.3 * (len(name) > 1) * abs(direction[0]))
        corner.text(
            float(words[0]), float(words[1]), name, fontsize=palette.SMALL, ha="center", va="center", color=palette.INK
        )
