"""The sky map against what is known from elsewhere.

A camera turned step by step through astropy.wcs, the Poisson availability, the star densities printed with Tycho-2, and
`check` asked at the map's pixels.
"""

from __future__ import annotations

import math
from functools import cache

import astropy.units as u
import numpy as np
import pytest
from astropy.coordinates import SkyCoord
from support import wcs_twin
from support.rigs import COMPOUND, REFRACTOR, rig
from support.stars import MadeUpSky

import guidestar as gs
from guidestar.field.light import rig_light
from guidestar.maps.sweep import at_places, sky_map
from guidestar.signal.snr import peak_snr, snr
from guidestar.sky import healpix
from guidestar.stars.source import cone
from guidestar.stars.tycho2 import tycho2

YEAR = 2026.9
NSIDE = 64
NARROWEST_DEG = 0.002
"""Steps of the turned camera are not made narrower than this: so far the end of a usable range may be off."""

PRESET = gs.preset("compound-2000-f10")
GEOMETRIC = PRESET.with_values({"guiding.faintest_mag": 11.0})
# So short that the reach runs through the catalogue's magnitudes: with the usual exposure every star listed is usable
# wherever it stands on the sensor.
LIT = PRESET.with_values({"guiding.exposure_s": 0.05, "guide_camera.width_mm": 11.2, "guide_camera.height_mm": 6.3})

ALL_ENTRIES_MAG = 15.5
"""Fainter than any entry of Tycho-2."""

DENSITY_AT_DEG = {0.0: 150.0, 30.0: 50.0, 90.0: 25.0}
"""Tycho-2 entries a square degree by |b|: Høg et al. 2000, ReadMe of CDS I/259."""

DENSITY_WITHIN = {"|b| < 2.5°": 144.5, "|b| within 2.5° of 30°": 49.1, "|b| > 80°": 23.6}
"""The same, counted from the catalogue's files without this project's code."""


def random_pixels(count, seed):
    pixels = np.random.default_rng(seed).choice(12 * NSIDE**2, count, replace=False)
    return pixels, *healpix.pixel_centres(pixels, NSIDE.bit_length() - 1)


class TurnedCamera:
    """The usable share of the circle, found by turning a camera in ever smaller steps; see tests/support/wcs_twin.py.

    A step is taken as settled only if no star can come in or go while the camera turns by half of it either way: a star
    ρ from the axis then moves by ρ·h at most, and its lit share changes no faster than chords of its beam allow.
    """

    def __init__(self, camera, place):
        self.camera, self.place = camera, place
        self.light = None if camera.guiding.faintest_mag is not None else rig_light(camera)
        limit = camera.guiding.faintest_mag if self.light is None else self.light.deepest_mag + 0.5
        reach = np.degrees(np.arctan(30.0 / camera.telescope.focal_length_mm))
        self.table = cone(tycho2(), *place, reach, faintest_mag=limit, epoch_year=YEAR)

    def share(self):
        """Return the usable share and the number of ends of usable ranges."""
        if not len(self.table):
            return 0.0, 0
        pieces = sorted(piece for start in np.arange(0.0, 360.0, 4.0) for piece in self._pieces(start, start + 4.0))
        on = np.array([usable for _, _, usable in pieces])
        return sum(end - start for start, end, usable in pieces if usable) / 360.0, int(np.sum(on != np.roll(on, 1)))

    def _pieces(self, start, end):
        middle, half = (start + end) / 2.0, (end - start) / 2.0
        surely, maybe = self._counts(middle, math.radians(half))
        wanted = self.camera.guiding.min_stars
        if surely >= wanted or maybe < wanted or end - start < NARROWEST_DEG:
            return [(start, end, surely >= wanted or (maybe >= wanted and self._counts(middle, 0.0)[0] >= wanted))]
        return self._pieces(start, middle) + self._pieces(middle, end)

    def _counts(self, angle, half):
        """Return how many stars are usable at every angle of the step, and how many may be at some."""
        x, y = wcs_twin.rig_frame(self.camera, self.place, angle, self.table.ra_deg, self.table.dec_deg)
        moved = np.hypot(x, y) * half
        edges, _ = wcs_twin.distances(self.camera, x, y)
        if self.light is None:
            inside = np.min(edges, axis=0)
            return np.count_nonzero(inside >= moved), np.count_nonzero(inside >= -moved)
        inside = np.min(edges[:4], axis=0)
        near = np.flatnonzero(inside >= -moved)
        lit = self.light.transmission(x[near], y[near])
        radius, hole = self.light.footprint.radius_mm, self.light.footprint.obstruction_ratio
        steepest = 2.0 * math.sqrt(2.0) * radius / (math.pi * radius**2 * (1.0 - hole**2))
        strayed = steepest * moved[near] * self.light.footprint.scale
        passed = self.light.vignetting(np.hypot(x, y))[near]
        surely = (inside >= moved)[near] & self._bright(near, np.clip(lit - strayed, 0.0, 1.0) * passed)
        maybe = self._bright(near, np.clip(lit + strayed, 0.0, 1.0) * passed)
        return np.count_nonzero(surely), np.count_nonzero(maybe)

    def _bright(self, stars, throughput):
        magnitude, setup, guiding = self.table.g_mag[stars], self.light.setup, self.camera.guiding
        return (snr(magnitude, throughput, setup) >= guiding.min_snr) & (
            peak_snr(magnitude, throughput, setup) >= guiding.min_peak_snr
        )


@pytest.mark.slow
@pytest.mark.parametrize("camera", [GEOMETRIC, LIT], ids=["geometric", "light"])
def test_usable_share_equals_a_camera_turned_step_by_step(camera):
    _, ra, dec = random_pixels(30, seed=11)
    found = at_places(camera, tycho2(), ra, dec, epoch_year=YEAR, columns=("usable_fraction",))
    partly = 0
    for place, ours in zip(zip(ra, dec, strict=True), found.coverage.usable_fraction, strict=True):
        theirs, ends = TurnedCamera(camera, place).share()
        assert ours == pytest.approx(theirs, abs=NARROWEST_DEG / 360.0 * ends + 1e-12), place
        partly += 0.0 < theirs < 1.0
    assert partly > 15


def test_light_decides_in_the_rig_with_light():
    light = rig_light(LIT)
    needed = light.needed_transmission(np.full(5, 16.0), np.arange(9.0, 14.0))
    assert np.any((needed > light.fully_lit) & (needed < light.grid_transmission.max()))


def field_area_deg2(camera):
    """Return the solid angle of the guide sensor less its margin, where nothing else cuts it, square degrees.

    Between x₁, x₂ and y₁, y₂ (tangents) the solid angle is the sum of ± arctan(xy/√(1 + x² + y²)) over the corners.
    """
    scale = 1.0 - camera.prism.ahead_mm / camera.telescope.exit_pupil_mm
    centre, margin = camera.prism.offset_mm / scale, camera.guiding.edge_margin_mm
    x = camera.guide_camera.width_mm / 2.0 - margin
    half = camera.guide_camera.height_mm / 2.0 - margin
    assert camera.guide_camera.turned_deg == 0.0
    assert x < camera.prism.width_mm / 2.0 / scale
    assert half < camera.prism.height_mm / 2.0 / scale

    def corner(x_mm, y_mm):
        a, b = (side / camera.telescope.focal_length_mm for side in (x_mm, y_mm))
        return math.atan(a * b / math.sqrt(1.0 + a * a + b * b))

    return 2.0 * (corner(x, centre + half) - corner(x, centre - half)) * math.degrees(1.0) ** 2


def latitudes(ra, dec):
    return np.abs(SkyCoord(ra * u.deg, dec * u.deg).galactic.b.deg)


WIDE = rig(REFRACTOR, guiding__faintest_mag=ALL_ENTRIES_MAG)
LONG = rig(COMPOUND, guiding__faintest_mag=ALL_ENTRIES_MAG)


@cache
def mean_stars():
    found = sky_map(WIDE, tycho2(), nside=32, epoch_year=2000.0, columns=("mean_stars",)).sweep
    return latitudes(found.ra_deg, found.dec_deg), found.coverage.mean_stars


BANDS = [(0.0, 2.5), (27.5, 32.5), (80.0, 90.0)]


@pytest.mark.parametrize(
    ("band", "density"),
    [*zip(BANDS, DENSITY_AT_DEG.values(), strict=True), *zip(BANDS, DENSITY_WITHIN.values(), strict=True)],
)
def test_mean_number_of_stars_is_density_times_area(band, density):
    latitude, stars = mean_stars()
    here = stars[(latitude >= band[0]) & (latitude <= band[1])]
    assert np.mean(here) == pytest.approx(density * field_area_deg2(WIDE), rel=0.08)


def uniform_sky(density_deg2, seed):
    """Return stars spread evenly over the sphere. Invented."""
    chance = np.random.default_rng(seed)
    count = chance.poisson(density_deg2 * 4.0 * math.pi * math.degrees(1.0) ** 2)
    ra, dec = 360.0 * chance.random(count), np.degrees(np.arcsin(2.0 * chance.random(count) - 1.0))
    return MadeUpSky(ra, dec, np.full(count, 12.0), name="invented uniform stars")


def independent_fields(camera, pixels):
    """Return how many guide fields share no star: fields side by side in a ring, times rings that are apart."""
    scale = 1.0 - camera.prism.ahead_mm / camera.telescope.exit_pupil_mm
    half_x, half_y = camera.guide_camera.width_mm / 2.0, camera.guide_camera.height_mm / 2.0
    inner = camera.prism.offset_mm / scale - half_y
    ring_deg = math.degrees(math.hypot(inner + 2.0 * half_y, half_x) / camera.telescope.focal_length_mm)
    assert 2.0 * ring_deg < math.degrees(math.sqrt(4.0 * math.pi / pixels))  # rings of neighbouring pixels are apart
    return pixels * math.pi / math.atan(half_x / inner)


@pytest.mark.parametrize("expected_stars", [0.3, 0.8])
def test_a_uniform_sky_has_the_poisson_availability(expected_stars):
    # Ragazzoni 1999, A&AS 136, 205, eq. 9: 1 − exp(−nA), n stars a square degree, A the field's area.
    sky = uniform_sky(expected_stars / field_area_deg2(LONG), seed=3)
    found = sky_map(LONG, sky, nside=32, epoch_year=2000.0, columns=("usable_fraction", "mean_stars")).coverage
    fields = independent_fields(LONG, 12 * 32**2)
    poisson = -math.expm1(-expected_stars)
    assert np.mean(found.usable_fraction) == pytest.approx(
        poisson, abs=4.0 * math.sqrt(poisson * (1.0 - poisson) / fields)
    )
    assert np.mean(found.mean_stars) == pytest.approx(expected_stars, abs=4.0 * math.sqrt(expected_stars / fields))


def density_at(latitude):
    """Return the printed densities between their latitudes, log-linear in sin |b|."""
    sines = np.sin(np.radians(list(DENSITY_AT_DEG)))
    return np.exp(np.interp(np.sin(np.radians(latitude)), sines, np.log(list(DENSITY_AT_DEG.values()))))


def test_the_real_sky_has_less_than_the_poisson_availability():
    """Stars are not spread evenly: the same mean number makes fewer fields usable.

    What the latitude alone takes away follows from the densities printed with Tycho-2; dust, clusters and longitude
    take more besides, but do not double it.
    """
    found = sky_map(LONG, tycho2(), nside=32, epoch_year=2000.0, columns=("usable_fraction", "mean_stars")).sweep
    latitude, usable = latitudes(found.ra_deg, found.dec_deg), found.coverage.usable_fraction
    stars = found.coverage.mean_stars
    assert 0.7 < np.mean(stars) < 0.9
    expected = density_at(latitude) * np.mean(stars) / np.mean(density_at(latitude))
    by_latitude = np.mean(-np.expm1(-expected)) + math.expm1(-np.mean(stars))
    departure = np.mean(usable) + math.expm1(-np.mean(stars))
    assert by_latitude == pytest.approx(-0.04, abs=0.005)
    assert 2.0 * by_latitude < departure < by_latitude
    for low, high in [(0.0, 10.0), (10.0, 20.0), (20.0, 30.0), (30.0, 60.0)]:
        here = (latitude >= low) & (latitude < high)
        assert np.mean(usable[here]) < -math.expm1(-np.mean(stars[here]))
        assert np.mean(usable[here]) > 0.9 * -math.expm1(-np.mean(stars[here]))


JSON_DIGIT = 5e-7
"""Shares stand in the JSON with six decimals."""
IN_JSON = {
    "usable_fraction": ("fraction", 0.02 / 360.0),
    "flip_safe_fraction": ("flip_safe_fraction", 0.02 / 360.0),
    "sure_fraction": ("sure_fraction", 0.1 / 360.0),
    "expected_fraction": ("expected_fraction", 1e-4),
}
"""How far a share may be off: as in tests/maps/test_sweep.py, which gives the reasons."""


@pytest.mark.slow
@pytest.mark.parametrize(("camera", "count"), [(PRESET, 50), (LIT, 8)], ids=["preset", "light decides"])
def test_a_row_of_the_map_is_what_check_says_there(camera, count):
    pixels, ra, dec = random_pixels(count, seed=12)
    if camera is PRESET:
        found = sky_map(camera, tycho2(), nside=NSIDE, epoch_year=YEAR, columns=tuple(IN_JSON))
        rows = np.searchsorted(found.ipix, pixels)
        coverage = found.coverage
    else:  # the whole sky would take long: the same engine, asked at those pixels alone
        rows = np.arange(len(pixels))
        coverage = at_places(camera, tycho2(), ra, dec, epoch_year=YEAR, columns=tuple(IN_JSON)).coverage
    told = [gs.check(at, camera, stars="tycho2", epoch=YEAR).to_json()["usable"] for at in zip(ra, dec, strict=True)]
    for column, (key, largest) in IN_JSON.items():
        theirs = np.array([usable[key] for usable in told], dtype=float)
        ours = getattr(coverage, column)[rows]
        np.testing.assert_allclose(ours, theirs, rtol=0.0, atol=largest + JSON_DIGIT, err_msg=column)
        assert len(np.unique(theirs)) > count / 2, column
