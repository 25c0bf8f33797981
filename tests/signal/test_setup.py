import math

import pytest

from guidestar.errors import InputError


def test_derived_figures_by_hand(vary):
    setup = vary(binning=2, airmass=1.5)
    assert setup.collecting_area_m2 == pytest.approx(math.pi * (0.1**2 - 0.035**2))
    assert setup.pixel_arcsec == pytest.approx(206.264806 * 2.9 / 1000, rel=1e-8)
    assert setup.binned_pixel_arcsec == pytest.approx(2 * setup.pixel_arcsec)
    assert setup.fwhm_at_airmass_arcsec == pytest.approx(3.0 * 1.2754, rel=1e-4)
    assert setup.sigma_px == pytest.approx(3.0 * 1.2754 / 2.354820 / setup.binned_pixel_arcsec, rel=1e-4)
    assert setup.sigma_effective_px**2 == pytest.approx(setup.sigma_px**2 + 1 / 12)


@pytest.mark.parametrize(("airmass", "growth"), [(1.5, 1.2754), (2.0, 1.5157), (3.0, 1.9332)])
def test_star_size_grows_with_airmass(vary, airmass, growth):
    """LSST SMTN-002: FWHM × airmass^0.6."""
    ratio = vary(airmass=airmass).fwhm_at_airmass_arcsec / vary(airmass=1.0).fwhm_at_airmass_arcsec
    assert ratio == pytest.approx(growth, abs=1e-4)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("exposure_s", 0.0, "exposure_s: found 0, must be more than 0 seconds"),
        ("exposure_s", -1.0, "found -1"),
        ("exposure_s", math.nan, "found nan"),
        ("exposure_s", math.inf, "found inf"),
        ("airmass", 0.9, "airmass: found 0.9, must be 1 or more"),
        ("transmission", 1.2, "more than 0 and at most 1"),
        ("quantum_efficiency", 0.0, "quantum_efficiency: found 0"),
        ("central_obstruction_mm", 200.0, "must be less than aperture_mm (200)"),
        ("binning", 0, "binning: found 0, must be a whole number, 1 or more"),
        ("binning", 1.5, "binning: found 1.5"),
        ("sky_v_mag_arcsec2", math.nan, "sky_v_mag_arcsec2: found nan, must be a finite number"),
        ("min_snr", -1.0, "0 or more"),
        ("full_well_e", 0.0, "full_well_e: found 0"),
    ],
)
def test_impossible_numbers_are_refused_with_a_sentence(vary, field, value, words):
    with pytest.raises(InputError) as caught:
        vary(**{field: value})
    assert words in str(caught.value)


def test_zenith_airmass_of_the_usual_formula_is_accepted(vary):
    """Kasten & Young 1989 give 0.99971 at the zenith."""
    assert vary(airmass=0.99971).airmass == 0.99971


def test_undersampled_is_told(vary):
    assert not vary().undersampled
    assert vary(focal_length_mm=150.0, fwhm_arcsec=2.0, airmass=1.0).undersampled
