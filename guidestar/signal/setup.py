"""What decides how faint a guide camera reaches, as one frozen set of plain numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass

from guidestar.constants import ARCSEC_PER_RADIAN, FWHM_PER_SIGMA, SEEING_AIRMASS_POWER
from guidestar.errors import InputError

UNDERSAMPLED_SIGMA_PX = 0.35
"""Below this σ (binned pixels) the centroid formula is too hopeful; see `centroid`."""

# Name, lower bound, whether the bound itself is allowed, upper bound (allowed), unit for the sentence.
_ALLOWED = (
    ("aperture_mm", 0.0, False, math.inf, "mm"),
    ("central_obstruction_mm", 0.0, True, math.inf, "mm"),
    ("focal_length_mm", 0.0, False, math.inf, "mm"),
    ("transmission", 0.0, False, 1.0, "(a share)"),
    ("quantum_efficiency", 0.0, False, 1.0, "(a share)"),
    ("pixel_um", 0.0, False, math.inf, "µm"),
    ("read_noise_e", 0.0, True, math.inf, "electrons"),
    ("dark_e_per_s", 0.0, True, math.inf, "electrons per second"),
    ("full_well_e", 0.0, False, math.inf, "electrons"),
    ("fwhm_arcsec", 0.0, False, math.inf, "arcsec"),
    # Kasten & Young's formula gives 0.9997 at the zenith; that must not stop a night.
    ("airmass", 0.999, True, math.inf, "(1 at the zenith)"),
    ("extinction_mag", 0.0, True, math.inf, "mag per airmass"),
    ("sky_v_mag_arcsec2", -math.inf, False, math.inf, "mag/arcsec²"),
    ("v_minus_g", -math.inf, False, math.inf, "mag"),
    ("exposure_s", 0.0, False, math.inf, "seconds"),
    ("min_snr", 0.0, True, math.inf, "(0 asks nothing)"),
    ("min_peak_snr", 0.0, True, math.inf, "(0 asks nothing)"),
)


@dataclass(frozen=True, kw_only=True)
class GuideSetup:
    """Telescope, guide camera, sky and wish, all that the signal needs.

    Attributes
    ----------
    aperture_mm, central_obstruction_mm, focal_length_mm : float
        Diameters and focal length of the telescope, mm.
    transmission : float
        Optics × prism glass, 0 … 1, without the prism's geometry: that is the throughput τ = T·V of each
        point.
    quantum_efficiency : float
        Of the guide camera, mean over 400–900 nm, 0 … 1.
    pixel_um, read_noise_e, dark_e_per_s, full_well_e : float
        Of one unbinned pixel of the guide camera.
    binning : int
        Pixels summed along each side, ≥ 1. The sum is taken after readout, as CMOS cameras do, so a binned
        pixel has `binning` times the read noise of a single one and saturates where a single one does.
    fwhm_arcsec : float
        Star size on the guide camera at the zenith, arcsec, seeing and blur together.
    airmass : float
        ≥ 1. The star grows as airmass^0.6 and fades by `extinction_mag` per airmass.
    extinction_mag : float
        mag per airmass, G band.
    sky_v_mag_arcsec2, v_minus_g : float
        Sky brightness in V as seen from the ground, mag/arcsec², and its colour V − G.
    exposure_s : float
        Of the guide camera, seconds.
    min_snr, min_peak_snr : float
        What a usable star needs: SNR of the whole star, and of its brightest binned pixel.

    Raises
    ------
    InputError
        For a number outside what is physically possible.
    """

    aperture_mm: float
    central_obstruction_mm: float
    focal_length_mm: float
    transmission: float
    quantum_efficiency: float
    pixel_um: float
    binning: int
    read_noise_e: float
    dark_e_per_s: float
    full_well_e: float
    fwhm_arcsec: float
    airmass: float
    extinction_mag: float
    sky_v_mag_arcsec2: float
    v_minus_g: float
    exposure_s: float
    min_snr: float
    min_peak_snr: float

    def __post_init__(self) -> None:
        """Refuse impossible numbers with one sentence."""
        for name, low, low_allowed, high, unit in _ALLOWED:
            _require(name, getattr(self, name), low, low_allowed, high, unit)
        if self.binning < 1 or self.binning != int(self.binning):
            raise InputError(f"binning: found {self.binning}, must be a whole number, 1 or more")
        if self.central_obstruction_mm >= self.aperture_mm:
            raise InputError(
                f"central_obstruction_mm: found {self.central_obstruction_mm:g}, "
                f"must be less than aperture_mm ({self.aperture_mm:g})"
            )

    @property
    def collecting_area_m2(self) -> float:
        """Open area, π/4 (D² − d²), m²: the obstruction is taken off here alone, as T is of the annulus."""
        return math.pi / 4 * (self.aperture_mm**2 - self.central_obstruction_mm**2) * 1e-6

    @property
    def pixel_arcsec(self) -> float:
        """Side of an unbinned pixel on the sky, arcsec."""
        return ARCSEC_PER_RADIAN * self.pixel_um * 1e-3 / self.focal_length_mm

    @property
    def binned_pixel_arcsec(self) -> float:
        """Side of a binned pixel on the sky, arcsec."""
        return self.pixel_arcsec * self.binning

    @property
    def fwhm_at_airmass_arcsec(self) -> float:
        """Star size at the airmass: zenith size × airmass^0.6, arcsec."""
        return self.fwhm_arcsec * math.pow(self.airmass, SEEING_AIRMASS_POWER)

    @property
    def sigma_px(self) -> float:
        """Standard deviation of the (Gaussian) star at the airmass, binned pixels, before pixels blur it."""
        return self.fwhm_at_airmass_arcsec / FWHM_PER_SIGMA / self.binned_pixel_arcsec

    @property
    def sigma_effective_px(self) -> float:
        """Standard deviation of the star as sampled, binned pixels: √(σ² + 1/12), pixel width added."""
        return math.sqrt(self.sigma_px**2 + 1.0 / 12.0)

    @property
    def undersampled(self) -> bool:
        """Whether the star is so small that most of it can fall into one binned pixel."""
        return self.sigma_px < UNDERSAMPLED_SIGMA_PX


def _require(name: str, value: float, low: float, low_allowed: bool, high: float, unit: str) -> None:
    """Raise an `InputError` that names value, limits and unit, unless the value is finite and inside."""
    inside = low <= value <= high if low_allowed else low < value <= high
    if math.isfinite(value) and inside:
        return
    # The airmass bound has a hair of room that the sentence does not mention.
    shown = f"{max(low, 1.0) if name == 'airmass' else low:g}"
    bound = "a finite number"
    if math.isfinite(low):
        bound = f"{shown} or more" if low_allowed else f"more than {shown}"
    if math.isfinite(high):
        bound += f" and at most {high:g}"
    raise InputError(f"{name}: found {value:g}, must be {bound} {unit}")
