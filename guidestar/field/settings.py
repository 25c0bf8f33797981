"""Single camera angles: what stands on the guide sensor there, and which angle to recommend."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.angles.acceptance import turn_to_camera
from guidestar.field import geometry
from guidestar.field.light import RigLight, star_light
from guidestar.field.nearby import NearbyStars
from guidestar.field.result import Placement, Setting, StarLight
from guidestar.optics import guidefield
from guidestar.rig import Rig

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BoolArray = NDArray[np.bool_]

_LEAST_SHOWN_TRANSMISSION = 0.05
"""Where the prism passes less than this of a star, the star is not drawn as seen."""


@dataclass(frozen=True)
class Sweep:
    """Every arc of camera angle in which a star is usable.

    `star` (k,) indexes `nearby`; `arcs` (k, 2) are camera angles in degrees. `sure` is the set of sure angles.
    `on_sensor` are the half-planes of what can be seen on the guide sensor at all, margin included. `light` is None
    where a fixed limit is used. `spoiled` (n,) marks stars whose image may be saturated or two images: usable, but
    ranked after clean ones.
    """

    rig: Rig
    nearby: NearbyStars
    star: IntArray
    arcs: FloatArray
    sure: FloatArray
    on_sensor: FloatArray
    light: RigLight | None
    spoiled: BoolArray

    @property
    def usable(self) -> FloatArray:
        """The set of usable camera angles."""
        return circular.at_least(self.arcs, self.rig.guiding.min_stars)

    def stars_at(self, angle_deg: float) -> IntArray:
        """Return the stars usable at one camera angle: clean ones first, then by brightness."""
        here = np.mod(angle_deg - self.arcs[:, 0], 360.0) <= self.arcs[:, 1] - self.arcs[:, 0]
        return self.ranked(self.star[here])

    def stars_within(self, start_deg: float, end_deg: float) -> IntArray:
        """Return the stars usable somewhere between two camera angles, ranked."""
        lead = np.mod(self.arcs[:, 0] - start_deg, 360.0) <= end_deg - start_deg
        behind = np.mod(start_deg - self.arcs[:, 0], 360.0) <= self.arcs[:, 1] - self.arcs[:, 0]
        return self.ranked(self.star[lead | behind])

    def ranked(self, stars: IntArray) -> IntArray:
        """Return the stars once each, clean ones first, then by brightness."""
        unique = np.unique(stars)
        return unique[np.lexsort((self.nearby.table.g_mag[unique], self.spoiled[unique]))]

    def names(self, stars: Iterable[int]) -> tuple[str, ...]:
        """Return the designations of some stars."""
        return tuple(self.nearby.table.names(int(i)) for i in stars)


def widest(sweep: Sweep, ranges: FloatArray) -> tuple[float, float] | None:
    """Return the angle in the middle of the widest range and its margin, or None if there is no range.

    Of equally wide ranges the one whose middle has the brightest star; on a full circle, where every margin is
    180°, the middle of the best-ranked star's widest arc.
    """
    if not len(ranges):
        return None
    if circular.total_deg(ranges) >= 360.0:
        return _middle_of_best_star(sweep), 180.0
    widths = ranges[:, 1] - ranges[:, 0]
    middles = np.mod((ranges[:, 0] + ranges[:, 1]) / 2, 360.0)
    ties = np.flatnonzero(widths >= widths.max() - circular.SLIVER_DEG)
    chosen = min(ties, key=lambda i: _brightness_at(sweep, float(middles[i])))
    return float(middles[chosen]), float(widths[chosen] / 2)


def _brightness_at(sweep: Sweep, angle_deg: float) -> float:
    stars = sweep.stars_at(angle_deg)
    return float(sweep.nearby.table.g_mag[stars[0]]) if len(stars) else np.inf


def _middle_of_best_star(sweep: Sweep) -> float:
    best = sweep.ranked(sweep.star)[0]
    own = sweep.arcs[sweep.star == best]
    start, end = own[np.argmax(own[:, 1] - own[:, 0])]
    return float(np.mod((start + end) / 2, 360.0))


def setting(sweep: Sweep, ranges: FloatArray, *, twin: bool = False) -> Setting | None:
    """Return the recommended setting among ranges of camera angle, or None if there is none.

    With `twin` the ranges hold for both sides of a flip: `sure` then asks for both, and the twin's stars are named.
    """
    chosen = widest(sweep, ranges)
    if chosen is None:
        return None
    angle, margin = chosen
    opposite = (angle + 180.0) % 360.0
    sure = bool(circular.contains(sweep.sure, angle)) and (not twin or bool(circular.contains(sweep.sure, opposite)))
    return Setting(
        angle_deg=angle,
        margin_deg=margin,
        star_ids=sweep.names(sweep.stars_at(angle)),
        sure=sure,
        placements=placements(sweep, angle),
        twin_star_ids=sweep.names(sweep.stars_at(opposite)) if twin else (),
    )


def placements(sweep: Sweep, angle_deg: float) -> tuple[Placement, ...]:
    """Return every catalogue star that can be seen on the guide sensor at a camera angle, brightest first."""
    rig, nearby = sweep.rig, sweep.nearby
    turn = float(turn_to_camera(np.array([[angle_deg, angle_deg]]), rig.camera.mirrored)[0, 0])
    direction = np.radians(nearby.phase_deg - turn)
    x, y = nearby.radius_mm * np.sin(direction), nearby.radius_mm * np.cos(direction)
    seen = np.all(sweep.on_sensor[:, :2] @ np.stack((x, y)) <= sweep.on_sensor[:, 2, None], axis=0)
    if sweep.light is not None:
        seen[seen] = sweep.light.transmission(x[seen], y[seen]) >= _LEAST_SHOWN_TRANSMISSION
    order = np.flatnonzero(seen)
    order = order[np.argsort(nearby.table.g_mag[order], kind="stable")]
    usable = set(sweep.stars_at(angle_deg).tolist())
    lights = _lights(sweep, order, x[order], y[order])
    u, v = guidefield.to_sensor(x, y, geometry.centre_mm(rig), rig.guide_camera.turned_deg)
    return tuple(
        _placement(rig, nearby, i, (x[i], y[i], u[i], v[i]), i in usable, light)
        for i, light in zip(order.tolist(), lights, strict=True)
    )


def _lights(sweep: Sweep, stars: IntArray, x_mm: FloatArray, y_mm: FloatArray) -> Sequence[StarLight | None]:
    if sweep.light is None:
        return [None] * len(stars)
    return star_light(sweep.light, sweep.nearby.table.g_mag[stars], x_mm, y_mm)


def _placement(
    rig: Rig,
    nearby: NearbyStars,
    i: int,
    place: tuple[float, float, float, float],
    usable: bool,
    light: StarLight | None,
) -> Placement:
    x, y, u, v = (float(value) for value in place)
    camera = rig.guide_camera
    pixels_per_mm = 1000.0 / camera.pixel_um
    return Placement(
        star_id=nearby.table.names(i),
        g_mag=float(nearby.table.g_mag[i]),
        x_mm=x,
        y_mm=y,
        u_mm=u,
        v_mm=v,
        u_px=(u + camera.width_mm / 2) * pixels_per_mm,
        v_px=(v + camera.height_mm / 2) * pixels_per_mm,
        usable=usable,
        light=light,
    )
