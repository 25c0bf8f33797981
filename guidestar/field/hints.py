"""Where nothing is usable: the nearest misses, and what would bring enough stars onto the guide sensor."""

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
IntArray = NDArray[np.int64]

_LARGEST_MOVE_MM = 5.0
"""A prism moved, or a target shifted, by more than this is no nearby remedy."""

_STEP_MM = 0.1
"""Steps of the moves tried where several stars are wanted at once."""


def hints(rig: Rig, nearby: NearbyStars, accepts: Acceptance) -> tuple[Hint, ...]:
    """Return the cheapest change of each kind that would make some angle usable; kinds without any are left out.

    Every change brings all the stars that `guiding.min_stars` asks for at once.
    """
    bright = nearby.take(nearby.table.g_mag <= accepts.faintest_mag)
    deeper = longer_exposure(rig, nearby, accepts) or fainter(rig, nearby, accepts)
    moved, shifted = prism_moved(rig, bright, accepts), target_shifted(rig, bright, accepts)
    found = (fewer_stars(rig, bright, accepts), deeper, moved, shifted)
    return tuple(hint for hint in found if hint is not None)


def fewer_stars(rig: Rig, bright: NearbyStars, accepts: Acceptance) -> Hint | None:
    """Return the largest number of stars at once below the one asked for that some camera angle has."""
    for count in range(rig.guiding.min_stars - 1, 0, -1):
        hint = _hint(rig, bright, accepts, "fewer", count, count=count)
        if hint is not None:
            whole = circular.total_deg(circular.at_least(_camera_arcs(rig, bright, accepts)[1], count))
            return replace(hint, width_deg=whole)
    return None


def longer_exposure(rig: Rig, nearby: NearbyStars, accepts: Acceptance) -> Hint | None:
    """Return the shortest usual exposure that makes enough stars usable at once; None without a light model."""
    if not isinstance(accepts, LightAcceptance):
        return None
    for exposure in USUAL_EXPOSURES_S:
        if exposure > rig.guiding.exposure_s:
            longer = replace(accepts, light=accepts.light.with_exposure(exposure))
            hint = _hint(rig, nearby, longer, "exposure", exposure)
            if hint is not None:
                return hint
    return None


def fainter(rig: Rig, nearby: NearbyStars, accepts: Acceptance) -> Hint | None:
    """Return the brightest star beyond the reach that is, with brighter ones, enough somewhere on the guide field."""
    everything = GeometricAcceptance(half_planes(geometry.field_polygon(rig)), 0.0, 0.0, 0.0, np.inf)
    owner, _ = everything.arcs(nearby.radius_mm, nearby.table.g_mag)
    crossing = np.unique(owner)
    beyond = crossing[nearby.table.g_mag[crossing] > accepts.faintest_mag]
    for star in beyond[np.argsort(nearby.table.g_mag[beyond], kind="stable")]:
        magnitude = float(nearby.table.g_mag[star])
        deeper = replace(everything, faintest_mag=magnitude)
        hint = _hint(rig, nearby, deeper, "fainter", magnitude, star=int(star))
        if hint is not None:
            return hint
    return None


def prism_moved(rig: Rig, bright: NearbyStars, accepts: Acceptance) -> Hint | None:
    """Return the smallest move of the prism that brings enough stars in.

    Never so deep that it shadows the main sensor, nor outward to where the telescope has no useful light. For several
    stars at once moves are tried in steps of 0.1 mm, and have to leave a range of angles wide enough to be set.
    """
    useful = bright.take(bright.radius_mm <= _useful_light_mm(rig))
    if rig.guiding.min_stars > 1:
        return _moved_for_several(rig, useful, accepts)
    moves = _moves_needed(rig, useful.radius_mm)
    moves[~_move_is_allowed(rig, moves)] = np.nan
    star = _smallest(moves)
    return None if star is None else _moved(rig, useful, accepts, float(moves[star]), star)


def _moved_for_several(rig: Rig, useful: NearbyStars, accepts: Acceptance) -> Hint | None:
    steps = np.arange(1, round(_LARGEST_MOVE_MM / _STEP_MM) + 1) * _STEP_MM
    moves = np.column_stack((-steps, steps)).ravel()
    least_deg = 2 * rig.guiding.rotation_accuracy_deg
    allowed = moves[_move_is_allowed(rig, moves)].tolist()
    found = (_moved(rig, useful, accepts, move, least_deg=least_deg) for move in allowed)
    return next((hint for hint in found if hint is not None), None)


def _moved(
    rig: Rig,
    useful: NearbyStars,
    accepts: Acceptance,
    move_mm: float,
    star: int | None = None,
    *,
    least_deg: float = 0.0,
) -> Hint | None:
    amount = move_mm * geometry.scale_at_face(rig)
    return _hint(rig, useful, accepts.moved(move_mm), "offset", amount, star=star, least_deg=least_deg)


def _useful_light_mm(rig: Rig) -> float:
    """Return the radius of the telescope's useful light, mm in the focal plane; infinite where it has no limit."""
    circle = rig.telescope.image_circle_mm
    return np.inf if circle is None else circle / 2


def _move_is_allowed(rig: Rig, moves_mm: FloatArray) -> NDArray[np.bool_]:
    """Tell which moves keep the prism clear of the main light, and the field's centre in useful light if outward."""
    clear = rig.prism.offset_mm + moves_mm * geometry.scale_at_face(rig) >= geometry.least_offset_mm(rig)
    return np.asarray(clear & ((moves_mm <= 0) | (geometry.centre_mm(rig) + moves_mm <= _useful_light_mm(rig))))


def target_shifted(rig: Rig, bright: NearbyStars, accepts: Acceptance) -> Hint | None:
    """Return about the smallest shift of the pointing that brings a star in: towards a star too far out, else away.

    To first order, and at the angle at which the star stands in the field's own direction: pointing towards a star by
    Δ takes Δ off its radius and leaves its direction. None where several stars are wanted at once.
    """
    moves = _moves_needed(rig, bright.radius_mm)
    star = _smallest(moves)
    if star is None or rig.guiding.min_stars > 1:
        return None
    move = float(moves[star])
    nearer = replace(bright, radius_mm=bright.radius_mm - move)
    arcmin = geometry.radius_to_arcmin(abs(move), rig.telescope.focal_length_mm)
    direction = (float(bright.position_angle_deg[star]) + (0.0 if move > 0 else 180.0)) % 360.0
    hint = _hint(rig, nearer, accepts, "shift", arcmin, star=star)
    return None if hint is None else replace(hint, direction_deg=direction)


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


def _camera_arcs(rig: Rig, nearby: NearbyStars, accepts: Acceptance) -> tuple[IntArray, FloatArray]:
    """Return the arcs of camera angle in which each star is usable, and whose they are."""
    owner, arcs = accepts.arcs(nearby.radius_mm, nearby.table.g_mag)
    return owner, turn_to_camera(direction_to_turn(nearby.phase_deg, owner, arcs), rig.camera.mirrored)


def _hint(
    rig: Rig,
    nearby: NearbyStars,
    accepts: Acceptance,
    kind: HintKind,
    amount: float,
    *,
    star: int | None = None,
    count: int | None = None,
    least_deg: float = 0.0,
) -> Hint | None:
    """Return the hint with the camera angles that enough stars then cover together; None if they cover none after all.

    `star`: one that has to be among them; `count`: how many are enough (`guiding.min_stars`); `least_deg`: how wide a
    range of angles there has to be at least.
    """
    count = rig.guiding.min_stars if count is None else count
    owner, camera = _camera_arcs(rig, nearby, accepts)
    enough = circular.at_least(camera, count)
    if star is not None:
        enough = circular.intersection(enough, circular.at_least(camera[owner == star]))
    if not len(enough):
        return None
    start, end = enough[np.argmax(enough[:, 1] - enough[:, 0])]
    if end - start < least_deg:
        return None
    angle = float((start + end) / 2 % 360.0)
    stars = _named(nearby, owner[np.mod(angle - camera[:, 0], 360.0) <= camera[:, 1] - camera[:, 0]], star, count)
    common = np.concatenate([circular.at_least(camera[owner == i]) for i in stars])
    return Hint(
        kind=kind,
        star_id=nearby.table.names(stars[0]),
        g_mag=float(nearby.table.g_mag[stars[0]]),
        amount=amount,
        direction_deg=None,
        angle_deg=angle,
        width_deg=circular.total_deg(circular.at_least(common, len(stars))),
        others=tuple((nearby.table.names(i), float(nearby.table.g_mag[i])) for i in stars[1:]),
    )


def _named(nearby: NearbyStars, there: IntArray, star: int | None, count: int) -> list[int]:
    """Return `count` of the stars at an angle: the brightest, and the one that has to be among them first."""
    unique = np.unique(there)
    order = [int(i) for i in unique[np.argsort(nearby.table.g_mag[unique], kind="stable")] if i != star]
    return order[:count] if star is None else [star, *order[: count - 1]]
