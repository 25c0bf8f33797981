"""Stars beyond the catalogue for the sweep: the star counts as a grid over the whole sky.

At a place the count model (`guidestar.stars.counts`) sums thousands of harmonics, which for every camera angle of every
target would take minutes. On a grid of declination and right ascension the sums fall apart: along a parallel each map
is a series in cos(mα) and sin(mα) whose coefficients depend on the declination alone. Between the grid's points, 0.3°
apart, the kernels draw cubics: what the maps hold is no finer than 0.8°, and ln N is met to 0.002.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from guidestar.field.expected import field_depth
from guidestar.maps.facts import SweepFacts
from guidestar.maps.kernel_counts import COS, SIN, Further
from guidestar.rig import Rig
from guidestar.sky import healpix, plane
from guidestar.stars import counted, counts
from guidestar.stars.counts import MAPS, SPOT_HEIGHTS, SPOT_PLACES, SPOTTED, SkyCounts, StarCounts, star_counts
from guidestar.stars.harmonics import harmonics

FloatArray = NDArray[np.float64]

_COLUMNS = 1200
_ANGLES = 12
_SPOT_REACH = 6.0
"""Standard deviations to which a spot is added; beyond them 1e-8 of its height is left."""

NOT_COUNTED = 65535


def nothing_further() -> Further:
    """Return what stands in where no estimate is wanted."""
    return Further(
        grid=np.zeros((7, 7, 1), np.float32),
        step=1.0,
        reach=np.zeros((1, 4)),
        by_angle=np.zeros((_ANGLES, 3)),
        disc=0.0,
        disc_deg2=1.0,
        tangent=0.0,
        factor=np.zeros((0, 0)),
        pixel=np.zeros((0, 0), np.int64),
    )


def further_of(facts: SweepFacts, complete_to_mag: float, known: SkyCounts) -> tuple[Further, FloatArray]:
    """Return what the estimate needs for a rig, but for the grid, and its reaches from bright to faint, G, (k,)."""
    model = star_counts()
    depth = field_depth(facts.rig, facts.field, facts.light)
    deeper = depth.reach_mag > complete_to_mag
    area_deg2, reach_mag = depth.area_deg2[deeper], depth.reach_mag[deeper]
    asked = np.append(reach_mag, complete_to_mag)
    magnitudes = np.clip(asked, counts.BRIGHTEST_G_MAG, counts.FAINTEST_G_MAG)
    focal = facts.rig.telescope.focal_length_mm
    within = math.atan((facts.field.outer_mm + facts.accepts.accuracy_mm) / focal)
    further = Further(
        grid=np.empty((0, 0, len(MAPS)), np.float32),
        step=2.0 * math.pi / _COLUMNS,
        reach=np.column_stack(
            (model.base(magnitudes), np.append(area_deg2, 0.0), np.zeros(len(magnitudes)), _weights(magnitudes))
        ),
        by_angle=_centre_angles(facts.rig),
        disc=within,
        disc_deg2=2.0 * math.pi * (1.0 - math.cos(within)) * math.degrees(1.0) ** 2,
        tangent=facts.field.centre_mm / focal,
        factor=_factors(known, model, asked),
        pixel=np.zeros((0, 0), np.int64),
    )
    return further, reach_mag


def _factors(known: SkyCounts, model: StarCounts, g_mag: FloatArray) -> FloatArray:
    """Return by what the model is to be multiplied in each pixel of the counting, (pixels, k); (0, 0) for nothing.

    In a pixel the counts are the model times a factor, so that one place, its middle, tells it.
    """
    if known is model:
        return np.zeros((0, 0))
    middles = healpix.pixel_centres(np.arange(healpix.pixel_count(counted.ORDER)), counted.ORDER)
    return known.at(*middles).per_deg2(g_mag) / model.at(*middles).per_deg2(g_mag)


def with_pixels(further: Further, ra: FloatArray, dec: FloatArray) -> Further:
    """Return the same for some targets (radians), with arrays to work in of its own, as every thread needs them."""
    own = further._replace(reach=further.reach.copy(), by_angle=further.by_angle.copy())
    if not len(further.factor):
        return own
    cosine, sine = further.by_angle[:, COS], further.by_angle[:, SIN]
    centres = plane.from_plane(
        further.tangent * sine, further.tangent * cosine, np.degrees(ra)[:, None], np.degrees(dec)[:, None]
    )
    return own._replace(pixel=healpix.pixel_of(*centres, counted.ORDER))


def _centre_angles(rig: Rig) -> FloatArray:
    """Return cos and sin of the guide field's position angle at camera angles round the circle, and room for stars."""
    side = math.radians(-rig.prism.side_deg if rig.camera.mirrored else rig.prism.side_deg)
    theta = np.arange(_ANGLES) * 2.0 * np.pi / _ANGLES + side
    return np.column_stack((np.cos(theta), np.sin(theta), np.zeros(_ANGLES)))


def steps_of(g_mag: FloatArray, reach_mag: FloatArray, complete_to_mag: float) -> NDArray[np.uint16]:
    """Return from which reach on each star is among the listed ones that count; `NOT_COUNTED` if never."""
    step = np.searchsorted(reach_mag, g_mag, side="left")
    return np.where((g_mag > complete_to_mag) & (step < len(reach_mag)), step, NOT_COUNTED).astype(np.uint16)


def _weights(g_mag: FloatArray) -> FloatArray:
    """Return by how much each map raises ln N at magnitudes, shape (k, maps): the model is linear in its maps."""
    columns = []
    for raised in MAPS:
        unit = {name: np.array([1.0 if name == raised else 0.0]) for name in MAPS}
        columns.append(counts.deviation(unit, g_mag)[0])
    return np.ascontiguousarray(np.array(columns).T)


@cache
def usual_grid() -> NDArray[np.float32]:
    """Return the grid of the built-in model, made once for all rigs of a comparison; not to be written to."""
    return grid_of_maps(star_counts())


def grid_of_maps(model: StarCounts) -> NDArray[np.float32]:
    """Return the model's maps on a grid from pole to pole, two rows and columns more on every side.

    Shape (rows + 4, columns + 4, maps): row 2 is the south pole, column 2 right ascension 0.
    """
    dec_deg = np.linspace(-90.0, 90.0, _COLUMNS // 2 + 1)
    degree = max(math.isqrt(len(model.arrays[name])) for name in MAPS) - 1
    along = harmonics(np.zeros(len(dec_deg)), dec_deg, degree)  # at 0 h: the cosine terms' own size
    maps = np.stack([_on_parallels(model.arrays[name], along) for name in MAPS], axis=-1)
    _add_spots(maps, model, dec_deg)
    over_pole = np.roll(maps, _COLUMNS // 2, axis=1)
    tall = np.concatenate((over_pole[2:0:-1], maps, over_pole[-2:-4:-1]))
    return np.ascontiguousarray(np.concatenate((tall[:, -2:], tall, tall[:, :2]), axis=1), dtype=np.float32)


def _on_parallels(coefficients: NDArray[Any], along: FloatArray) -> FloatArray:
    """Return a sum of harmonics on parallels, shape (parallels, columns), from all harmonics there at 0 h."""
    degree = math.isqrt(len(coefficients)) - 1
    cosines, sines = np.zeros((len(along), degree + 1)), np.zeros((len(along), degree + 1))
    for order in range(degree + 1):
        middles = np.arange(order, degree + 1) ** 2 + np.arange(order, degree + 1)
        legendre = along[:, middles + order]
        cosines[:, order] = legendre @ coefficients[middles + order]
        sines[:, order] = legendre @ coefficients[middles - order]
    turn = np.outer(np.arange(degree + 1), np.arange(_COLUMNS) * 2.0 * np.pi / _COLUMNS)
    sines[:, 0] = 0.0
    return np.asarray(cosines @ np.cos(turn) + sines @ np.sin(turn))


def _add_spots(maps: FloatArray, model: StarCounts, dec_deg: FloatArray) -> None:
    """Add the model's round spots, in place, each where something of it is left."""
    spots, heights = model.arrays[SPOT_PLACES].astype(np.float64), model.arrays[SPOT_HEIGHTS]
    which = np.array([MAPS.index(name) for name in SPOTTED])
    reach_deg = _SPOT_REACH * counts.SPOT_SIGMA_DEG
    ra_deg = np.arange(_COLUMNS) * 360.0 / _COLUMNS
    for place, height in zip(spots, heights, strict=True):
        rows = np.flatnonzero(np.abs(dec_deg - place[1]) <= reach_deg)
        steepest = max(min(abs(place[1]) + reach_deg, 90.0), 0.0)
        width = reach_deg / max(math.cos(math.radians(steepest)), 1e-9)
        columns = np.flatnonzero(np.abs(np.remainder(ra_deg - place[0] + 180.0, 360.0) - 180.0) <= width)
        ra, dec = (axis.ravel() for axis in np.meshgrid(ra_deg[columns], dec_deg[rows]))
        shape = counts.spot_shapes(place[None, :], ra, dec).reshape(len(rows), len(columns))
        maps[np.ix_(rows, columns, which)] += shape[..., None] * height
