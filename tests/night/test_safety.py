from datetime import date

import pytest
from support.planned import SITE, one

from guidestar.rig import Site


def test_a_target_near_the_sun_is_warned_about():
    _, night, _ = one("german", target=(244.0, -21.0), evening=date(2026, 12, 1))
    assert night.sun_separation_deg < 10.0
    (warning,) = night.warnings
    assert "from the Sun" in warning
    assert "certified full-aperture solar filters" in warning
    assert "blinds" in warning


@pytest.mark.parametrize(("ra", "warned"), [(200.0, True), (150.0, False)])
def test_a_plan_that_runs_into_dawn_toward_the_sun(ra, warned):
    _, night, _ = one("german", target=(ra, 5.0), evening=date(2026, 12, 4))
    assert night.windows[-1].ends == "dawn"
    assert bool(night.warnings) is warned
    assert not warned or "runs into dawn" in night.warnings[0]


def test_a_target_away_from_the_sun_is_not():
    _, night, _ = one("german")
    assert night.warnings == ()


def test_no_sun_no_warning_in_the_polar_night():
    """In December the Sun does not rise at 78° north: nobody can point at it, however near a target is."""
    site = Site(latitude_deg=78.2, longitude_deg=15.6)
    _, night, _ = one("german", target=(268.0, 10.0), site=site, evening=date(2026, 12, 21))
    assert night.sun_separation_deg < 40.0
    assert not any("from the Sun" in text for text in night.warnings)


@pytest.mark.parametrize(("dec", "warned"), [(17.0, True), (21.0, False)])
def test_forty_degrees_decide(dec, warned):
    _, night, _ = one("german", target=(248.0, dec), site=SITE, evening=date(2026, 12, 1))
    assert (night.sun_separation_deg < 40.0) is warned
    assert bool(night.warnings) is warned
