"""A separate small guide scope instead of the pick-off: the same camera behind it, and the flexure it brings.

It sees more sky with bigger pixels, and nothing tells it when it bends against the main telescope. A pick-off
shares the main telescope's tube and focuser, so that flexure does not arise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from guidestar.constants import ARCSEC_PER_RADIAN, G_MEAN_WAVELENGTH_UM, SEEING_AIRMASS_POWER
from guidestar.errors import InputError
from guidestar.signal.centroid import pixel_arcsec
from guidestar.signal.setup import GuideSetup

GUIDE_SCOPE_TRANSMISSION = 0.9
"""Of a small coated lens without a prism; an estimate."""

AIRY_FWHM = 1.029
"""Full width at half maximum of a round aperture's diffraction image, in units of λ/D."""

FASTEST_F_RATIO = 0.5
"""No lens in air that images sharply is faster (sine condition)."""


@dataclass(frozen=True)
class Flexure:
    """How much bending between guide scope and main telescope moves the main picture by one pixel.

    `arcsec` is the angle; `at_guide_sensor_um` a shift of the guide sensor that looks the same;
    `at_lever_um` how far the end of a lever (clamp, rail, tube) of the given length moves.
    """

    arcsec: float
    at_guide_sensor_um: float
    at_lever_um: float

    def rate_arcsec_per_min(self, main_exposure_s: float) -> float:
        """Return the steady bending, arcsec a minute, that smears a main exposure of that length by a pixel."""
        return self.arcsec * 60.0 / main_exposure_s


def guide_scope_setup(
    setup: GuideSetup,
    *,
    focal_length_mm: float,
    aperture_mm: float,
    transmission: float = GUIDE_SCOPE_TRANSMISSION,
) -> GuideSetup:
    """Return the same camera, sky and wishes behind a guide scope without obstruction or prism (throughput 1).

    The star size is the old one and the scope's own diffraction image (1.029 λ/D at 0.62 µm) added in
    quadrature; lens errors and poor focus come on top, so this is the best case.

    Raises
    ------
    InputError
        For numbers that no guide scope has.
    """
    _require_lens(focal_length_mm, aperture_mm)
    diffraction_arcsec = AIRY_FWHM * G_MEAN_WAVELENGTH_UM * 1e-3 / aperture_mm * ARCSEC_PER_RADIAN
    # Diffraction does not grow with airmass as seeing does: entered as what the airmass will bring back to it.
    at_zenith_arcsec = diffraction_arcsec / setup.airmass**SEEING_AIRMASS_POWER
    return replace(
        setup,
        focal_length_mm=focal_length_mm,
        aperture_mm=aperture_mm,
        central_obstruction_mm=0.0,
        transmission=transmission,
        fwhm_arcsec=math.hypot(setup.fwhm_arcsec, at_zenith_arcsec),
    )


def _require_lens(focal_length_mm: float, aperture_mm: float) -> None:
    """Refuse a focal length and aperture that no lens has."""
    for name, value in (("focal length", focal_length_mm), ("aperture", aperture_mm)):
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"guide scope: found {name} {value:g} mm, must be more than 0")
    if focal_length_mm < FASTEST_F_RATIO * aperture_mm:
        raise InputError(
            f"guide scope: found focal length {focal_length_mm:g} mm and aperture {aperture_mm:g} mm, "
            f"f/{focal_length_mm / aperture_mm:.2g} is faster than any lens; focal length comes first"
        )


def flexure_of_one_pixel(
    *, main_focal_length_mm: float, main_pixel_um: float, guide_focal_length_mm: float, lever_mm: float
) -> Flexure:
    """Return the flexure that moves the main picture by one pixel; all lengths > 0."""
    angle_arcsec = pixel_arcsec(main_focal_length_mm, main_pixel_um)
    angle = angle_arcsec / ARCSEC_PER_RADIAN
    return Flexure(
        arcsec=angle_arcsec,
        at_guide_sensor_um=angle * guide_focal_length_mm * 1e3,
        at_lever_um=angle * lever_mm * 1e3,
    )
