"""Stars beyond the catalogue: Poisson's formula, the integral over the guide field against a slow one, invented skies
drawn from the counts themselves, and real ones."""

import time
from pathlib import Path

import hpgeom
import numpy as np
import pyarrow.parquet as pq
import pytest
from scipy.stats import poisson
from support.places import PLACES
from support.rigs import COMPOUND, FAST, NEWTONIAN, REFRACTOR, rig
from support.stars import MadeUpSky

from guidestar.angles import circular
from guidestar.field import expected as expected_module
from guidestar.field import geometry
from guidestar.field.check import check
from guidestar.field.expected import at_least, field_depth
from guidestar.field.light import rig_light
from guidestar.signal import snr
from guidestar.sky import plane
from guidestar.sky.place import Place
from guidestar.stars.counts import star_counts
from guidestar.stars.tycho2 import tycho2

SHARED = Path(__file__).parents[3] / "shared" / "data" / "gaia_fields"
NOTHING = np.empty(0)
DEG2 = np.degrees(1.0) ** 2


def target(name):
    return Place(name, *PLACES[name], "coordinates")


def bare_sky(**more):
    """A catalogue that lists nothing, complete to G 10.5."""
    return MadeUpSky(NOTHING, NOTHING, NOTHING, complete_to_mag=10.5, **more)


# Poisson -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mean", "chance"), [(0.1, 0.09516), (0.5, 0.39347), (1, 0.63212), (2, 0.86466), (2.302585, 0.90), (3, 0.95021)]
)
def test_at_least_one(mean, chance):
    assert at_least(1, mean) == pytest.approx(chance, abs=5e-6)


@pytest.mark.parametrize("count", [0, 1, 2, 3, 7])
def test_at_least_some(count):
    means = np.array([0.0, 1e-12, 1e-4, 0.3, 1.0, 5.0, 40.0, 900.0])
    assert at_least(count, means) == pytest.approx(poisson.sf(count - 1, means), rel=1e-9, abs=1e-14)


def test_the_published_example():
    """8 × 8 mm at 1000 mm: 0.2101 square degrees; 50 a square degree are 10.5 stars, 4 give one with 57 %."""
    square = rig(
        NEWTONIAN,
        guide_camera__width_mm=8.2,
        guide_camera__height_mm=8.2,
        guide_camera__turned_deg=0.0,
        prism__width_mm=20.0,
        prism__height_mm=20.0,
        guiding__faintest_mag=13.0,
    )
    field = geometry.guide_field(square)
    depth = field_depth(square, field, None)
    assert depth.area_deg2.sum() == pytest.approx(0.2101, rel=1e-3)
    assert depth.area_deg2.sum() * 50 == pytest.approx(10.5, rel=2e-3)
    assert at_least(1, depth.area_deg2.sum() * 4) == pytest.approx(0.5685, abs=5e-4)
    assert list(depth.reach_mag) == [13.0]


# The integral over the guide field -----------------------------------------------------------------------------


@pytest.mark.parametrize("base", [COMPOUND, NEWTONIAN, REFRACTOR, FAST])
def test_the_areas_add_up_to_the_sensor(base):
    camera = rig(base)
    depth = field_depth(camera, geometry.guide_field(camera, model="light"), rig_light(camera))
    sensor, margin, focal = camera.guide_camera, camera.guiding.edge_margin_mm, camera.telescope.focal_length_mm
    area = (sensor.width_mm - 2 * margin) * (sensor.height_mm - 2 * margin) / focal**2 * DEG2
    assert depth.area_deg2.sum() == pytest.approx(area, rel=5e-3)  # off the axis a millimetre sees a little less sky
    assert depth.area_deg2.sum() < area


def slow_stars(where, camera, angle_deg, complete_to_mag):
    """λ at one camera angle: every point of the sensor has its own place on the sky, its own counts, its own reach."""
    light = rig_light(camera)
    focal, sensor, margin = camera.telescope.focal_length_mm, camera.guide_camera, camera.guiding.edge_margin_mm
    half_u, half_v = sensor.width_mm / 2 - margin, sensor.height_mm / 2 - margin
    steps = (np.arange(31) + 0.5) / 31 * 2 - 1
    u, v = (axis.ravel() for axis in np.meshgrid(steps * half_u, steps * half_v))
    turned = np.radians(sensor.turned_deg)
    x = u * np.cos(turned) + v * np.sin(turned)
    y = geometry.centre_mm(camera) - u * np.sin(turned) + v * np.cos(turned)
    sign = -1.0 if camera.camera.mirrored else 1.0
    psi = np.radians(angle_deg + sign * camera.prism.side_deg)
    east = y * np.sin(psi) + sign * x * np.cos(psi)
    north = y * np.cos(psi) - sign * x * np.sin(psi)
    here = star_counts().at(*plane.from_plane(east / focal, north / focal, where.ra_deg, where.dec_deg))
    reach = snr.faintest_mag(light.throughput(x, y), light.setup)
    further = np.diag(here.per_deg2(reach)) - here.per_deg2(complete_to_mag)
    cell = 4 * half_u * half_v / len(x) / focal**2 * DEG2
    return float(np.sum(further[reach > complete_to_mag])) * cell


@pytest.mark.parametrize("base", [COMPOUND, NEWTONIAN, REFRACTOR, FAST])
@pytest.mark.parametrize("where", ["summer", "towards the centre", "north pole", "a galaxy away from the plane"])
def test_the_stars_at_each_angle_against_the_slow_way(base, where):
    # A steep sky shows whether a camera angle looks at the right side of the target, mirrored and turned rigs too.
    camera = rig(base)
    found = check(target(where), camera, bare_sky(), epoch_year=2026.9).expected
    for item in found.by_angle[::3]:
        slow = slow_stars(target(where), camera, item.angle_deg, 10.5)
        assert item.stars == pytest.approx(slow, rel=0.03), item.angle_deg
    assert found.stars == pytest.approx(np.mean([item.stars for item in found.by_angle]))


def test_the_sky_differs_from_side_to_side():
    # A target where this test is worth something: more than 15 % between the sides.
    found = check(target("towards the centre"), rig(REFRACTOR), bare_sky(), epoch_year=2026.9).expected
    stars = [item.stars for item in found.by_angle]
    assert max(stars) / min(stars) > 1.15


def test_a_fixed_limit_is_used_everywhere_in_the_field():
    camera = rig(COMPOUND, guiding__faintest_mag=13.0)
    found = check(target("summer"), camera, bare_sky(), epoch_year=2026.9).expected
    outline = geometry.guide_field(camera).outline_mm
    x, y = outline.T
    area = 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2000.0**2 * DEG2
    here = star_counts().at(*PLACES["summer"])
    assert found.stars == pytest.approx(area * float((here.per_deg2(13.0) - here.per_deg2(10.5))[0]), rel=0.03)
    assert found.per_deg2 == pytest.approx(float(here.per_deg2(13.0)[0]), rel=0.03)
    assert found.listed == 0.0


def test_stars_that_are_listed_are_not_expected_again():
    """A catalogue that lists half of the stars between its completeness and the reach leaves the other half."""
    camera = rig(REFRACTOR, guiding__faintest_mag=13.0)
    where = target("a galaxy away from the plane")
    whole = check(where, camera, bare_sky(), epoch_year=2026.9).expected
    stars = drawn_stars(where, 13.0, np.random.default_rng(8))
    some = MadeUpSky(stars.ra_deg[::2], stars.dec_deg[::2], stars.g_mag[::2], complete_to_mag=10.5)
    half = check(where, camera, some, epoch_year=2026.9).expected
    assert half.listed == pytest.approx(whole.stars / 2, rel=0.1)
    assert half.stars + half.listed == pytest.approx(whole.stars, rel=1e-6)


# The share of the circle ---------------------------------------------------------------------------------------


def drawn_stars(where, faintest_mag, random, radius_deg=3.0):
    """A sky drawn from the counts at the target: places at random, magnitudes as the counts grow."""
    edges = np.arange(10.0, faintest_mag + 0.001, 0.05)
    density = star_counts().at(where.ra_deg, where.dec_deg).per_deg2(edges)[0]
    area = 2 * np.pi * (1 - np.cos(np.radians(radius_deg))) * DEG2
    number = random.poisson(density[-1] * area)
    away = np.arccos(1 - random.uniform(0, 1, number) * (1 - np.cos(np.radians(radius_deg))))
    theta = random.uniform(0, 2 * np.pi, number)
    ra, dec = plane.from_plane(np.tan(away) * np.sin(theta), np.tan(away) * np.cos(theta), where.ra_deg, where.dec_deg)
    g_mag = np.interp(random.uniform(0, density[-1], number), density, edges)
    return MadeUpSky(ra, dec, g_mag, complete_to_mag=20.0)


@pytest.mark.parametrize("count", [1, 2])
@pytest.mark.parametrize("change", [{"guiding__faintest_mag": 12.5}, {"guiding__exposure_s": 0.5}])
def test_skies_drawn_from_the_counts_keep_what_is_promised(count, change):
    """Of many drawn skies the catalogue lists only the bright stars; the truth comes out as foretold, on average."""
    camera = rig(COMPOUND, guiding__min_stars=count, **change)
    where = target("a galaxy away from the plane")
    random = np.random.default_rng(21)
    foretold, true, confirmed = [], [], []
    for _ in range(80):
        sky = drawn_stars(where, 15.5, random, radius_deg=0.8)
        listed = sky.g_mag <= 10.5
        known = MadeUpSky(sky.ra_deg[listed], sky.dec_deg[listed], sky.g_mag[listed], complete_to_mag=10.5)
        answer = check(where, camera, known, epoch_year=2026.9)
        foretold.append(answer.usable.expected_fraction)
        confirmed.append(answer.usable.fraction)
        true.append(check(where, camera, sky, epoch_year=2026.9).usable.fraction)
    error = np.std(np.subtract(true, foretold)) / np.sqrt(len(true))
    assert error < 0.03
    assert np.mean(true) == pytest.approx(np.mean(foretold), abs=3.5 * error)
    assert np.mean(foretold) > np.mean(confirmed) + 0.1


@pytest.mark.parametrize("count", [1, 2, 3])
def test_the_fraction_against_a_walk_around_the_circle(count):
    camera = rig(REFRACTOR, guiding__min_stars=count, guiding__faintest_mag=10.8)
    answer = check(target("a galaxy away from the plane"), camera, tycho2(), epoch_year=2026.9)
    arcs = [arc for star in answer.guide_stars for arc in star.angles_deg]
    angles = (np.arange(7200) + 0.5) / 20
    found = sum((np.mod(angles - start, 360) <= end - start).astype(int) for start, end in arcs)
    by_angle = answer.expected.by_angle
    stars = np.interp(angles, [item.angle_deg for item in by_angle], [item.stars for item in by_angle], period=360.0)
    chance = poisson.sf(count - found - 1, stars)  # 1 where enough are confirmed
    assert answer.usable.expected_fraction == pytest.approx(chance.mean(), abs=5e-4)
    assert np.mean(found >= count) == pytest.approx(answer.usable.fraction, abs=1e-3)


@pytest.mark.parametrize("where", list(PLACES))
def test_promises_at_twenty_places(where):
    last = 0.0
    for limit in (10.6, 11.5, 13.0, 15.0):
        answer = check(target(where), rig(COMPOUND, guiding__faintest_mag=limit), tycho2(), epoch_year=2026.9)
        usable, found = answer.usable, answer.expected
        assert usable.fraction <= usable.expected_fraction <= 1.0
        assert usable.expected_fraction == found.fraction
        assert usable.fraction <= found.fraction_low <= found.fraction <= found.fraction_high <= 1.0
        assert 0.0 <= found.chance <= 1.0
        assert found.stars_error >= 0.0
        # Deeper is never fewer, but for the chance number of listed stars that is taken off.
        assert found.stars + found.stars_error >= last
        last = found.stars
        assert 0.0 <= circular.total_deg(usable.angles_deg) / 360 == pytest.approx(usable.fraction)


def test_nothing_is_expected_where_nothing_can_be_missing():
    shallow = check(target("summer"), rig(COMPOUND, guiding__faintest_mag=10.5), tycho2(), epoch_year=2026.9)
    assert shallow.expected is None
    assert shallow.usable.expected_fraction == shallow.usable.fraction
    complete = MadeUpSky(NOTHING, NOTHING, NOTHING, complete_to_mag=20.0)
    deep = check(target("summer"), rig(COMPOUND), complete, epoch_year=2026.9)
    assert deep.expected is None
    assert deep.usable.expected_fraction == 0.0


def test_counts_end_at_g_18_and_so_does_the_estimate():
    at_18, beyond = (
        check(target("summer"), rig(COMPOUND, guiding__faintest_mag=limit), bare_sky(), epoch_year=2026.9).expected
        for limit in (18.0, 19.5)
    )
    assert beyond.stars == pytest.approx(at_18.stars)


def test_the_estimate_costs_little(monkeypatch):
    times, real = [], expected_module.expected

    def timed(*arguments):
        start = time.perf_counter()
        try:
            return real(*arguments)
        finally:
            times.append(time.perf_counter() - start)

    monkeypatch.setattr("guidestar.field.check.expected", timed)
    for _ in range(8):
        check(target("summer"), rig(COMPOUND), tycho2(), epoch_year=2026.9)
    assert min(times) < 0.020  # 4 to 8 ms on a quiet machine


# Real skies ----------------------------------------------------------------------------------------------------


@pytest.mark.skipif(not SHARED.is_dir(), reason="the Gaia fields of ../shared/data are not here")
@pytest.mark.parametrize("pixel", [12233, 12236, 12260])
@pytest.mark.parametrize("change", [{"guiding__faintest_mag": 13.0}, {"guiding__exposure_s": 0.5}])
def test_in_a_deep_field_gaia_finds_what_tycho_2_and_the_counts_foretold(pixel, change):
    """Targets all over a whole pixel of 3.4 square degrees; the field lacks 3.5 % of Gaia's stars.

    16 targets that share their stars: the mean of the true shares is good to about ± 0.03 by itself.
    """
    table = pq.read_table(SHARED / f"dr2_nside32_pixel{pixel}_G16.parquet")
    ra, dec, g_mag = (table[name].to_numpy().astype(float) for name in ("ra", "dec", "phot_g_mean_mag"))
    gaia = MadeUpSky(ra, dec, g_mag, complete_to_mag=16.0)
    camera = rig(COMPOUND, **change)
    foretold, true, confirmed = [], [], []
    for where in _places_inside(pixel, 0.53):
        answer = check(where, camera, tycho2(), epoch_year=2015.5)
        foretold.append(answer.usable.expected_fraction)
        confirmed.append(answer.usable.fraction)
        true.append(check(where, camera, gaia, epoch_year=2015.5).usable.fraction)
    assert len(true) >= 10
    assert np.mean(foretold) == pytest.approx(np.mean(true), abs=0.07)
    assert np.mean(confirmed) < np.mean(true) - 0.2


def _places_inside(pixel, radius_deg):
    """Places in a pixel (nside 32) whose circle of that radius lies in it too."""
    theta, away = np.radians(np.arange(0, 360, 10)), np.tan(np.radians(radius_deg))
    for ra, dec in zip(*hpgeom.pixel_to_angle(256, pixel * 64 + np.arange(64)), strict=True):
        around = plane.from_plane(away * np.sin(theta), away * np.cos(theta), ra, dec)
        if np.all(hpgeom.angle_to_pixel(32, *around) == pixel):
            yield Place("inside", float(ra), float(dec), "coordinates")
