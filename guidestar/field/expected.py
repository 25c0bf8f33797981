"""Stars that the catalogue does not list: how many to expect on the guide camera, and what they may add.

An estimate from star counts (`guidestar.stars.counts`), kept apart from the confirmed stars everywhere. At a point of
the guide field that reaches the magnitude m the density of further stars is

    max(N(<m) − N(<c) − L(m), 0)

with N the counts there, c the magnitude to which the catalogue is complete, and L the density of the stars between
c and m that it lists all the same: those are confirmed stars already, counted around this target. Its integral over the
guide field is λ, by camera angle, because the sky's density differs from side to side of the target. The number of
further stars at an angle is taken as Poisson-distributed about λ; stars come in clusters, so that the chance of at
least one is a little flattering.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.angles import circular
from guidestar.field.acceptance import Acceptance
from guidestar.field.light import RigLight
from guidestar.field.nearby import NearbyStars
from guidestar.field.result import Expected, ExpectedAtAngle, GuideField
from guidestar.field.settings import Sweep
from guidestar.rig import Rig
from guidestar.signal import snr
from guidestar.sky import plane
from guidestar.sky.place import Place
from guidestar.stars.counts import CountsAt, counts_for
from guidestar.stars.source import StarSource

FloatArray = NDArray[np.float64]

_DEG2_PER_STERADIAN = math.degrees(1.0) ** 2

_CELLS = 40
"""The guide sensor is cut into this many cells each way; the reach of a cell is that of its middle."""

_REACH_STEP_MAG = 0.02
"""Cells whose reach lies within the same step are counted together."""

_ANGLES = 12
"""Camera angles at which the counts are looked up; between them λ is interpolated (the counts are smooth over 2°)."""

_STEP_DEG = 1.0


@dataclass(frozen=True)
class FieldDepth:
    """How much of the sky on the guide sensor is reached how deep: square degrees and magnitudes, shape (k,)."""

    area_deg2: FloatArray
    reach_mag: FloatArray


def field_depth(rig: Rig, field: GuideField, light: RigLight | None) -> FieldDepth:
    """Return the guide field's areas by reach; with a fixed limit (no light) the whole field at that limit."""
    focal = rig.telescope.focal_length_mm
    if light is None:
        if rig.guiding.faintest_mag is None:
            raise ValueError("a rig without guiding.faintest_mag needs its light")
        x, y, cell_mm2 = _middles_of_triangles(field.outline_mm)
        reach = np.full(len(x), rig.guiding.faintest_mag)
    else:
        x, y, cell_mm2 = _cells(field.outline_mm)
        reach = snr.faintest_mag(light.throughput(x, y), light.setup)
    area = cell_mm2 / focal**2 * (1.0 + (x**2 + y**2) / focal**2) ** -1.5 * _DEG2_PER_STERADIAN
    return _by_reach(area, reach)


def _cells(rectangle_mm: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the middles of equal cells of a rectangle given by its corners in order, and their areas, mm²."""
    origin, one, other = rectangle_mm[0], rectangle_mm[1] - rectangle_mm[0], rectangle_mm[3] - rectangle_mm[0]
    share = (np.arange(_CELLS) + 0.5) / _CELLS
    s, t = (axis.ravel() for axis in np.meshgrid(share, share))
    whole = abs(one[0] * other[1] - one[1] * other[0])
    x, y = (origin[i] + s * one[i] + t * other[i] for i in (0, 1))
    return x, y, np.full(len(x), whole / len(x))


def _middles_of_triangles(polygon_mm: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the centroids of the triangles that a convex polygon falls into, and their areas, mm²."""
    first, second, third = polygon_mm[0], polygon_mm[1:-1], polygon_mm[2:]
    a, b = second - first, third - first
    middle = (first + second + third) / 3.0
    return middle[:, 0], middle[:, 1], np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2.0


def _by_reach(area_deg2: FloatArray, reach_mag: FloatArray) -> FieldDepth:
    """Join the cells whose reach is about the same; those that reach nothing are left out."""
    lit = np.isfinite(reach_mag)
    steps, which = np.unique(np.round(reach_mag[lit] / _REACH_STEP_MAG), return_inverse=True)
    area: FloatArray = np.bincount(which, weights=area_deg2[lit], minlength=len(steps)).astype(np.float64)
    weighted = np.bincount(which, weights=area_deg2[lit] * reach_mag[lit], minlength=len(steps))
    return FieldDepth(area, weighted / np.where(area > 0, area, 1.0))


@dataclass(frozen=True)
class _Listed:
    """Stars beyond its completeness that the catalogue lists around the target: magnitudes in order, per area."""

    g_mag: FloatArray
    area_deg2: float

    def per_deg2(self, g_mag: FloatArray) -> FloatArray:
        """Return L, stars per square degree down to magnitudes."""
        return np.searchsorted(self.g_mag, g_mag, side="right") / self.area_deg2

    def error_per_deg2(self, g_mag: FloatArray) -> FloatArray:
        """Return the standard error of L: these stars are a sample too; √(n + 1), for none may be chance as well."""
        number = np.searchsorted(self.g_mag, g_mag, side="right")
        return np.asarray(np.sqrt(number + 1.0) / self.area_deg2, dtype=np.float64)

    def on_field(self, depth: FieldDepth) -> float:
        """Return the mean number of them in the guide field within its reach."""
        return float(self.per_deg2(depth.reach_mag) @ depth.area_deg2)


@dataclass(frozen=True)
class _ByAngle:
    """λ and its standard error, stars, at a few camera angles around the circle; shape (k,) each."""

    angle_deg: FloatArray
    stars: FloatArray
    error: FloatArray


def _listed(nearby: NearbyStars, complete_to_mag: float, within_mm: float, focal_length_mm: float) -> _Listed:
    magnitudes = nearby.table.g_mag[nearby.radius_mm <= within_mm]
    radius = math.atan(within_mm / focal_length_mm)
    area = 2.0 * math.pi * (1.0 - math.cos(radius)) * _DEG2_PER_STERADIAN
    return _Listed(np.sort(magnitudes[magnitudes > complete_to_mag]), area)


def expected(place: Place, swept: Sweep, source: StarSource, field: GuideField, accepts: Acceptance) -> Expected | None:
    """Estimate the stars that the catalogue does not list, and what share of the circle they may make usable.

    Returns
    -------
    Expected or None
        None where the guide field reaches no deeper than the catalogue is complete, so that nothing is missing.

    Raises
    ------
    DataError
        The star counts are missing or damaged.
    """
    complete = source.complete_to_mag
    if accepts.faintest_mag <= complete:
        return None
    rig = swept.rig
    depth = field_depth(rig, field, swept.light)
    within_mm = field.outer_mm + accepts.accuracy_mm
    listed = _listed(swept.nearby, complete, within_mm, rig.telescope.focal_length_mm)
    angles = np.arange(_ANGLES) * 360.0 / _ANGLES
    counts = counts_for(source)
    here = counts.at(*_places(place, rig, field, angles))
    stars, error = _further(depth, here, listed, complete)
    by_angle = _ByAngle(angles, stars, error)
    per_deg2 = float(np.mean(here.per_deg2(accepts.faintest_mag)))
    found = _joined(swept, by_angle, per_deg2, listed.on_field(depth))
    return replace(found, counts=counts.described(place.ra_deg, place.dec_deg))


def _places(place: Place, rig: Rig, field: GuideField, angle_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return where on the sky the guide field's centre lies at camera angles: at PA φ + β, mirrored φ − β."""
    side = -rig.prism.side_deg if rig.camera.mirrored else rig.prism.side_deg
    theta = np.radians(angle_deg + side)
    tangent = field.centre_mm / rig.telescope.focal_length_mm
    return plane.from_plane(tangent * np.sin(theta), tangent * np.cos(theta), place.ra_deg, place.dec_deg)


def _further(
    depth: FieldDepth, here: CountsAt, listed: _Listed, complete_to_mag: float
) -> tuple[FloatArray, FloatArray]:
    """Return λ at each angle and its standard error, stars, shape (angles,)."""
    whole = here.per_deg2(depth.reach_mag)
    known = here.per_deg2(complete_to_mag)[:, None] + listed.per_deg2(depth.reach_mag)
    deeper = depth.reach_mag > complete_to_mag
    stars = np.maximum(whole - known, 0.0)[:, deeper] @ depth.area_deg2[deeper]
    of_counts = (whole * here.relative_error(depth.reach_mag))[:, deeper] @ depth.area_deg2[deeper]
    of_listed = listed.error_per_deg2(depth.reach_mag)[deeper] @ depth.area_deg2[deeper]
    return stars, np.hypot(of_counts, of_listed)


def at_least(count: ArrayLike, stars: ArrayLike) -> FloatArray:
    """Return the chance that a Poisson-distributed number about λ = `stars` is at least `count` (1: 1 − exp(−λ))."""
    mean = np.asarray(stars, dtype=np.float64)
    wanted = int(np.max(count))
    if wanted <= 0:
        return np.ones_like(mean)
    fewer = sum((mean**i / math.factorial(i) for i in range(1, wanted)), np.zeros_like(mean))
    return np.clip(-np.expm1(-mean) - np.exp(-mean) * fewer, 0.0, 1.0)


def _joined(swept: Sweep, further: _ByAngle, per_deg2: float, listed: float) -> Expected:
    angles, stars = further.angle_deg, further.stars
    fraction, low, high = (
        fraction_with(swept, angles, np.maximum(stars + share * further.error, 0.0)) for share in (0.0, -1.0, 1.0)
    )
    chances = at_least(swept.rig.guiding.min_stars, stars)
    return Expected(
        stars=float(np.mean(stars)),
        stars_error=float(np.mean(further.error)),
        listed=listed,
        chance=float(np.mean(chances)),
        per_deg2=per_deg2,
        fraction=fraction,
        fraction_low=low,
        fraction_high=high,
        by_angle=tuple(
            ExpectedAtAngle(float(angle), float(number), float(chance))
            for angle, number, chance in zip(angles, stars, chances, strict=True)
        ),
    )


def fraction_with(swept: Sweep, angle_deg: FloatArray, stars: FloatArray) -> float:
    """Return the share of the circle that is confirmed, plus the mean chance of the rest.

    Where j of the m stars wanted are confirmed, the chance is that of at least m − j further ones.
    """
    total = circular.total_deg(swept.usable)
    for missing, arcs in _wanting(swept):
        width = arcs[:, 1] - arcs[:, 0]
        pieces = np.maximum(np.ceil(width / _STEP_DEG), 1).astype(int)
        owner = np.repeat(np.arange(len(arcs)), pieces)
        index = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
        middle = arcs[owner, 0] + (index + 0.5) * width[owner] / pieces[owner]
        there = np.interp(middle, angle_deg, stars, period=360.0)
        total += float(np.sum(at_least(missing, there) * width[owner] / pieces[owner]))
    return min(total / 360.0, 1.0)


def _wanting(swept: Sweep) -> Iterator[tuple[int, FloatArray]]:
    """Return, for each number of stars that may be missing, the set of camera angles that lack just as many."""
    covered = circular.FULL_CIRCLE
    for confirmed in range(swept.rig.guiding.min_stars):
        more = circular.at_least(swept.arcs, confirmed + 1)
        yield swept.rig.guiding.min_stars - confirmed, circular.difference(covered, more)
        covered = more
