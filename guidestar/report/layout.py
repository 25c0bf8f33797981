"""What the figures share: the camera angle they show, how the rig frame lies on the sky at that angle, the compass.

Sky pictures have north up and east left; their coordinates are arcminutes east and north of the target in the
tangent plane, and the x axis runs leftward. The signs are those of the project's conventions: PA from north through
east, ψ = φ + β (mirrored φ − β), y = ρ·cos(θ − ψ), x = ±ρ·sin(θ − ψ).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from guidestar.field.result import CheckResult, FloatArray, GuideStar, Placement, Setting
from guidestar.report import palette
from guidestar.rig import Rig

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True)
class Shown:
    """The camera angle that the figures show, and why that one.

    `margin_deg` is None where the angle was asked for, or where nothing is usable.
    """

    angle_deg: float
    why: str
    margin_deg: float | None
    star_ids: tuple[str, ...]
    placements: tuple[Placement, ...]


def shown(result: CheckResult, angle_deg: float | None = None) -> Shown:
    """Choose the camera angle to draw.

    An explicit `angle_deg` wins. Else the angle that the person asked about, whatever stands there; else the best sure
    angle; else the best; else north, with nothing on it. Star positions are known only for angles that the result
    holds.
    """
    known = _known(result)
    if angle_deg is not None:
        for candidate in known:
            if abs((candidate.angle_deg - angle_deg + 180.0) % 360.0 - 180.0) < 1e-6:
                return candidate
        return Shown(angle_deg % 360.0, "camera angle", None, (), ())
    return known[0] if known else Shown(0.0, "no usable angle; drawn at", None, (), ())


def best(result: CheckResult) -> Shown | None:
    """Return the best sure angle, else the best, None where nothing is usable."""
    return next((one for one in _known(result) if one.margin_deg is not None), None)


def _known(result: CheckResult) -> list[Shown]:
    found = []
    if result.asked is not None:
        asked = result.asked
        found.append(Shown(asked.angle_deg, "the angle asked for", None, asked.star_ids, asked.placements))
    settings = (
        (result.best_sure, "best sure angle"),
        (result.best, "best angle"),
        (result.best_flip_safe, "flip-safe"),
    )
    found += [_from_setting(setting, why) for setting, why in settings if setting is not None]
    return found


def _from_setting(setting: Setting, why: str) -> Shown:
    return Shown(setting.angle_deg, why, setting.margin_deg, setting.star_ids, setting.placements)


def stars_drawn(result: CheckResult, shown: Shown) -> list[GuideStar]:
    """Return the guide stars that the sky picture rings and the page lists, brightest first.

    They are the `palette.MOST_STARS` brightest, and the few brightest of those on the guide camera at the angle shown.
    """
    here = [star for star in result.guide_stars if star.id in shown.star_ids][: palette.MOST_STARS_HERE]
    wanted = {star.id for star in [*result.guide_stars[: palette.MOST_STARS], *here]}
    return [star for star in result.guide_stars if star.id in wanted]


def sense(rig: Rig) -> float:
    """Return +1 where PA φ + 90° points to the displayed picture's left, −1 where it is mirrored."""
    return -1.0 if rig.camera.mirrored else 1.0


def prism_direction_deg(rig: Rig, angle_deg: float) -> float:
    """PA ψ of the guide field's centre at a camera angle, degrees in [0, 360)."""
    return float((angle_deg + sense(rig) * rig.prism.side_deg) % 360.0)


def rig_to_sky(rig: Rig, points_mm: FloatArray, angle_deg: float) -> FloatArray:
    """Turn rig-frame points (n, 2) of (x, y) mm into (east, north) mm at a camera angle."""
    psi = np.radians(prism_direction_deg(rig, angle_deg))
    x_mm, y_mm = sense(rig) * points_mm[:, 0], points_mm[:, 1]
    east_mm = y_mm * np.sin(psi) + x_mm * np.cos(psi)
    north_mm = y_mm * np.cos(psi) - x_mm * np.sin(psi)
    return np.column_stack([east_mm, north_mm])


def sky_to_rig(rig: Rig, points_mm: FloatArray, angle_deg: float) -> FloatArray:
    """Turn (east, north) mm, shape (n, 2), into rig-frame (x, y) mm at a camera angle."""
    psi = np.radians(prism_direction_deg(rig, angle_deg))
    east_mm, north_mm = points_mm[:, 0], points_mm[:, 1]
    x_mm = sense(rig) * (east_mm * np.cos(psi) - north_mm * np.sin(psi))
    y_mm = east_mm * np.sin(psi) + north_mm * np.cos(psi)
    return np.column_stack([x_mm, y_mm])


def main_frame(rig: Rig, angle_deg: float) -> FloatArray:
    """Corners of the main sensor on the sky, (4, 2) of (east, north) mm, from the upper left corner anticlockwise.

    "Upper" and "left" are those of the displayed picture: up points to PA φ, left to PA φ + 90° (mirrored φ − 90°).
    """
    phi = np.radians(angle_deg)
    up = np.array([np.sin(phi), np.cos(phi)]) * rig.camera.height_mm / 2.0
    left = sense(rig) * np.array([np.cos(phi), -np.sin(phi)]) * rig.camera.width_mm / 2.0
    return np.array([up + left, left - up, -up - left, up - left])


def arcmin_per_mm(result: CheckResult) -> float:
    """Scale of the tangent plane at the target."""
    return result.field.scale_arcsec_per_mm / 60.0


def guide_star_sky_mm(star: GuideStar) -> tuple[float, float]:
    """Place of a guide star, (east, north) mm in the focal plane."""
    theta = np.radians(star.position_angle_deg)
    return float(star.radius_mm * np.sin(theta)), float(star.radius_mm * np.cos(theta))


def compass(axes: Axes, foot: tuple[float, float], length: float, beyond: float) -> None:
    """Draw north and east as two arrows from `foot`, data units; their letters stand at `beyond` times the length."""
    arrow = {"arrowstyle": "-|>", "color": palette.INK, "lw": palette.MEDIUM, "shrinkA": 0, "shrinkB": 0}
    for name, right, up in (("N", 0.0, length), ("E", length, 0.0)):
        tip = (foot[0] + right, foot[1] + up)
        axes.annotate("", xy=tip, xytext=foot, arrowprops=arrow, zorder=8, gid=f"arrow {name}")
        place = (foot[0] + beyond * right, foot[1] + beyond * up)
        axes.text(*place, name, fontsize=palette.NORMAL, ha="center", va="center", color=palette.INK, zorder=8)


def star_numbers(result: CheckResult) -> dict[str, int]:
    """Give each guide star its number in the figures: 1 is the brightest."""
    return {star.id: number for number, star in enumerate(result.guide_stars, start=1)}
