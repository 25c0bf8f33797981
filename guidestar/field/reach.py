"""`reach`: how faint the guide camera goes across its field, with which exposure, and what would help."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from guidestar.errors import InputError
from guidestar.field import geometry
from guidestar.field.light import RigLight, rig_light
from guidestar.field.reach_points import (
    Place,
    PointReach,
    SpotReach,
    StarFigures,
    finite,
    point_reach,
    spot_reach,
    star_figures,
    usual_places,
)
from guidestar.field.remedies import Remedy, remedies
from guidestar.rig import Rig
from guidestar.signal.saturation import saturation_mag
from guidestar.signal.scintillation import scintillation_osborn
from guidestar.signal.seeing import image_motion_arcsec
from guidestar.signal.setup import GuideSetup

EXPOSURES_S: Final = (0.5, 1.0, 2.0, 4.0, 8.0)
"""Guide exposures of the table, each twice the one before (common practice, no source)."""

FULLY_LIT: Final = 0.999
HALF_LIT: Final = 0.5
"""A point counts as fully lit from T = 0.999 on, as half lit from T = 0.5 on."""

_CELLS: Final = 400
"""Cells along each side of the sensor for the lit shares: a straight border right across is off by 1/800 at worst."""


@dataclass(frozen=True)
class Figures:
    """What one exposure gives at one point.

    `saturation_mag`: brighter stars fill their brightest pixel; None if none does, or if the sky alone does.
    """

    point: PointReach
    stars: tuple[StarFigures, ...]
    saturation_mag: float | None


@dataclass(frozen=True)
class LitShares:
    """Shares of the sensor's area, adding up to 1: T ≥ 0.999, 0.5 ≤ T < 0.999, T < 0.5."""

    full: float
    half: float
    less: float


@dataclass(frozen=True)
class ReachResult:
    """The whole answer to `reach` for one rig; exposure, airmass and sky are the rig's own.

    `points`: the centre, four edge midpoints and four corners, or the one that was given; `given` its figures.
    `image_motion_arcsec`: rms of the air's own motion along one axis from exposure to exposure, an upper estimate.
    `scintillation`: rms relative flicker. A fixed `guiding.faintest_mag` of the rig plays no part here.
    """

    rig: Rig
    centre: Figures
    given: Figures | None
    points: tuple[PointReach, ...]
    lit: LitShares
    exposures: tuple[SpotReach, ...]
    remedies: tuple[Remedy, ...]
    image_motion_arcsec: float
    scintillation: float
    warnings: tuple[str, ...]


def reach(rig: Rig, at_mm: tuple[float, float] | None = None) -> ReachResult:
    """Return how faint the guide camera goes across its field.

    Parameters
    ----------
    rig : Rig
        Its `guiding.faintest_mag` is passed over.
    at_mm : (x, y), optional
        One point of the focal plane, rig frame, mm, to tell of instead of the usual nine: on the guide sensor, or
        off it where the prism still sends light.

    Raises
    ------
    InputError
        No light reaches the guide camera, the point is no place, or it is off the guide sensor and dark.
    """
    light = rig_light(rig)
    places = usual_places(light, geometry.centre_mm(rig))
    given: list[Place] = [] if at_mm is None else [("given", *_require_place(at_mm))]
    points = tuple(point_reach(light, place) for place in (given or places))
    if given:
        _require_light(rig, points[0])
    exposures = [light.with_exposure(exposure) for exposure in EXPOSURES_S]
    return ReachResult(
        rig=rig,
        centre=figures(light, places[0], rig),
        given=figures(light, given[0], rig) if given else None,
        points=points,
        lit=lit_shares(light),
        exposures=tuple(spot_reach(longer, places + given) for longer in exposures),
        remedies=remedies(rig),
        image_motion_arcsec=image_motion_arcsec(light.setup),
        scintillation=_scintillation(rig, light.setup),
        warnings=(*rig.warnings, *undersampled_warnings(light.setup)),
    )


def figures(light: RigLight, place: Place, rig: Rig) -> Figures:
    """Return everything that is told of one point."""
    point = point_reach(light, place)
    return Figures(
        point=point,
        stars=star_figures(point.throughput, light.setup, rig),
        saturation_mag=finite(saturation_mag(point.throughput, light.setup)),
    )


def lit_shares(light: RigLight) -> LitShares:
    """Return how much of the sensor less its margin is fully, half or more, and less than half lit, by area."""
    middles = (np.arange(_CELLS) + 0.5) / _CELLS
    along, across = (axis.ravel() for axis in np.meshgrid(middles, middles))
    # The outline is a rectangle: the two edges that meet at its first corner span it.
    corner, second, last = light.outline_mm[0], light.outline_mm[1], light.outline_mm[-1]
    x, y = (corner[i] + along * (second[i] - corner[i]) + across * (last[i] - corner[i]) for i in (0, 1))
    lit = light.transmission(x, y)
    full, half = float(np.mean(lit >= FULLY_LIT)), float(np.mean(lit >= HALF_LIT))
    return LitShares(full=full, half=half - full, less=1.0 - half)


def undersampled_warnings(setup: GuideSetup) -> tuple[str, ...]:
    """Return the sentence about star images that are too small for their pixels, if they are."""
    if not setup.undersampled:
        return ()
    return (
        f"Star images {setup.fwhm_at_airmass_arcsec:.1f}″ wide on pixels of {setup.binned_pixel_arcsec:.1f}″ put most "
        "of a star into one pixel: where in the pixel it stands then decides, and the centroid errors given are too "
        "hopeful.",
    )


def _scintillation(rig: Rig, setup: GuideSetup) -> float:
    elevation_m = 0.0 if rig.site is None else rig.site.elevation_m
    return scintillation_osborn(setup.aperture_mm, setup.airmass, setup.exposure_s, elevation_m)


def _require_light(rig: Rig, point: PointReach) -> None:
    """Refuse a point that has nothing to do with the guide field: off the sensor and without any light of the prism."""
    if point.on_sensor or point.throughput > 0:
        return
    low, high = geometry.sensor_polygon(rig).min(axis=0), geometry.sensor_polygon(rig).max(axis=0)
    raise InputError(
        f"--at {point.x_mm:g},{point.y_mm:g}: the prism sends no light there, so there is no guide field; the guide "
        f"sensor reaches from {_mm(low[0])} to {_mm(high[0])} mm along the frame's edge and from {_mm(low[1])} to "
        f"{_mm(high[1])} mm outward from the axis."
    )


def _mm(length: float) -> str:
    return f"{length:.1f}".replace("-", "−")


def _require_place(at_mm: tuple[float, float]) -> tuple[float, float]:
    x, y = (float(value) for value in at_mm)
    if math.isfinite(x) and math.isfinite(y):
        return x, y
    raise InputError(
        f"--at {x:g},{y:g}: give two numbers in mm, along the edge of the frame and outward from the axis."
    )
