"""Compiled: stars to expect beyond the catalogue, as `guidestar.field.expected` reckons them, target by target."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.kernels import TURN, compiled, inlined
from guidestar.angles.kernels_circle import GAP_END, GAP_START, MISSING
from guidestar.maps.kernel_field import Frame, Vector

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

BASE, AREA, LISTED, FIRST_WEIGHT = range(4)
"""Columns of `Further.reach`: ln N where all maps are 0; square degrees of the guide field that reach so deep; to work
in, how many listed stars lie around the target; how much each map raises ln N."""

COS, SIN, STARS = range(3)
"""Columns of `Further.by_angle`: of the position angle of the guide field's centre at equally spaced camera angles from
0 on; to work in, the mean number of further stars there."""


class Further(NamedTuple):
    """What the estimate needs.

    `grid` (rows, columns, maps): the maps of the star counts from south to north pole, `step` radians apart, two rows
    and columns more on every side. `reach` (k + 1, …): by reach from bright to faint, and last the magnitude to which
    the catalogue is complete. `by_angle` (a, 3). `disc`: radius, radians, around a target within which listed stars are
    counted, `disc_deg2` its area. `tangent`: of the field centre's distance. Where stars were counted, `factor`
    (pixels, k + 1) is what the model is multiplied by, and `pixel` (targets, a) its row for the field's centre; else
    both are empty.
    """

    grid: NDArray[np.float32]
    step: float
    reach: FloatArray
    by_angle: FloatArray
    disc: float
    disc_deg2: float
    tangent: float
    factor: FloatArray
    pixel: IntArray


@compiled
def listed_in_disc(
    reach: FloatArray,
    vectors: FloatArray,
    steps: NDArray[np.uint16],
    starts: NDArray[np.int32],
    ranges: IntArray,
    number: int,
    towards: Vector,
    cosine: float,
) -> None:
    """Enter how many listed stars around a target each reach holds."""
    last = reach.shape[0] - 1
    reach[:, LISTED] = 0.0
    x, y, z = towards
    for layer in range(starts.shape[0]):
        for r in range(number):
            for i in range(starts[layer, ranges[r, 0]], starts[layer, ranges[r, 1]]):
                inside = vectors[i, 0] * x + vectors[i, 1] * y + vectors[i, 2] * z >= cosine
                reach[min(np.int64(steps[i]), last), LISTED] += inside
    for k in range(1, last):
        reach[k, LISTED] += reach[k - 1, LISTED]


@inlined
def cubic(share: float) -> tuple[float, float, float, float]:
    """Return the four weights of a cubic through equally spaced points, at `share` of the way from the second on."""
    s = share
    return (
        -s * (s - 1.0) * (s - 2.0) / 6.0,
        (s + 1.0) * (s - 1.0) * (s - 2.0) / 2.0,
        -(s + 1.0) * s * (s - 2.0) / 2.0,
        (s + 1.0) * s * (s - 1.0) / 6.0,
    )


@inlined
def maps_at(grid: NDArray[np.float32], step: float, x: float, y: float, z: float, maps: FloatArray) -> None:
    """Fill `maps` with the maps in the direction of a vector."""
    down = math.atan2(z, math.sqrt(x * x + y * y)) + math.pi / 2
    along = math.atan2(y, x)
    if along < 0.0:
        along += TURN
    row = min(int(down / step), grid.shape[0] - 6)
    column = min(int(along / step), grid.shape[1] - 5)
    in_row, in_column = cubic(down / step - row), cubic(along / step - column)
    maps[:] = 0.0
    for i in range(4):
        for j in range(4):
            weight = in_row[i] * in_column[j]
            for m in range(maps.shape[0]):
                maps[m] += weight * grid[row + 1 + i, column + 1 + j, m]


@compiled
def stars_by_angle(further: Further, target: int, frame: Frame) -> None:
    """Enter the mean number of further stars at the camera angles, after `listed_in_disc`."""
    reach, by_angle = further.reach, further.by_angle
    t, e, n = frame
    last = reach.shape[0] - 1
    maps = np.empty(reach.shape[1] - FIRST_WEIGHT)
    for a in range(by_angle.shape[0]):
        east, north = further.tangent * by_angle[a, SIN], further.tangent * by_angle[a, COS]
        x, y = t[0] + east * e[0] + north * n[0], t[1] + east * e[1] + north * n[1]
        maps_at(further.grid, further.step, x, y, t[2] + east * e[2] + north * n[2], maps)
        counted = further.pixel.shape[0] > 0
        pixel = further.pixel[target, a] if counted else 0
        complete = density(reach, last, maps) * (further.factor[pixel, last] if counted else 1.0)
        mean = 0.0
        for k in range(last):
            if reach[k, AREA] > 0.0:
                here = density(reach, k, maps) * (further.factor[pixel, k] if counted else 1.0)
                more = here - complete - reach[k, LISTED] / further.disc_deg2
                mean += max(more, 0.0) * reach[k, AREA]
        by_angle[a, STARS] = mean


@inlined
def density(reach: FloatArray, k: int, maps: FloatArray) -> float:
    """Return the stars a square degree at a reach."""
    log = reach[k, BASE]
    for m in range(maps.shape[0]):
        log += reach[k, FIRST_WEIGHT + m] * maps[m]
    return math.exp(log)


@inlined
def at_least(count: int, mean: float) -> float:
    """Return the chance of at least `count` stars where their mean number is `mean` (Poisson)."""
    fewer, term = 0.0, 1.0
    for i in range(count):
        fewer += term
        term *= mean / (i + 1)
    return min(max(1.0 - math.exp(-mean) * fewer, 0.0), 1.0)


_NODES = (0.5 - math.sqrt(0.15), 0.5, 0.5 + math.sqrt(0.15))
_WEIGHTS = (5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0)
"""Gauss–Legendre, three points, on 0 … 1."""


@compiled
def chance_in_gaps(by_angle: FloatArray, mirrored: bool, arcs: FloatArray, marks: IntArray, gaps: int) -> float:
    """Return the chance of enough further stars, summed over the turns that lack some, radians.

    The mean number runs in a straight line between two camera angles of the table, so from one to the next the chance
    is smooth: three points of Gauss each.
    """
    number, chance = by_angle.shape[0], 0.0
    for gap in range(gaps):
        low, high = arcs[GAP_START, gap], arcs[GAP_END, gap]
        if mirrored:
            low, high = TURN - high, TURN - low
        node = int(low / TURN * number)
        while low < high:
            end = min((node + 1) * TURN / number, high)
            here, there = by_angle[node % number, STARS], by_angle[(node + 1) % number, STARS]
            if end > low:
                for i in range(3):
                    share = (low + _NODES[i] * (end - low)) / TURN * number - node
                    mean = here + (there - here) * share
                    chance += at_least(marks[MISSING, gap], mean) * _WEIGHTS[i] * (end - low)
            low, node = max(low, end), node + 1
    return chance
