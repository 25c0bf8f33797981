"""Where nothing is usable: the nearest misses, and what would bring each onto the guide sensor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.angles.acceptance import direction_to_turn, turn_to_camera
from guidestar.field import geometry
from guidestar.field.acceptance import Acceptance, GeometricAcceptance, LightAcceptance
from guidestar.field.light import USUAL_EXPOSURES_S
from guidestar.field.nearby import NearbyStars
from guidestar.field.result import Hint, HintKind
from guidestar.optics.guidefield import half_planes
from guidestar.rig import Rig

FloatArray = NDArray[np.float64]

_LARGEST_MOVE_MM = 5.0
"""A prism moved, or a target shifted, by more than this is no nearby remedy."""


def hints(rig: Rig, nearby: NearbyStars, accepts: Acceptance) -> tuple[Hint, ...]:
    """Return the cheapest change of each kind that would make one star usable; kinds without any are left out."""
    bright = nearby.take(nearby.table.g_mag <= accepts.faintest_mag)
    deeper = longer_exposure(rig, nearby, accepts) or fainter(rig, nearby, accepts)
    found = (deeper, prism_moved(rig, bright, accepts), target_shifted(rig, bright, accepts))
    return tuple(hint for hint in found if hint is not None)


def longer_exposure(rig: Rig, nearby: NearbyStars, accepts: Acceptance) -> Hint | None:
    """Return the shortest usual exposure that makes a star usable; None without a light model."""
    if not isinstance(accepts, LightAcceptance):
        return None
    for exposure in USUAL_EXPOSURES_S:
        if exposure > rig.guiding.exposure_s:
            longer = replace(accepts, light=accepts.light.with_exposure(exposure))
            owner, _ = longer.arcs(nearby.radius_mm, nearby.table.g_mag)
            if len(owner):
                star = int(owner[np.argmin(nearby.table.g_mag[owner])])
                return _hint(rig, nearby, star, longer, "exposure", exposure)
    return None


def fainter(rig: Rig, nearby: NearbyStars, accepts: Acceptance) -> Hint | None:
    """Return the brightest star beyond the reach that crosses the guide field."""
    everything = GeometricAcceptance(half_planes(geometry.field_polygon(rig)), 0.0, 0.0, 0.0, np.inf)
    owner, _ = everything.arcs(nearby.radius_mm, nearby.table.g_mag)
    owner = owner[nearby.table.g_mag[owner] > accepts.faintest_mag]
    if not len(owner):
        return None
    star = int(owner[np.argmin(nearby.table.g_mag[owner])])
    return _hint(rig, nearby, star, everything, "fainter", float(nearby.table.g_mag[star]))


def prism_moved(rig: Rig, bright: NearbyStars, accepts: Acceptance) -> Hint | None:
    """Return the smallest move of the prism that brings a star in, never so deep that it shadows the main sensor."""
    moves = _moves_needed(rig, bright.radius_mm)
    offset = rig.prism.offset_mm + moves * geometry.scale_at_face(rig)
    moves[offset < geometry.least_offset_mm(rig)] = np.nan
    star = _smallest(moves)
    if star is None:
        return None
    move = float(moves[star])
    return _hint(rig, bright, star, accepts.moved(move), "offset", move * geometry.scale_at_face(rig))


def target_shifted(rig: Rig, bright: NearbyStars, accepts: Acceptance) -> Hint | None:
    """Return the smallest shift of the pointing that brings a star in: towards a star too far out, else away.

    To first order: pointing towards a star by Δ takes Δ off its radius and leaves its direction.
    """
    moves = _moves_needed(rig, bright.radius_mm)
    star = _smallest(moves)
    if star is None:
        return None
    move = float(moves[star])
    nearer = replace(bright, radius_mm=bright.radius_mm - move)
    arcmin = geometry.radius_to_arcmin(abs(move), rig.telescope.focal_length_mm)
    direction = float(bright.position_angle_deg[star]) + (0.0 if move > 0 else 180.0)
    return _hint(rig, nearer, star, accepts, "shift", arcmin, direction_deg=direction % 360.0)


def _moves_needed(rig: Rig, radius_mm: FloatArray) -> FloatArray:
    """Return how far the field must move outward, mm, for a star in the field's own direction to stand well inside.

    Well inside: by the prism's accuracy, or in the middle if the field is not that high. 0 for a star that does.
    """
    outline = geometry.field_polygon(rig)
    low, high = outline[:, 1].min(), outline[:, 1].max()
    inset = min(geometry.accuracy_mm(rig), (high - low) / 2)
    too_far = np.maximum(radius_mm - (high - inset), 0.0)
    too_near = np.minimum(radius_mm - (low + inset), 0.0)
    return np.asarray(too_far + too_near)


def _smallest(moves: FloatArray) -> int | None:
    """Return the index of the smallest move that is one at all, if it is near enough to be a remedy."""
    real = np.where(np.isnan(moves) | (moves == 0.0), np.inf, np.abs(moves))
    return int(np.argmin(real)) if len(real) and real.min() <= _LARGEST_MOVE_MM else None


def _hint(
    rig: Rig,
    nearby: NearbyStars,
    star: int,
    accepts: Acceptance,
    kind: HintKind,
    amount: float,
    direction_deg: float | None = None,
) -> Hint | None:
    """Return the hint with the camera angles that the star then covers; None if it covers none after all."""
    owner, arcs = accepts.arcs(nearby.radius_mm[[star]], nearby.table.g_mag[[star]])
    turns = direction_to_turn(nearby.phase_deg[[star]], owner, arcs)
    camera = circular.at_least(turn_to_camera(turns, rig.camera.mirrored))
    if not len(camera):
        return None
    start, end = camera[np.argmax(camera[:, 1] - camera[:, 0])]
    return Hint(
        kind=kind,
        star_id=nearby.table.names(star),
        g_mag=float(nearby.table.g_mag[star]),
        amount=amount,
        direction_deg=direction_deg,
        angle_deg=float((start + end) / 2 % 360.0),
        width_deg=circular.total_deg(camera),
    )
