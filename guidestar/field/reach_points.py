"""How faint the guide camera goes at single points of its field, and what holds it back there.

Points are in the rig frame, mm in the focal plane (x along the tangent, y radially outward). T is the prism's
transmission, geometry alone; V the telescope's vignetting; the reach follows from τ = T·V. The sensor is the guide
sensor less `guiding.edge_margin_mm`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, cast

import numpy as np
from numpy.typing import NDArray

from guidestar.field.light import RigLight
from guidestar.rig import Rig
from guidestar.signal import noise, snr
from guidestar.signal.centroid import centroid_error_arcsec, in_main_pixels
from guidestar.signal.setup import GuideSetup

FloatArray = NDArray[np.float64]
Wish = Literal["snr", "peak", "no light"]
NoiseSource = Literal["photons", "sky", "dark", "read noise"]
Spot = Literal["centre", "edge", "corner", "given"]
Place = tuple[Spot, float, float]

STAR_MAGS: Final = (10.0, 12.0, 14.0)
"""G of the stars whose SNR and centroid error are told."""


@dataclass(frozen=True)
class PointReach:
    """The reach at one point of the focal plane.

    `faintest_mag` (G) is None where no light comes. `limited_by`: the wish that fails first, the whole star's SNR or
    that of its brightest pixel. `noise`: what makes most of the noise that this wish is held against. `lost_mag`: how
    much fainter the reach would be if the whole beam arrived; None where nothing does. `on_sensor`: whether the point
    is on the guide sensor less the margin.
    """

    spot: Spot
    x_mm: float
    y_mm: float
    transmission: float
    vignetting: float
    faintest_mag: float | None
    limited_by: Wish
    noise: NoiseSource | None
    lost_mag: float | None
    on_sensor: bool

    @property
    def throughput(self) -> float:
        """τ = T·V, 0 to 1."""
        return self.transmission * self.vignetting


@dataclass(frozen=True)
class StarFigures:
    """What one exposure gives of a star of magnitude G.

    `centroid_arcsec` and, in pixels of the main camera, `centroid_main_px`: expected error of its place along one axis
    from the light alone; None where no light comes.
    """

    g_mag: float
    snr: float
    centroid_arcsec: float | None
    centroid_main_px: float | None


@dataclass(frozen=True)
class SpotReach:
    """Faintest G at the centre, at the worst edge midpoint, at the worst corner, at the given point if there is one.

    `half`: what at least half of the sensor's area reaches. None where no light comes.
    """

    exposure_s: float
    centre: float | None
    half: float | None
    edge: float | None
    corner: float | None
    given: float | None


def usual_places(light: RigLight, centre_mm: float) -> list[Place]:
    """Return the centre, the four edge midpoints and the four corners of the sensor less its margin."""
    corners = light.outline_mm
    middles = (corners + np.roll(corners, -1, axis=0)) / 2
    return [
        ("centre", 0.0, centre_mm),
        *(("edge", float(x), float(y)) for x, y in middles),
        *(("corner", float(x), float(y)) for x, y in corners),
    ]


def point_reach(light: RigLight, place: Place) -> PointReach:
    """Return the reach at one point, on the sensor or off it."""
    spot, x_mm, y_mm = place
    transmission = float(light.transmission(np.array([x_mm]), np.array([y_mm]))[0])
    vignetting = float(light.vignetting(np.array([math.hypot(x_mm, y_mm)]))[0])
    throughput = transmission * vignetting
    found = snr.reach(throughput, light.setup)
    faintest, wish = finite(found.faintest_mag), cast(Wish, str(found.limited_by))
    unhindered = float(snr.faintest_mag(1.0, light.setup))
    planes = light.sensor.sensor
    return PointReach(
        spot=spot,
        x_mm=x_mm,
        y_mm=y_mm,
        transmission=transmission,
        vignetting=vignetting,
        faintest_mag=faintest,
        limited_by=wish,
        noise=None if faintest is None else main_noise(wish, faintest, throughput, light.setup),
        lost_mag=None if faintest is None else max(unhindered - faintest, 0.0),
        on_sensor=bool(np.all(planes[:, 0] * x_mm + planes[:, 1] * y_mm <= planes[:, 2] + 1e-9)),
    )


def main_noise(wish: Wish, g_mag: float, throughput: float, setup: GuideSetup) -> NoiseSource:
    """Return what makes most of the noise of a star: in its whole image, or (wish "peak") in one pixel beside it."""
    if wish == "peak":
        parts: dict[NoiseSource, float] = {
            "sky": throughput * noise.sky_e_per_px(setup),
            "dark": noise.dark_e_per_px(setup),
            "read noise": noise.read_variance_e2_per_px(setup),
        }
    else:
        budget = noise.noise_budget(g_mag, throughput, setup)
        parts = {"photons": budget.star_e2, "sky": budget.sky_e2, "dark": budget.dark_e2, "read noise": budget.read_e2}
    return max(parts, key=lambda name: parts[name])


def star_figures(throughput: float, setup: GuideSetup, rig: Rig) -> tuple[StarFigures, ...]:
    """Return SNR and centroid error of stars of G 10, 12 and 14; main pixels are those of the rig's main camera."""
    magnitudes = np.array(STAR_MAGS)
    ratios = snr.snr(magnitudes, throughput, setup)
    errors = centroid_error_arcsec(magnitudes, throughput, setup)
    pixels = in_main_pixels(errors, rig.telescope.focal_length_mm, rig.camera.pixel_um)
    return tuple(
        StarFigures(float(g), float(ratio), finite(error), finite(px))
        for g, ratio, error, px in zip(magnitudes, ratios, errors, pixels, strict=True)
    )


def spot_reach(light: RigLight, places: Sequence[Place]) -> SpotReach:
    """Return the reach at the kinds of place, of edges and corners the worst."""
    kinds = [spot for spot, _, _ in places]
    x, y = np.array([place[1:] for place in places]).T
    faintest = snr.faintest_mag(light.throughput(x, y), light.setup)
    worst: dict[Spot, float] = {}
    for spot, value in zip(kinds, faintest.tolist(), strict=True):
        worst[spot] = min(worst.get(spot, math.inf), value)
    return SpotReach(
        exposure_s=light.setup.exposure_s,
        centre=finite(worst.get("centre")),
        half=finite(np.median(snr.faintest_mag(light.grid_throughput, light.setup))),
        edge=finite(worst.get("edge")),
        corner=finite(worst.get("corner")),
        given=finite(worst.get("given")),
    )


def finite(value: object) -> float | None:
    """Return a number, or None for one that is not finite (no light) or is missing."""
    if value is None:
        return None
    number = float(cast(float, value))
    return number if math.isfinite(number) else None
