"""The prism's depth window for a rig, what opens one where there is none, and the shadow on the main picture."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from guidestar.field import geometry
from guidestar.field.light import rig_footprint
from guidestar.optics import window as formulas
from guidestar.optics.footprint import Footprint
from guidestar.optics.guidefield import to_sensor
from guidestar.optics.transmission import PrismFace, throughput
from guidestar.rig import Rig
from guidestar.rig.model import SIDES_DEG
from guidestar.train.result import Remedy, Shadow, Window

FloatArray = NDArray[np.float64]
StopName = Literal["image circle", "clear aperture"]

_GRID = 61
_MAP = (97, 65)
_NEAREST_AHEAD_MM, _FARTHEST_AHEAD_MM, _AHEAD_STEP_MM = 5.0, 150.0, 0.5
_NO_SHADOW = 5e-4
"""Losses below this are not worth a word: 0.05 %."""


@dataclass(frozen=True)
class Depth:
    """A rig's prism, beam and openings as the plain numbers that the formulas take."""

    rig: Rig
    footprint: Footprint
    body: formulas.Body
    stops: tuple[tuple[StopName, formulas.Stop], ...]
    corners_mm: FloatArray
    field_mm: FloatArray

    @classmethod
    def of(cls, rig: Rig) -> Depth:
        """Make it from a rig."""
        prism = rig.prism
        body = formulas.Body(prism.height_mm, max(prism.width_mm, prism.holder_width_mm))
        field = geometry.field_polygon(rig) - np.array([0.0, geometry.centre_mm(rig)])
        return cls(rig, rig_footprint(rig), body, tuple(_stops(rig)), sensor_corners_mm(rig), field)

    @property
    def least_mm(self) -> float:
        """Return the innermost offset that leaves the whole main sensor all its light."""
        return formulas.least_offset_mm(self.corners_mm, self.footprint, self.body)

    @property
    def greatest_mm(self) -> float:
        """Return the outermost offset that leaves the whole guide field fully lit."""
        return formulas.greatest_offset_mm(self.field_mm, self.footprint, [stop for _, stop in self.stops])


def _stops(rig: Rig) -> Iterator[tuple[StopName, formulas.Stop]]:
    """Yield the round openings that the light has to pass."""
    telescope = rig.telescope
    circle = telescope.image_circle_mm
    if circle is not None and math.isfinite(circle):
        yield "image circle", formulas.Stop(circle / 2)
    train = rig.train
    if train is not None and train.clear_aperture_mm is not None:
        ahead = train.back_focus_mm if train.clear_aperture_ahead_mm is None else train.clear_aperture_ahead_mm
        scale = 1.0 - ahead / telescope.exit_pupil_mm
        if scale > 0.0:  # an opening beyond the exit pupil limits nothing here
            yield "clear aperture", formulas.Stop(train.clear_aperture_mm / 2, scale, ahead / (2 * telescope.f_ratio))


def to_rig_frame(rig: Rig, right_mm: FloatArray, up_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return (x, y) in the rig frame of places in the displayed main picture, mm from its middle.

    The prism lies in the direction `side_deg`, from up towards left; x grows to the left with the prism on top.
    """
    turn = math.radians(rig.prism.side_deg)
    x = -right_mm * math.cos(turn) - up_mm * math.sin(turn)
    y = -right_mm * math.sin(turn) + up_mm * math.cos(turn)
    return x, y


def to_picture(rig: Rig, x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return (right, up) in the displayed main picture of places in the rig frame."""
    turn = math.radians(rig.prism.side_deg)
    return -x_mm * math.cos(turn) - y_mm * math.sin(turn), -x_mm * math.sin(turn) + y_mm * math.cos(turn)


def sensor_corners_mm(rig: Rig) -> FloatArray:
    """Return the main sensor's corners in the rig frame, (4, 2) mm, in order round it."""
    half_width, half_height = rig.camera.width_mm / 2, rig.camera.height_mm / 2
    right = np.array([-half_width, -half_width, half_width, half_width])
    up = np.array([half_height, -half_height, -half_height, half_height])
    return np.column_stack(to_rig_frame(rig, right, up))


def field_light_mm2(depth: Depth, offset_mm: float) -> float:
    """Return the guide sensor's area less the margin, mm², each point counted by the share of its light that arrives.

    Prism, image circle and clear aperture are taken as independent of each other.
    """
    rig = depth.rig
    centre = offset_mm / depth.footprint.scale
    outline = geometry.sensor_polygon(rig) - np.array([0.0, geometry.centre_mm(rig)])
    low, high = outline.min(axis=0), outline.max(axis=0)
    x, y = (low[k] + (np.arange(_GRID) + 0.5) / _GRID * (high[k] - low[k]) for k in (0, 1))
    grid_x, grid_y = np.meshgrid(x, y)
    u, v = to_sensor(grid_x, grid_y, 0.0, rig.guide_camera.turned_deg)
    margin = rig.guiding.edge_margin_mm
    on_sensor = (np.abs(u) <= rig.guide_camera.width_mm / 2 - margin) & (
        np.abs(v) <= rig.guide_camera.height_mm / 2 - margin
    )
    face = PrismFace(rig.prism.width_mm, rig.prism.height_mm, offset_mm)
    lit = throughput(grid_x, grid_y + centre, depth.footprint, face, rig.telescope.image_circle_mm)
    for name, stop in depth.stops:
        if name == "clear aperture":
            radius = np.hypot(grid_x, grid_y + centre)
            lit = lit * formulas.stop_share(radius, stop, depth.footprint.obstruction_ratio)
    cell = float(np.prod((high - low) / _GRID))
    return float(np.sum(lit[on_sensor])) * cell


def window(rig: Rig, *, allowed_loss: float = 0.0, clear_share: float = 1.0) -> Window:
    """Return the prism's depth window.

    Parameters
    ----------
    rig : Rig
    allowed_loss : float
        Largest loss, 0 ≤ share < 1, that any point of the main sensor may suffer.
    clear_share : float
        Share of the main sensor's area, 0 < share ≤ 1, for which that must hold.
    """
    depth = Depth.of(rig)
    least = _least_mm(depth, allowed_loss, clear_share)
    greatest = depth.greatest_mm
    best = _best_mm(depth, least, greatest)
    offset = rig.prism.offset_mm
    return Window(
        min_offset_mm=least,
        max_offset_mm=greatest,
        best_offset_mm=best,
        offset_mm=offset,
        in_window=best is not None and least - 1e-9 <= offset <= greatest + 1e-9,
        allowed_loss=allowed_loss,
        clear_share=clear_share,
        limited_by=_limited_by(depth),
        field_light_mm2=field_light_mm2(depth, offset),
        best_field_light_mm2=field_light_mm2(depth, least if best is None else best),
        remedies=() if best is not None else tuple(_remedies(depth, least, greatest)),
    )


def _least_mm(depth: Depth, allowed_loss: float, clear_share: float) -> float:
    """Return the innermost offset for what the user allows."""
    if clear_share >= 1.0:
        return formulas.least_offset_mm(depth.corners_mm, depth.footprint, depth.body, allowed_loss=allowed_loss)
    camera = depth.rig.camera
    right = ((np.arange(4 * _GRID) + 0.5) / (4 * _GRID) - 0.5) * camera.width_mm
    up = ((np.arange(4 * _GRID) + 0.5) / (4 * _GRID) - 0.5) * camera.height_mm
    x, y = to_rig_frame(depth.rig, *np.meshgrid(right, up))
    needed = formulas.needed_offsets_mm(x.ravel(), y.ravel(), depth.footprint, depth.body, allowed_loss)
    kept = math.ceil(clear_share * needed.size) - 1
    return max(float(np.sort(needed)[kept]), depth.rig.prism.height_mm / 2)


def _limited_by(depth: Depth) -> StopName | None:
    """Return which opening ends the window outward."""
    ends = [(formulas.greatest_offset_mm(depth.field_mm, depth.footprint, [stop]), name) for name, stop in depth.stops]
    return min(ends)[1] if ends else None


def _best_mm(depth: Depth, least: float, greatest: float) -> float | None:
    """Return the offset inside the window with most light on the guide field, None without a window.

    Outward the light only falls, and inside the window it stays the same wherever nothing but the prism limits it; so
    the best is the innermost, kept from the shadow by the accuracy to which the offset is known, or the middle of a
    window narrower than twice that.
    """
    if greatest < least:
        return None
    return min(least + depth.rig.prism.offset_accuracy_mm, (least + greatest) / 2)


def _remedies(depth: Depth, least: float, greatest: float) -> Iterator[Remedy]:
    """Yield what would open a window, one of each kind that can."""
    scale = depth.footprint.scale
    if math.isfinite(greatest) and _extent_mm(depth) > (least - greatest) / scale:
        yield Remedy("crop", (least - greatest) / scale)
    yield from _other_sides(depth.rig)
    yield from _other_distances(depth.rig)
    yield from _larger_openings(depth, least)
    whole = field_light_mm2(_without_stops(depth), least)
    yield Remedy("dim", field_light_mm2(depth, least) / whole if whole > 0.0 else 0.0)


def _larger_openings(depth: Depth, least: float) -> Iterator[Remedy]:
    """Yield the openings that are too narrow; where that holds for several, only all of them together open a window."""
    needed = [
        (name, formulas.needed_stop_mm(depth.field_mm, least, depth.footprint, stop), stop.radius_mm)
        for name, stop in depth.stops
    ]
    narrow = [(name, radius) for name, radius, present in needed if radius > present]
    for name, radius in narrow:
        yield Remedy(name, 2.0 * radius, "together" if len(narrow) > 1 else "")


def _extent_mm(depth: Depth) -> float:
    return float(np.ptp(depth.corners_mm[:, 1]))


def _without_stops(depth: Depth) -> Depth:
    return Depth.of(depth.rig.with_values({"telescope.image_circle_mm": None, "train.clear_aperture_mm": None}))


def _other_sides(rig: Rig) -> Iterator[Remedy]:
    for side, side_deg in SIDES_DEG.items():
        if side_deg != rig.prism.side_deg:
            tried = Depth.of(rig.with_values({"prism.side_deg": side_deg}))
            room = tried.greatest_mm - tried.least_mm
            if room >= 0.0:
                yield Remedy("side", room, side)


def _other_distances(rig: Rig) -> Iterator[Remedy]:
    """Yield the nearest distance before the sensor, nearer or farther, at which there is a window."""
    end = min(_FARTHEST_AHEAD_MM, 0.9 * rig.telescope.exit_pupil_mm, 0.9 * rig.telescope.focal_length_mm)
    distances = np.arange(_NEAREST_AHEAD_MM, end, _AHEAD_STEP_MM)
    for ahead in sorted(distances, key=lambda value: abs(value - rig.prism.ahead_mm)):
        tried = Depth.of(rig.with_values({"prism.ahead_mm": float(ahead)}))
        if tried.greatest_mm >= tried.least_mm:
            yield Remedy("ahead", float(ahead), "nearer" if ahead < rig.prism.ahead_mm else "farther")
            return


def shadow(rig: Rig) -> Shadow:
    """Return the prism's shadow on the displayed main picture at the rig's offset."""
    depth = Depth.of(rig)
    right = np.linspace(-rig.camera.width_mm / 2, rig.camera.width_mm / 2, _MAP[0])
    up = np.linspace(rig.camera.height_mm / 2, -rig.camera.height_mm / 2, _MAP[1])
    x, y = to_rig_frame(rig, *np.meshgrid(right, up))
    loss = formulas.shadow(x, y, rig.prism.offset_mm, depth.footprint, depth.body)
    worst = _worst(depth, float(np.max(loss)))
    if worst < _NO_SHADOW:
        return Shadow(right, up, loss, worst, "", 0.0)
    return Shadow(right, up, loss, worst, place_of_worst(right, up, loss), float(np.mean(loss > 0.01)))


def _worst(depth: Depth, on_grid: float) -> float:
    """Return the largest loss on the sensor: on the grid, or along its rim, which the grid may straddle."""
    start, end = depth.corners_mm, np.roll(depth.corners_mm, -1, axis=0)
    share = np.linspace(0.0, 1.0, 2001)[:, None, None]
    rim = (start + share * (end - start)).reshape(-1, 2)
    loss = formulas.shadow(rim[:, 0], rim[:, 1], depth.rig.prism.offset_mm, depth.footprint, depth.body)
    return max(on_grid, float(np.max(loss)))


def place_of_worst(right_mm: FloatArray, up_mm: FloatArray, loss: FloatArray) -> str:
    """Name in picture terms where the loss is largest: "top right", or "top" where it is mid-edge.

    The middle of all places of largest loss counts; within a quarter of half the picture of a corner it is that
    corner.
    """
    rows, columns = np.nonzero(loss >= np.max(loss) - 1e-6)
    across = float(np.mean(right_mm[columns])) / max(float(right_mm[-1]), 1e-9)
    along = float(np.mean(up_mm[rows])) / max(float(up_mm[0]), 1e-9)
    words: Sequence[str] = (
        ("top" if along > 0 else "bottom") if abs(along) > 0.6 else "",
        ("right" if across > 0 else "left") if abs(across) > 0.6 else "",
    )
    return " ".join(word for word in words if word) or "middle"
