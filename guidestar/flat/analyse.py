"""From a flat to what darkens it on one side: fits of falloff alone, of a prism's shadow, of an off-centre opening."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from guidestar.flat import fit
from guidestar.flat.cells import Cells, grid, to_cells
from guidestar.flat.frame import Frame
from guidestar.flat.result import FlatResult, Sensor, Verdict
from guidestar.flat.shapes import KnownBody, RoundOpening, Strip
from guidestar.optics.footprint import Footprint
from guidestar.optics.window import Body, least_offset_mm

FloatArray = NDArray[np.float64]

LEAST_DEPTH, LEAST_DEPTH_CORNER = 0.02, 0.03
"""Fainter darkness than this is never reported: falloff models are no better."""
CLEAR_DEPTH_EDGE, CLEAR_DEPTH_CORNER = 0.085, 0.15
"""From here on a shadow is called one; below it is "possible". A corner's few cells ask for more."""

# Limits of the evidence, set on rendered flats (other seeds than those that the hit rates are measured on).
# Least gain, least share explained and fewest cells, in sets of which one has to be met; dust at the rim stays below.
_EDGE = ((150.0, 0.75, 12),)
_FAINT_CORNER = ((200.0, 0.80, 3), (90.0, 0.92, 3))
_DEEP_CORNER = ((45.0, 0.80, 2),)
_GAIN_SCALE = 80.0
_OTHER_GAIN = 500.0
_OTHER_ADVANTAGE = 1.10
_HOLES = (0.0, 0.35)
"""Dark middles of the beam that are tried where no rig says what it is: a refractor's, a mirror telescope's."""

_ROUGH, _FULL = 20, 80
_CORNER, _IN_A_CORNER = 0.6, 0.5
_CORNER_TURN_DEG = 12.0


@dataclass(frozen=True)
class Evidence:
    """How well a shape explains the darkness: `gain` of the robust cost over falloff alone, and the share `explained`.

    `explained` is one less what the fit leaves over what the shape takes, summed over the cells where it takes at
    least a tenth of its depth; negative where it leaves more. `cells` is how many those are.
    """

    depth: float
    gain: float
    explained: float
    cells: int

    @property
    def confidence(self) -> float:
        """Return 0 … 1: the share explained, lowered where the gain is small."""
        return max(0.0, self.explained) * (1.0 - math.exp(-max(self.gain, 0.0) / _GAIN_SCALE))


def analyse(frame: Frame, sensor: Sensor | None = None) -> FlatResult:
    """Find a one-sided shadow in a flat.

    Parameters
    ----------
    frame : Frame
    sensor : Sensor, optional
        With it the prism's width and the beam's size are known, and lengths come in mm.

    Returns
    -------
    FlatResult
    """
    import scipy.linalg  # noqa: F401 - only a library that is loaded by then is limited below
    from threadpoolctl import threadpool_limits

    cells = to_cells(frame.pixels)
    # The matrices are small: more threads gain nothing, and wait for each other where the machine is busy.
    with threadpool_limits(limits=1, user_api="blas"):
        return _analyse(frame, cells, sensor)


def _analyse(frame: Frame, cells: Cells, sensor: Sensor | None) -> FlatResult:
    known = None if sensor is None else _known(sensor)
    alone = fit.fit(cells)
    strip = _best_strip(cells, known)
    opening = _best_opening(cells, alone, strip)
    verdict, best = _judge(cells, alone, strip, opening)
    if known is not None and verdict in ("none", "other"):
        verdict, best = _second_look(cells, alone, known, opening, (verdict, best))
    return _result(frame, cells, sensor, verdict, alone, alone if best is None else best)


def _second_look(
    cells: Cells, alone: fit.Fit, known: KnownBody, opening: fit.Fit, first: tuple[Verdict, fit.Fit | None]
) -> tuple[Verdict, fit.Fit | None]:
    """Look for a shadow of any prism where this rig's was not found, and start once more from what that gives.

    A shadow of another width or softness than this rig's prism can throw is worth a word, but not called its shadow.
    """
    free = _best_strip(cells, None)
    assert isinstance(free.shape, Strip)
    start = replace(free.shape, hole=known.hole)
    mine = fit.fit(cells, fit.strips_near(start, cells, known), after=free, most=_FULL)
    for strip, called in ((mine, None), (free, "other")):
        verdict, best = _judge(cells, alone, strip, opening)
        if verdict in ("shadow", "possible"):
            return ("other" if called else verdict), best
    return first


def _known(sensor: Sensor) -> KnownBody:
    """Return the rig's prism in the units of the grid, as its shadow would be seen in the focal plane."""
    body, half = sensor.body, max(sensor.width_mm, sensor.height_mm) / 2
    unit = half * body.scale
    return KnownBody(body.width_mm / 2 / unit, max(body.beam_mm / unit, 0.02), body.hole)


def _best_strip(cells: Cells, known: KnownBody | None) -> fit.Fit:
    """Fit roughly from every edge and corner, then fully from the two that did best."""
    rough = [
        fit.fit(cells, fit.strips_near(start.strip, cells, known), after=start.falloff, most=_ROUGH)
        for start in fit.likely_strips(cells, known)
    ]
    rough.sort(key=lambda found: found.cost)
    strips = [(found, found.shape) for found in rough[:2] if isinstance(found.shape, Strip)]
    holes = _HOLES if known is None else (known.hole,)
    full = [
        fit.fit(cells, fit.strips_near(replace(shape, hole=hole), cells, known), after=found, most=_FULL)
        for found, shape in strips
        for hole in holes
    ]
    return min(full, key=lambda found: found.cost)


def _best_opening(cells: Cells, alone: fit.Fit, strip: fit.Fit) -> fit.Fit:
    """Fit an opening shifted away from the darkness, for a few radii to start from."""
    assert isinstance(strip.shape, Strip)
    turn = math.radians(strip.shape.turn_deg)
    away = np.array([math.sin(turn), -math.cos(turn)])
    reach = math.hypot(cells.half_width, cells.half_height)
    fits = []
    for shift, room in ((0.3, 0.75), (0.3, 0.95), (0.6, 1.0)):
        right, up = away * shift * reach
        start = RoundOpening(float(right), float(up), (shift + room) * reach * 0.9, 0.25)
        fits.append(fit.fit(cells, fit.openings_near(start), after=alone, most=_ROUGH * 2))
    return min(fits, key=lambda found: found.cost)


def evidence(cells: Cells, alone: fit.Fit, found: fit.Fit) -> Evidence:
    """Weigh a fitted shape against falloff alone."""
    assert found.shape is not None
    loss = found.shape.loss(cells.right, cells.up)
    depth = _depth(cells, found)
    there = loss > 0.1 * max(depth, 1e-9)
    taken, left = np.log1p(-loss[there]), found.residual[there]
    explained = 1.0 - float(np.sum(np.abs(left))) / max(float(np.sum(np.abs(taken))), 1e-9)
    before, after = (fit.robust_costs(cells, item.residual) for item in (alone, found))
    return Evidence(depth, float(np.sum(before) - np.sum(after)), explained, int(np.count_nonzero(there)))


def _judge(cells: Cells, alone: fit.Fit, strip: fit.Fit, opening: fit.Fit) -> tuple[Verdict, fit.Fit | None]:
    """Decide between a prism's shadow, clear or possible, another shape, and nothing."""
    mine, other = evidence(cells, alone, strip), evidence(cells, alone, opening)
    if other.gain > _OTHER_GAIN and other.gain > mine.gain * _OTHER_ADVANTAGE:
        return "other", opening
    called = _called(mine, corner=" " in _place(cells, strip))
    if called and fit.is_plausible(strip.shape):
        return called, strip
    if max(mine.gain, other.gain) > _OTHER_GAIN:
        return "other", max((strip, mine), (opening, other), key=lambda pair: pair[1].gain)[0]
    return "none", None


def _called(mine: Evidence, *, corner: bool) -> Verdict | None:
    """Call a strip a shadow, a possible one, or (None) not borne out by the evidence."""
    if mine.depth < (LEAST_DEPTH_CORNER if corner else LEAST_DEPTH):
        return None
    clear = mine.depth >= (CLEAR_DEPTH_CORNER if corner else CLEAR_DEPTH_EDGE)
    limits = _EDGE if not corner else _DEEP_CORNER if clear else _FAINT_CORNER
    met = any(mine.gain >= gain and mine.explained >= share and mine.cells >= cells for gain, share, cells in limits)
    return ("shadow" if clear else "possible") if met else None


def _depth(cells: Cells, found: fit.Fit) -> float:
    """Return the largest loss anywhere in the frame, rim included."""
    assert found.shape is not None
    right, up = _fine(cells)
    return float(np.max(found.shape.loss(right.ravel(), up.ravel())))


def _fine(cells: Cells) -> tuple[FloatArray, FloatArray]:
    """Return a grid of twice the cells that runs from rim to rim."""
    right = np.linspace(-cells.half_width, cells.half_width, 2 * cells.columns + 1)
    up = np.linspace(cells.half_height, -cells.half_height, 2 * cells.rows + 1)
    x, y = np.meshgrid(right, up)
    return x, y


def _place(cells: Cells, found: fit.Fit) -> str:
    """Name where the light is lost, in the displayed picture: a corner if the loss gathers there, else an edge."""
    assert found.shape is not None
    right, up = (values.ravel() for values in _fine(cells))
    loss = found.shape.loss(right, up)
    total = max(float(np.sum(loss)), 1e-12)
    across = float(np.sum(loss * right)) / total / cells.half_width
    along = float(np.sum(loss * up)) / total / cells.half_height
    if min(abs(across), abs(along)) > _CORNER or _leans_into_a_corner(cells, found.shape):
        return f"{'top' if along > 0 else 'bottom'} {'right' if across > 0 else 'left'}"
    if abs(along) >= abs(across):
        return "top" if along > 0 else "bottom"
    return "right" if across > 0 else "left"


def _leans_into_a_corner(cells: Cells, shape: fit.Shape) -> bool:
    """Tell whether a strip lies askew and is deepest in a corner: a deep one gathers its loss far from there."""
    if not isinstance(shape, Strip) or abs((shape.turn_deg + 45.0) % 90.0 - 45.0) < _CORNER_TURN_DEG:
        return False
    right, up = (values.ravel() for values in _fine(cells))
    loss = shape.loss(right, up)
    deepest = loss >= np.max(loss) - 1e-6
    across, along = np.mean(right[deepest]) / cells.half_width, np.mean(up[deepest]) / cells.half_height
    return bool(min(abs(across), abs(along)) > _IN_A_CORNER)


def _result(
    frame: Frame, cells: Cells, sensor: Sensor | None, verdict: Verdict, alone: fit.Fit, best: fit.Fit
) -> FlatResult:
    shape = best.shape
    right, up = grid(cells.rows, cells.columns, cells.half_width, cells.half_height)
    fitted = np.zeros(len(right)) if shape is None else shape.loss(right, up)
    measured = 1.0 - np.exp(best.residual + np.log1p(-fitted))  # data over falloff alone
    grids = [values.reshape(cells.rows, cells.columns) for values in (measured, fitted)]
    if shape is None:
        return FlatResult(
            "none", "", 0.0, 0.0, 0.0, 0.0, None, None, None, frame.colour, frame.width_px, frame.height_px, *grids
        )
    found = evidence(cells, alone, best)
    place = _place(cells, best)
    width, reach = _extent(cells, best, place)
    millimetres: tuple[float | None, float | None, float | None] = (None, None, None)
    if sensor is not None and isinstance(shape, Strip) and verdict in ("shadow", "possible"):
        millimetres = _millimetres(cells, shape, width, sensor)
    return FlatResult(
        verdict, place, found.depth, width, reach, found.confidence, *millimetres, frame.colour, frame.width_px,
        frame.height_px, *grids,
    )  # fmt: skip


def _extent(cells: Cells, best: fit.Fit, place: str) -> tuple[float, float]:
    """Return how far the half-deep part runs along the edge and into the picture, as shares of the longer side."""
    assert best.shape is not None
    right, up = _fine(cells)
    loss = best.shape.loss(right.ravel(), up.ravel()).reshape(right.shape)
    deep = loss >= loss.max() / 2
    wide, high = (float(np.ptp(values[deep])) / 2.0 for values in (right, up))
    return (high, wide) if place in ("left", "right") else (wide, high)


def _millimetres(cells: Cells, strip: Strip, width: float, sensor: Sensor) -> tuple[float, float, float]:
    """Return by how much to draw the prism out, the shadow's width, and where the prism seems to stand, all mm."""
    half = max(sensor.width_mm, sensor.height_mm) / 2
    turn = math.radians(strip.turn_deg)
    corners = np.array([(-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0), (1.0, 1.0)]) * (cells.half_width, cells.half_height)
    x = -corners[:, 0] * math.cos(turn) - corners[:, 1] * math.sin(turn) - strip.aside
    y = -corners[:, 0] * math.sin(turn) + corners[:, 1] * math.cos(turn)
    beam, body = Footprint(strip.blur, strip.hole, 1.0), Body(0.0, 2.0 * strip.half_width)
    clear = least_offset_mm(np.column_stack((x, y)), beam, body)
    unit = half * sensor.body.scale
    return (clear - strip.edge) * unit, width * 2.0 * half, strip.edge * unit + sensor.body.height_mm / 2
