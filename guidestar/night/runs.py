"""Which star serves when at one dial angle, with which exposure, and when another has to take over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.field.light import USUAL_EXPOSURES_S
from guidestar.night.clock import moment_of
from guidestar.night.ground import Ground, StarArcs
from guidestar.night.result import Run, Side
from guidestar.night.segments import Cells, Segments, hardest
from guidestar.signal.saturation import peak_fill

BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.float64]
Stars = frozenset[int]

_SHORTEST_S: Final = 60.0


@dataclass(frozen=True)
class Serving:
    """Everything that decides which star serves: the stars' arcs by segment, and which images are spoiled."""

    ground: Ground
    parts: Segments
    cells: Cells
    arcs: Sequence[StarArcs]
    spoiled: BoolArray
    sides: Sequence[Side]
    """Of each segment."""

    def usable_in(self, cell: int, angle_deg: float, arcs: StarArcs) -> Stars:
        """Return the stars that stand usable on the guide camera throughout a cell."""
        low, high = angle_deg + self.cells.low_deg[cell], angle_deg + self.cells.high_deg[cell]
        return frozenset(arcs.at(low, high).tolist())


def runs(serving: Serving, angle_deg: float) -> tuple[Run, ...]:
    """Return the night at a dial angle, stretch by stretch, through every window.

    At each change the star that will serve longest takes over, so that changes are few; of equally long ones a clean
    one, then the brightest. A star that would serve for less than a minute is not taken.
    """
    cells, wanted = serving.cells, serving.ground.rig.guiding.min_stars
    usable = [serving.usable_in(i, angle_deg, serving.arcs[cells.segment[i]]) for i in range(len(cells))]
    servers: list[int | None] = [None] * len(cells)
    good = [len(stars) >= wanted for stars in usable]
    i = 0
    while i < len(cells):
        end = _stretch_end(serving, i, good)
        if good[i]:
            star, end = _longest_server(serving, usable, i, end)
            if cells.end_s[end - 1] - cells.start_s[i] >= _SHORTEST_S:
                servers[i:end] = [star] * (end - i)
        i = end
    return tuple(_stretches(serving, angle_deg, servers))


def _stretches(serving: Serving, angle_deg: float, servers: Sequence[int | None]) -> Iterator[Run]:
    """Join neighbouring cells that the same star serves, or none."""
    i = 0
    while i < len(servers):
        end = _stretch_end(serving, i, servers)
        star = servers[i]
        yield _gap(serving, angle_deg, i, end) if star is None else _served(serving, angle_deg, i, end, star)
        i = end


def _stretch_end(serving: Serving, i: int, state: Sequence[object]) -> int:
    """Return the cell after the last one like `i` without a break: same state, same window, same side."""
    parts, segment = serving.parts, serving.cells.segment

    def like(j: int) -> tuple[object, int, bool]:
        return state[j], int(parts.window[segment[j]]), bool(parts.flipped[segment[j]])

    end = i + 1
    while end < len(state) and like(end) == like(i):
        end += 1
    return end


def _longest_server(serving: Serving, usable: Sequence[Stars], i: int, end: int) -> tuple[int, int]:
    """Return the star of cell `i` that serves farthest, and the cell before which it stops."""

    def until(star: int) -> int:
        return next((j for j in range(i, end) if star not in usable[j]), end)

    g_mag = serving.ground.nearby.table.g_mag
    reached = {star: until(star) for star in usable[i]}
    best = min(reached, key=lambda star: (-reached[star], bool(serving.spoiled[star]), float(g_mag[star]), star))
    return best, reached[best]


def _served(serving: Serving, angle_deg: float, i: int, end: int, star: int) -> Run:
    table = serving.ground.nearby.table
    exposure_s = _shortest(serving, angle_deg, i, end, star)
    found = _run(
        serving,
        angle_deg,
        (i, end),
        star_id=table.names(star),
        g_mag=float(table.g_mag[star]),
        exposure_s=exposure_s,
    )
    return (
        found
        if exposure_s is None
        else replace(found, peak_fill=_fullest(serving, angle_deg, i, end, star, exposure_s))
    )


def _fullest(serving: Serving, angle_deg: float, i: int, end: int, star: int, exposure_s: float) -> float:
    """Return the most that a star fills its brightest pixel in some cells, share of the full well.

    Looked at where each cell begins and ends, through each quarter hour's air.
    """
    ground, segment = serving.ground, serving.cells.segment
    fills = []
    for part in np.unique(segment[i:end]):
        light = ground.under(float(serving.parts.airmass[part]), float(serving.parts.sky_v[part]), exposure_s).light
        assert light is not None
        cells = i + np.flatnonzero(segment[i:end] == part)
        offsets = np.concatenate((serving.cells.low_deg[cells], serving.cells.high_deg[cells]))
        x, y = _places_mm(ground, star, angle_deg + offsets)
        fills.append(float(np.max(peak_fill(ground.nearby.table.g_mag[star], light.throughput(x, y), light.setup))))
    return max(fills)


def _places_mm(ground: Ground, star: int, angles_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return where a star stands in the rig frame at camera angles, mm."""
    turns = -angles_deg if ground.rig.camera.mirrored else angles_deg
    direction = np.radians(ground.nearby.phase_deg[star] - turns)
    radius = ground.nearby.radius_mm[star]
    return radius * np.sin(direction), radius * np.cos(direction)


def _run(
    serving: Serving,
    angle_deg: float,
    between: tuple[int, int],
    *,
    star_id: str | None = None,
    g_mag: float | None = None,
    exposure_s: float | None = None,
    would_be_id: str | None = None,
) -> Run:
    first, last, cells = between[0], between[1] - 1, serving.cells
    return Run(
        start=moment_of(cells.start_s[first]),
        end=moment_of(cells.end_s[last]),
        side=serving.sides[cells.segment[first]],
        camera_angle_deg=float((angle_deg + cells.start_deg[first]) % 360.0),
        camera_angle_end_deg=float((angle_deg + cells.end_deg[last]) % 360.0),
        star_id=star_id,
        g_mag=g_mag,
        exposure_s=exposure_s,
        would_be_id=would_be_id,
    )


def _conditions(serving: Serving, i: int, end: int) -> list[tuple[float, float]]:
    """Return the airs and skies of some cells that decide: none of the others asks more."""
    parts = serving.parts
    which = np.unique(serving.cells.segment[i:end])
    keep = which[hardest(parts.airmass[which], parts.sky_v[which])]
    return [(float(parts.airmass[k]), float(parts.sky_v[k])) for k in keep]


def _all_hold(serving: Serving, angle_deg: float, i: int, end: int, exposure_s: float, star: int | None) -> bool:
    """Tell whether enough stars (with this one among them) serve in each of some cells under all their conditions."""
    wanted = serving.ground.rig.guiding.min_stars
    some = None if star is None or wanted > 1 else np.array([star])
    for airmass, sky_v in _conditions(serving, i, end):
        arcs = serving.ground.under(airmass, sky_v, exposure_s).star_arcs(some)
        for cell in range(i, end):
            stars = serving.usable_in(cell, angle_deg, arcs)
            if len(stars) < wanted or (star is not None and star not in stars):
                return False
    return True


def _shortest(serving: Serving, angle_deg: float, i: int, end: int, star: int) -> float | None:
    """Return the shortest usual exposure that holds through some cells, else the rig's; None without a light model."""
    if serving.ground.light is None:
        return None
    own = serving.ground.rig.guiding.exposure_s
    shorter = (exposure for exposure in USUAL_EXPOSURES_S if exposure < own)
    return next((e for e in shorter if _all_hold(serving, angle_deg, i, end, e, star)), own)


def _gap(serving: Serving, angle_deg: float, i: int, end: int) -> Run:
    """Return a stretch without a star, with the shortest usual exposure that would mend all of it, if one does."""
    ground = serving.ground
    if ground.light is not None:
        for exposure in USUAL_EXPOSURES_S:
            longer = exposure > ground.rig.guiding.exposure_s
            if longer and _all_hold(serving, angle_deg, i, end, exposure, None):
                name = _brightest(serving, angle_deg, i, exposure)
                return _run(serving, angle_deg, (i, end), exposure_s=exposure, would_be_id=name)
    return _run(serving, angle_deg, (i, end))


def _brightest(serving: Serving, angle_deg: float, cell: int, exposure_s: float) -> str:
    (airmass, sky_v), *_ = _conditions(serving, cell, cell + 1)
    arcs = serving.ground.under(airmass, sky_v, exposure_s).star_arcs()
    table = serving.ground.nearby.table
    star = min(serving.usable_in(cell, angle_deg, arcs), key=lambda one: float(table.g_mag[one]))
    return table.names(star)
