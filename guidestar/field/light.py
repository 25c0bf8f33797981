"""The rig's light, joined from its telescope, prism, guide camera and sky: what reaches which point, and how faint.

T is the prism's transmission (geometry alone), V the telescope's vignetting, τ = T·V the throughput of a point.
V depends on the radius alone, so a star's own need of T is the τ that its magnitude needs over its V.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from guidestar.angles.light import LitSensor
from guidestar.errors import InputError
from guidestar.field import geometry
from guidestar.field.result import StarLight
from guidestar.optics.footprint import Footprint, beam_footprint
from guidestar.optics.guidefield import half_planes
from guidestar.optics.transmission import PrismFace, transmission
from guidestar.optics.vignetting import vignetting
from guidestar.rig import Rig
from guidestar.signal import snr
from guidestar.signal.centroid import centroid_error_arcsec
from guidestar.signal.saturation import peak_fill
from guidestar.signal.setup import GuideSetup

FloatArray = NDArray[np.float64]

USUAL_EXPOSURES_S = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
"""Guide exposures that are tried in turn where one is looked for (common practice, no source)."""

_GRID_MM = 0.05
"""Spacing of the points at which the sensor's least and greatest light are looked for."""


def guide_setup(rig: Rig, *, exposure_s: float | None = None, airmass: float | None = None) -> GuideSetup:
    """Return the rig as the signal's plain numbers; exposure and airmass as in the rig unless given.

    Raises
    ------
    InputError
        An exposure not above 0, an airmass below 1.
    """
    return GuideSetup(
        aperture_mm=rig.telescope.aperture_mm,
        central_obstruction_mm=rig.telescope.central_obstruction_mm,
        focal_length_mm=rig.telescope.focal_length_mm,
        transmission=rig.telescope.transmission * rig.prism.transmission,
        quantum_efficiency=rig.guide_camera.quantum_efficiency,
        pixel_um=rig.guide_camera.pixel_um,
        binning=rig.guide_camera.binning,
        read_noise_e=rig.guide_camera.read_noise_e,
        dark_e_per_s=rig.guide_camera.dark_e_per_s,
        full_well_e=rig.guide_camera.full_well_e,
        fwhm_arcsec=rig.telescope.fwhm_arcsec,
        airmass=rig.guiding.airmass if airmass is None else airmass,
        extinction_mag=rig.sky.extinction_mag,
        sky_v_mag_arcsec2=rig.sky.brightness_mag_arcsec2,
        v_minus_g=rig.sky.v_minus_g,
        exposure_s=rig.guiding.exposure_s if exposure_s is None else exposure_s,
        min_snr=rig.guiding.min_snr,
        min_peak_snr=rig.guiding.min_peak_snr,
    )


def rig_footprint(rig: Rig) -> Footprint:
    """Return the beam's footprint in the plane of the prism's entrance face."""
    return beam_footprint(
        focal_length_mm=rig.telescope.focal_length_mm,
        aperture_mm=rig.telescope.aperture_mm,
        central_obstruction_mm=rig.telescope.central_obstruction_mm,
        ahead_mm=rig.prism.ahead_mm,
        exit_pupil_mm=rig.telescope.exit_pupil_mm,
    )


@dataclass(frozen=True)
class RigLight:
    """What the guide camera gets of a star, anywhere in the focal plane.

    `outline_mm` (n, 2) is the guide sensor less the margin, rig frame; `image_circle_mm` None is unlimited.
    """

    setup: GuideSetup
    footprint: Footprint
    face: PrismFace
    outline_mm: FloatArray
    image_circle_mm: float | None

    @cached_property
    def sensor(self) -> LitSensor:
        """The sensor in the prism's light, for the angle kernels."""
        return LitSensor(half_planes(self.outline_mm), self.footprint, self.face)

    def transmission(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Return T at points of the focal plane, 0 to 1."""
        return transmission(x_mm, y_mm, self.footprint, self.face)

    def vignetting(self, radius_mm: FloatArray) -> FloatArray:
        """Return V at radii in the focal plane, 0 to 1."""
        return vignetting(radius_mm, self.image_circle_mm, self.footprint.diameter_mm)

    def throughput(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Return τ = T·V at points of the focal plane."""
        return np.asarray(self.transmission(x_mm, y_mm) * self.vignetting(np.hypot(x_mm, y_mm)))

    def needed_transmission(self, radius_mm: FloatArray, g_mag: FloatArray) -> FloatArray:
        """Return the least T at which stars are usable; above 1: nowhere."""
        vignetted = self.vignetting(radius_mm)
        needed = snr.needed_throughput(g_mag, self.setup)
        unlit = np.full(needed.shape, np.inf)
        return np.asarray(np.divide(needed, vignetted, out=unlit, where=vignetted > 0))

    @cached_property
    def _grid(self) -> tuple[FloatArray, FloatArray]:
        """Points of the sensor about `_GRID_MM` apart, its corners included."""
        low, high = self.outline_mm.min(axis=0), self.outline_mm.max(axis=0)
        x, y = (np.linspace(a, b, max(int((b - a) / _GRID_MM), 2)) for a, b in zip(low, high, strict=True))
        x, y = (axis.ravel() for axis in np.meshgrid(x, y))
        planes = self.sensor.sensor
        inside = np.all(planes[:, :2] @ np.stack((x, y)) <= planes[:, 2, None] + 1e-9, axis=0)
        return np.append(x[inside], self.outline_mm[:, 0]), np.append(y[inside], self.outline_mm[:, 1])

    @cached_property
    def grid_transmission(self) -> FloatArray:
        """T at each point of the grid over the sensor."""
        return self.transmission(*self._grid)

    @cached_property
    def grid_throughput(self) -> FloatArray:
        """τ at each point of the grid over the sensor."""
        return self.throughput(*self._grid)

    @cached_property
    def fully_lit(self) -> float:
        """A T that no point of the sensor falls below, a little less than the true least.

        Where T = 1 at every corner it is 1 throughout: the points whose whole beam the face takes are a rectangle.
        Else the least T of the grid, less what T can fall between its points.
        """
        corners: FloatArray = self.transmission(self.outline_mm[:, 0], self.outline_mm[:, 1])
        if np.all(corners >= 1.0):
            return 1.0
        return max(float(self.grid_transmission.min()) - self.steepest_per_mm * _GRID_MM, 0.0)

    @property
    def steepest_per_mm(self) -> float:
        """The most that T can change, a millimetre of the focal plane along x or y; infinite for a beam of no width.

        The edge of a disc or its hole sweeps at most the light of two chords: 2·2R/(πR²(1 − ε²)) a millimetre.
        """
        beam = self.footprint
        if beam.radius_mm <= 0:
            return math.inf
        return 4.0 / (math.pi * beam.radius_mm * (1.0 - beam.obstruction_ratio**2)) * beam.scale

    @property
    def deepest_mag(self) -> float:
        """The faintest magnitude that is usable anywhere on the sensor; −inf where no light comes."""
        return float(snr.faintest_mag(self.grid_throughput.max(), self.setup))

    def with_setup(self, setup: GuideSetup) -> RigLight:
        """Return the same through another air, sky or exposure: where the light falls is not worked out anew."""
        changed = replace(self, setup=setup)
        changed.__dict__.update({name: getattr(self, name) for name in _WHERE_LIGHT_FALLS})
        return changed

    def with_exposure(self, exposure_s: float) -> RigLight:
        """Return the same with another guide exposure, seconds."""
        return self.with_setup(replace(self.setup, exposure_s=exposure_s))


_WHERE_LIGHT_FALLS = ("sensor", "_grid", "grid_transmission", "grid_throughput", "fully_lit")
"""What of a `RigLight` is kept once worked out and does not depend on the signal."""


def rig_light(rig: Rig, *, exposure_s: float | None = None, airmass: float | None = None) -> RigLight:
    """Return the rig's light.

    Raises
    ------
    InputError
        No light reaches any point of the guide sensor, or the margin leaves nothing of it.
    """
    light = RigLight(
        setup=guide_setup(rig, exposure_s=exposure_s, airmass=airmass),
        footprint=rig_footprint(rig),
        face=PrismFace(rig.prism.width_mm, rig.prism.height_mm, rig.prism.offset_mm),
        outline_mm=geometry.sensor_polygon(rig),
        image_circle_mm=rig.telescope.image_circle_mm,
    )
    if not np.any(light.grid_throughput > 0):
        raise InputError(_no_light(rig))
    return light


def _no_light(rig: Rig) -> str:
    """Return the sentence for a guide camera in the dark: the telescope's edge, or the hole in its beam."""
    circle, footprint = rig.telescope.image_circle_mm, rig_footprint(rig)
    if circle is not None and geometry.guide_field(rig, model="light").inner_mm >= circle / 2 + footprint.diameter_mm:
        return (
            f"No light reaches the guide camera: its field is centred {geometry.centre_mm(rig):.1f} mm from the axis "
            f"and the telescope's image circle ends at {circle / 2:g} mm (telescope.image_circle_mm = {circle:g}); "
            f"an offset of {geometry.scale_at_face(rig) * circle / 2:.1f} mm (prism.offset_mm) would put its centre on "
            f"that edge."
        )
    hole = footprint.diameter_mm * footprint.obstruction_ratio
    return (
        f"No light reaches the guide camera: {rig.prism.ahead_mm:g} mm before the focal plane the beam has a dark "
        f"middle {hole:.1f} mm wide, and the prism of {rig.prism.width_mm:g} × {rig.prism.height_mm:g} mm stands "
        f"inside it; set it nearer to the focal plane (prism.ahead_mm) or use a larger one."
    )


def star_light(light: RigLight, g_mag: FloatArray, x_mm: FloatArray, y_mm: FloatArray) -> list[StarLight]:
    """Return what the guide camera gets of stars at points of the focal plane, all of shape (n,)."""
    throughput = light.throughput(x_mm, y_mm)
    fill = peak_fill(g_mag, throughput, light.setup)
    error = np.where(fill < 1.0, centroid_error_arcsec(g_mag, throughput, light.setup), np.nan)
    shorter = _unsaturated_exposure_s(light, g_mag, throughput, fill)
    columns = (light.transmission(x_mm, y_mm), snr.snr(g_mag, throughput, light.setup), fill, error, shorter)
    return [
        StarLight(
            *(float(value) for value in row[:3]), *(None if math.isnan(value) else float(value) for value in row[3:])
        )
        for row in zip(*columns, strict=True)
    ]


def _unsaturated_exposure_s(light: RigLight, g_mag: FloatArray, throughput: FloatArray, fill: FloatArray) -> FloatArray:
    """Return `StarLight.unsaturated_exposure_s` of each star; nan where it has none."""
    found = np.full(len(fill), np.nan)
    full = np.flatnonzero(fill >= 1.0)
    if not len(full):
        return found
    for exposure in USUAL_EXPOSURES_S:
        shorter = replace(light.setup, exposure_s=exposure)
        roomy = peak_fill(g_mag[full], throughput[full], shorter) < 1.0
        found[full[roomy & (g_mag[full] <= snr.faintest_mag(throughput[full], shorter))]] = exposure
    return found
