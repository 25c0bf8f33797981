"""A guide camera behind a 200 mm telescope, varied by the tests."""

from dataclasses import replace

import pytest

from guidestar.signal.setup import GuideSetup

USUAL = GuideSetup(
    aperture_mm=200.0,
    central_obstruction_mm=70.0,
    focal_length_mm=1000.0,
    transmission=0.8,
    quantum_efficiency=0.6,
    pixel_um=2.9,
    binning=1,
    read_noise_e=1.5,
    dark_e_per_s=0.1,
    full_well_e=12000.0,
    fwhm_arcsec=3.0,
    airmass=1.3,
    extinction_mag=0.25,
    sky_v_mag_arcsec2=20.5,
    v_minus_g=0.7,
    exposure_s=2.0,
    min_snr=10.0,
    min_peak_snr=3.0,
)


@pytest.fixture
def usual() -> GuideSetup:
    return USUAL


@pytest.fixture
def vary():
    """Make a setup that differs from the usual one in the given fields."""
    return lambda **changes: replace(USUAL, **changes)
