"""The sweep as others use it: which pixels, which columns, what there are no stars for, and being interrupted."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from support.rigs import COMPOUND, REFRACTOR, rig
from support.stars import MadeUpSky

from guidestar.errors import InputError
from guidestar.maps.result import COLUMNS
from guidestar.maps.sweep import at_places, pixels_within, sky_map
from guidestar.sky import healpix, plane, regions
from guidestar.sky.epoch import unit_vectors
from guidestar.stars.source import SkyStars
from guidestar.stars.tycho2 import tycho2

YEAR = 2026.9
RIG = rig(COMPOUND, guiding__faintest_mag=11.5)


def same(one, other) -> bool:
    return all(np.array_equal(getattr(one, f.name), getattr(other, f.name), equal_nan=True) for f in fields(one))


@pytest.fixture(scope="module")
def whole():
    return sky_map(RIG, tycho2(), nside=8, epoch_year=YEAR)


@pytest.mark.slow
def test_pixels_are_the_centres(whole) -> None:
    assert np.array_equal(whole.ipix, np.arange(768))
    assert np.array_equal(healpix.pixel_of(whole.sweep.ra_deg, whole.sweep.dec_deg, 3), whole.ipix)
    assert whole.order == 3
    assert whole.pixel_deg2 * 768 == pytest.approx(41252.96, rel=1e-6)
    assert not whole.no_data.any()


@pytest.mark.slow
def test_order_and_number_of_threads_change_nothing(whole) -> None:
    shuffled = np.random.default_rng(1).permutation(768)
    ra, dec = whole.sweep.ra_deg[shuffled], whole.sweep.dec_deg[shuffled]
    for threads in (1, 3):
        again = at_places(RIG, tycho2(), ra, dec, epoch_year=YEAR, threads=threads).coverage
        for column in COLUMNS:
            assert np.array_equal(getattr(again, column), getattr(whole.coverage, column)[shuffled]), column


@pytest.mark.slow
@pytest.mark.parametrize("column", COLUMNS)
def test_a_column_alone_is_the_same(whole, column: str) -> None:
    alone = sky_map(RIG, tycho2(), nside=8, epoch_year=YEAR, columns=(column,)).coverage
    assert np.allclose(getattr(alone, column), getattr(whole.coverage, column), atol=1e-12, rtol=0)
    others = [name for name in COLUMNS if name != column]
    assert all(np.isnan(getattr(alone, name)).all() for name in others)


@pytest.mark.slow
def test_bounds_leave_the_other_pixels_out(whole) -> None:
    band = sky_map(RIG, tycho2(), nside=8, epoch_year=YEAR, bounds_deg=(-10.0, 35.0))
    assert band.sweep.dec_deg.min() >= -10.0
    assert band.sweep.dec_deg.max() <= 35.0
    assert 0 < len(band.ipix) < 768
    assert np.array_equal(band.coverage.usable_fraction, whole.coverage.usable_fraction[band.ipix])


@pytest.mark.slow
def test_no_place_at_all() -> None:
    assert len(at_places(RIG, tycho2(), [], [], epoch_year=YEAR).coverage.usable_fraction) == 0


@pytest.mark.slow
def test_no_star_at_all() -> None:
    nothing = MadeUpSky(np.empty(0), np.empty(0), np.empty(0))
    coverage = at_places(RIG, nothing, [10.0, 200.0], [20.0, -89.0], epoch_year=YEAR).coverage
    assert np.array_equal(coverage.usable_fraction, [0, 0])
    assert np.array_equal(coverage.longest_blind_deg, [360, 360])
    assert np.array_equal(coverage.mean_stars, [0, 0])
    assert np.array_equal(coverage.sure_fraction, [0, 0])


class NorthernSky(MadeUpSky):
    """A source that knows the north only, and has stars beyond its border all the same."""

    def sky_coverage(self):
        return regions.declination_band(20.0, 90.0)

    def sky_chunks(self, *, epoch_year, faintest_mag, dec_deg):
        yield SkyStars(unit_vectors(self.ra_deg, self.dec_deg), self.g_mag)


@pytest.mark.slow
def test_where_the_source_knows_nothing_the_map_says_so() -> None:
    chance = np.random.default_rng(2)
    ra, dec = chance.uniform(0, 360, 40_000), np.degrees(np.arcsin(chance.uniform(-1, 1, 40_000)))
    source = NorthernSky(ra, dec, np.full(40_000, 10.0))
    short = rig(REFRACTOR, guiding__faintest_mag=11.0)
    found = sky_map(short, source, nside=16, epoch_year=YEAR)
    dec_deg = found.sweep.dec_deg
    reach = np.degrees(np.arctan(19.0 / 480.0))  # beyond the ring's outer radius and the prism's accuracy
    border = np.max(dec_deg[found.no_data])
    assert found.no_data[dec_deg < 18.0].all()
    assert not found.no_data[dec_deg > 20.0 + reach + 1.0].any()
    assert 18.0 < border < 20.0 + reach + 1.0
    for column in COLUMNS:
        assert np.array_equal(np.isnan(getattr(found.coverage, column)), found.no_data)
    known = ~found.no_data
    everywhere = sky_map(short, MadeUpSky(ra, dec, source.g_mag), nside=16, epoch_year=YEAR)
    assert np.array_equal(found.coverage.usable_fraction[known], everywhere.coverage.usable_fraction[known])


@pytest.mark.slow
def test_no_data_begins_where_a_ring_leaves_what_is_known() -> None:
    source = NorthernSky(np.array([0.0]), np.array([50.0]), np.array([10.0]))
    dec = np.arange(15.0, 25.0, 0.05)
    usable = at_places(RIG, source, np.full(len(dec), 33.0), dec, epoch_year=YEAR).coverage.usable_fraction
    first_known = dec[~np.isnan(usable)][0]
    known = regions.declination_band(20.0, 90.0)
    circle = regions.around(33.0, first_known, 0.4, 10)
    assert regions.is_within(circle, known)
    assert not regions.is_within(regions.around(33.0, first_known, 0.75, 10), known)


@pytest.mark.slow
def test_progress_rises_to_one_and_an_interrupt_comes_through() -> None:
    told: list[float] = []
    sky_map(RIG, tycho2(), nside=16, epoch_year=YEAR, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(told) > 4

    def stop(_share: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        sky_map(RIG, tycho2(), nside=16, epoch_year=YEAR, progress=stop)


@pytest.mark.slow
def test_a_star_counts_only_in_its_ring() -> None:
    """One star: usable where it is at the field's radius, by a share that geometry gives."""
    target, f = (80.0, 40.0), RIG.telescope.focal_length_mm
    radius, beside = 16.0, 30.0
    tangent = np.array([radius, beside]) / f
    ra, dec = plane.from_plane(tangent * np.sin(1.0), tangent * np.cos(1.0), *target)
    for i, usable in ((0, True), (1, False)):
        source = MadeUpSky(ra[i : i + 1], dec[i : i + 1], np.array([9.0]))
        found = at_places(RIG, source, *([value] for value in target), epoch_year=2000.0).coverage
        width = np.degrees(2 * np.arcsin((RIG.guide_camera.width_mm / 2 - RIG.guiding.edge_margin_mm) / radius))
        assert found.usable_fraction[0] == pytest.approx(width / 360 if usable else 0.0, abs=1e-9)
        assert found.longest_blind_deg[0] == pytest.approx(360 - (width if usable else 0), abs=1e-6)
        assert found.flip_safe_fraction[0] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("nside", [0, -4, 3, 12, 1024, 100_000])
def test_a_wrong_nside_is_told(nside: int) -> None:
    with pytest.raises(InputError, match=f"nside {nside}: must be a power of two from 1 to 512"):
        pixels_within(nside, None)


@pytest.mark.parametrize("bounds", [(50.0, 20.0), (10.0, 10.0), (-91.0, 0.0), (0.0, 90.5), (float("nan"), 3.0)])
def test_wrong_bounds_are_told(bounds: tuple[float, float]) -> None:
    with pytest.raises(InputError, match="two declinations from -90 to 90 degrees"):
        pixels_within(8, bounds)


def test_bounds_between_two_rows_of_pixels_leave_none() -> None:
    assert len(pixels_within(1, (1.0, 2.0))) == 0


def test_an_unknown_column_is_told() -> None:
    with pytest.raises(InputError, match='"usable" is no column of the sky map'):
        at_places(RIG, tycho2(), [0.0], [0.0], epoch_year=YEAR, columns=("usable",))
