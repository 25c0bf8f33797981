"""Mosaics: the camera angles that serve every panel, how the panels fare at one of them, and what would help the rest.

One camera angle φ for all panels, measured against north at each panel's own centre: what an equatorial mount keeps
while it goes from panel to panel and nobody touches the camera. The panels' pictures then lean against each other a
little, as the meridians do. Either the grid of panels turns with the camera, so that the mosaic's own frame does, or it
stays put at an angle of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from guidestar.angles import circular
from guidestar.field.asked import Question
from guidestar.field.check import sweep, target_of
from guidestar.field.nearby import stars_around
from guidestar.field.result import Asked
from guidestar.nudge.framings import Framings
from guidestar.nudge.grid import Grid
from guidestar.nudge.result import Mosaic, Nudge, Panel
from guidestar.nudge.shift import Ground, nudge_asked
from guidestar.nudge.sweep import TurningPanel, meeting
from guidestar.nudge.wish import Wish, side_arcmin
from guidestar.sky.place import Place

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class MosaicQuestion:
    """What is asked of a mosaic.

    A camera angle, or None for the best, degrees; a fixed grid's angle or None; how far panels may be moved,
    arcminutes, or None for as far as the overlap allows.
    """

    angle_deg: float | None
    tolerance_deg: float
    grid_angle_deg: float | None
    nudge_limit_arcmin: float | None


def mosaic(place: Place, ground: Ground, grid: Grid, question: MosaicQuestion) -> Mosaic:
    """Find the camera angles at which every panel of a mosaic has enough guide stars.

    Parameters
    ----------
    place : Place
        The mosaic's centre.
    ground : Ground
        Rig and stars.
    grid : Grid
        About that centre.
    question : MosaicQuestion

    Raises
    ------
    DataError
        If the star source cannot be read.
    """
    usable, sure = _panel_sets(ground, grid, question.grid_angle_deg)
    angle, margin = _angle(usable, sure, question)
    limit = _limit(ground, grid) if question.nudge_limit_arcmin is None else question.nudge_limit_arcmin
    grid_angle = angle if question.grid_angle_deg is None else question.grid_angle_deg
    leaning = grid.leaning_deg(grid_angle)
    every = circular.at_least(np.concatenate(usable), len(usable))
    flips = ground.rig.mount.flips
    return Mosaic(
        target=target_of(place),
        epoch_year=ground.epoch_year,
        rig=ground.rig,
        source=ground.source.name,
        columns=grid.columns,
        rows=grid.rows,
        overlap_percent=grid.overlap_percent,
        grid_angle_deg=question.grid_angle_deg,
        usable_angles_deg=circular.as_tuples(every),
        sure_angles_deg=circular.as_tuples(circular.at_least(np.concatenate(sure), len(sure))),
        flip_safe_angles_deg=_flip_safe(every) if flips else None,
        angle_deg=angle,
        margin_deg=margin,
        asked_for=question.angle_deg is not None,
        tolerance_deg=question.tolerance_deg,
        panels=_panels(ground, grid, grid_angle, Question(angle, question.tolerance_deg), limit, leaning),
        nudge_limit_arcmin=limit,
        gaps=_gaps(ground, grid, leaning),
        complete_to_mag=ground.source.complete_to_mag,
        faintest_mag=ground.accepts.faintest_mag,
        exposure_s=None if ground.light is None else ground.light.setup.exposure_s,
        warnings=ground.rig.warnings,
    )


def _flip_safe(every: FloatArray) -> tuple[tuple[float, float], ...]:
    """Half a turn leaves the grid as it is (its panels change places), so the twin angle's answer is in the set too."""
    return circular.as_tuples(circular.intersection(every, circular.turned(every, 180.0)))


def _panel_sets(ground: Ground, grid: Grid, grid_angle_deg: float | None) -> tuple[list[FloatArray], list[FloatArray]]:
    """Return each panel's usable and sure camera angles."""
    if grid_angle_deg is None:
        return _turning_sets(ground, grid)
    right, up = grid.offsets_mm().T
    ra, dec = grid.sky(right, up, np.full(len(right), grid_angle_deg))
    outer_mm = ground.field.outer_mm + ground.accepts.accuracy_mm
    sweeps = [
        sweep(
            ground.rig,
            stars_around(ground.source, float(a), float(d), ground.rig, outer_mm, ground.epoch_year),
            ground.accepts,
            ground.light,
        )
        for a, d in zip(ra, dec, strict=True)
    ]
    return [swept.usable for swept in sweeps], [swept.sure for swept in sweeps]


def _turning_sets(ground: Ground, grid: Grid) -> tuple[list[FloatArray], list[FloatArray]]:
    offsets = grid.offsets_mm()
    stars = _stars(ground, grid, offsets)
    accuracy = ground.accepts.accuracy_mm
    ring = (ground.field.inner_mm - accuracy, ground.field.outer_mm + accuracy)
    usable, sure = [], []
    for right, up in offsets.tolist():
        near = meeting(stars, grid, (right, up), ring)
        panel = TurningPanel(near, grid, right, up, 0.0, circular.FULL_CIRCLE)
        usable.append(panel.angles())
        # A sure angle is a usable one.
        wiser = replace(panel, accuracy_mm=accuracy, within=usable[-1])
        sure.append(wiser.angles() if accuracy > 0 else usable[-1])
    return usable, sure


def _stars(ground: Ground, grid: Grid, offsets_mm: FloatArray) -> Framings:
    """Return the stars for every panel at any camera angle."""
    furthest = float(np.max(np.hypot(offsets_mm[:, 0], offsets_mm[:, 1])))
    return ground.around(grid.ra_deg, grid.dec_deg, float(np.degrees(np.arctan(furthest / grid.focal_length_mm))) * 60)


def _angle(usable: list[FloatArray], sure: list[FloatArray], question: MosaicQuestion) -> tuple[float, float | None]:
    """Return the angle asked for, or the best one and its margin."""
    if question.angle_deg is not None:
        return question.angle_deg % 360.0, None
    for play in (question.tolerance_deg, 0.0):
        kept, safe = ([_narrowed(part, play) for part in sets] for sets in (usable, sure))
        if any(len(part) for part in kept):
            angle, margin = _best(kept, safe)
            return angle, min(margin + play, 180.0)
    return 0.0, None


def _narrowed(angles: FloatArray, by_deg: float) -> FloatArray:
    """Return the angles of a set that may be missed by so much."""
    if circular.total_deg(angles) >= 360.0:
        return angles
    return circular.at_least(angles + np.array([by_deg, -by_deg]))


def _best(usable: list[FloatArray], sure: list[FloatArray]) -> tuple[float, float]:
    """Return the middle of the widest run with the most usable panels, of these the most sure ones, and its margin."""
    chosen = _most(sure, _most(usable, circular.FULL_CIRCLE))
    start, end = chosen[int(np.argmax(chosen[:, 1] - chosen[:, 0]))]
    return float((start + end) / 2 % 360.0), float((end - start) / 2)


def _most(sets: list[FloatArray], within: FloatArray) -> FloatArray:
    """Return the part of a set that the most of these sets cover; all of it where none does."""
    together = np.concatenate(sets)
    for count in range(len(sets), 0, -1):
        best = circular.intersection(circular.at_least(together, count), within)
        if len(best):
            return best
    return within


def _limit(ground: Ground, grid: Grid) -> float:
    """Return how far a panel may be moved before it leaves a gap to its neighbour, arcminutes: the overlap."""
    return side_arcmin(ground.rig, grid.overlap_percent / 100)


def _panels(
    ground: Ground, grid: Grid, grid_angle_deg: float, question: Question, limit_arcmin: float, leaning: FloatArray
) -> tuple[Panel, ...]:
    right, up = grid.offsets_mm().T
    ra, dec = grid.sky(right, up, np.full(len(right), grid_angle_deg))
    found = []
    for i, place in enumerate(zip(ra.tolist(), dec.tolist(), strict=True)):
        asked = ground.asked(*place, question)
        nudge = None if asked.usable else _nudge(ground, place, asked, limit_arcmin)
        row, column = divmod(i, grid.columns)
        found.append(Panel(row + 1, column + 1, *place, float(leaning[i]), asked, nudge))
    return tuple(found)


def _nudge(ground: Ground, place: tuple[float, float], asked: Asked, limit_arcmin: float) -> Nudge:
    """Return the smallest shift of one panel; its camera is not turned, for it is the others' too."""
    return nudge_asked(ground, place, asked, Wish(limit_arcmin, turn_cost_percent=0.0))


def _gaps(ground: Ground, grid: Grid, leaning: FloatArray) -> bool:
    """Return whether two neighbours lean against each other by more than their overlap can cover.

    Two frames side by side that share a strip, one turned by a small angle about its middle: the ends of the shared
    edge move by half its length times that angle, towards or away from the neighbour.
    """
    lean = leaning.reshape(grid.rows, grid.columns)
    camera = ground.rig.camera
    share = grid.overlap_percent / 100
    pairs = (
        (np.diff(lean, axis=1), camera.height_mm / 2, camera.width_mm * share),
        (np.diff(lean, axis=0), camera.width_mm / 2, camera.height_mm * share),
    )
    return any(
        bool(np.any(np.radians(np.abs(np.mod(turn + 180.0, 360.0) - 180.0)) * arm > strip + 1e-9))
        for turn, arm, strip in pairs
    )
