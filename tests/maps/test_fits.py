"""The FITS files read back by others: healpy for the maps, mocpy for the MOC, astropy for the standard."""

import numpy as np
import pytest
from astropy import units
from astropy.coordinates import SkyCoord
from astropy.io import fits
from astropy.table import Table
from support.rigs import COMPOUND, rig
from support.sky_maps import invented_map

from guidestar.maps.fits import UNITS, UNSEEN, plain_text, write_coverage, write_differences
from guidestar.maps.moc import sparse_pixels, write_sparse
from guidestar.maps.result import COLUMNS

ISSUE_COLUMNS = (
    "usable_fraction", "flip_safe_fraction", "sure_fraction", "mean_stars", "longest_blind_deg", "expected_fraction",
)  # fmt: skip

PIXEL_CARDS = {
    "PIXTYPE": "HEALPIX", "ORDERING": "NESTED", "COORDSYS": "C", "NSIDE": 16, "FIRSTPIX": 0, "LASTPIX": 3071,
    "INDXSCHM": "IMPLICIT", "OBJECT": "FULLSKY",
}  # fmt: skip


@pytest.fixture(scope="module")
def sky():
    return invented_map(16, no_data_beyond_dec_deg=70.0)


@pytest.fixture(scope="module")
def path(sky, tmp_path_factory):
    made = tmp_path_factory.mktemp("fits") / "coverage.fits"
    write_coverage(sky, made, sparse_below=0.25)
    return made


@pytest.fixture
def healpy():
    """The authority on HEALPix files (not built for Windows)."""
    return pytest.importorskip("healpy")


def seen(values):
    """What healpy takes for a value: not NaN, not its own mark."""
    return np.where(np.isnan(values), UNSEEN, values).astype(np.float32)


def test_healpy_reads_every_column_at_its_pixels(path, sky, healpy):
    assert COLUMNS == ISSUE_COLUMNS
    for number, name in enumerate(COLUMNS):
        column = healpy.read_map(path, field=number, nest=True)
        assert healpy.get_nside(column) == sky.nside
        assert np.array_equal(column.astype(np.float32), seen(getattr(sky.coverage, name)))
        assert np.array_equal(column == healpy.UNSEEN, np.isnan(getattr(sky.coverage, name)))


def test_pixels_are_where_healpy_has_them(path, sky, healpy):
    longitude, latitude = healpy.pix2ang(sky.nside, sky.ipix, nest=True, lonlat=True)
    assert sky.sweep.ra_deg == pytest.approx(longitude, abs=1e-9)
    assert sky.sweep.dec_deg == pytest.approx(latitude, abs=1e-9)
    # In RING order the same sky: the value at a place does not depend on the order asked for.
    nested, ring = (healpy.read_map(path, field=0, nest=nest) for nest in (True, False))
    numbers = healpy.ang2pix(sky.nside, longitude, latitude, nest=False, lonlat=True)
    assert np.array_equal(ring[numbers], nested)


def test_areas_are_healpys(sky, healpy):
    assert sky.pixel_deg2 == pytest.approx(healpy.nside2pixarea(sky.nside, degrees=True), rel=1e-12)


def test_the_header_says_what_healpix_readers_want(path, sky):
    with fits.open(path) as files:
        files.verify("exception")
        assert len(files) == 2
        header = files[1].header
        assert isinstance(files[1], fits.BinTableHDU)
        found = {key: header[key] for key in PIXEL_CARDS}
    assert found == PIXEL_CARDS
    assert header["NAXIS2"] == 12 * 16**2
    assert [header[f"TTYPE{number}"] for number in range(1, 7)] == list(ISSUE_COLUMNS)
    assert [header[f"TUNIT{number}"] for number in range(1, 7)] == ["", "", "", "count", "deg", ""]
    assert set(UNITS) == set(ISSUE_COLUMNS)
    assert header["RIG"] == sky.sweep.rig.name
    assert (header["STARS"], header["COMPLETE"], header["REACH"]) == ("invented stars", 10.5, 14.85)
    assert (header["EPOCH"], header["SPARSE"], header["RADESYS"]) == (2027.0, 0.25, "ICRS")
    assert header["NODATA"] == np.count_nonzero(sky.no_data) > 0


def test_astropy_reads_the_units(path):
    table = Table.read(path, hdu=1, unit_parse_strict="raise")
    assert table["longest_blind_deg"].unit == units.deg
    assert table["mean_stars"].unit == units.ct
    assert table["usable_fraction"].unit in (None, units.dimensionless_unscaled)


def test_a_band_of_declination_is_still_the_whole_sky(tmp_path, healpy):
    sky = invented_map(8, bounds_deg=(-10.0, 40.0))
    write_coverage(sky, tmp_path / "a.fits", sparse_below=0.25)
    column = healpy.read_map(tmp_path / "a.fits", field=0, nest=True)
    assert len(column) == 12 * 8**2
    assert np.array_equal(np.flatnonzero(column != healpy.UNSEEN), sky.ipix)
    header = fits.getheader(tmp_path / "a.fits", 1)
    assert (header["DECMIN"], header["DECMAX"]) == (-10.0, 40.0)


def test_names_in_any_script_go_into_the_header(tmp_path):
    name = "Rig “8 × 8 mm”, Größe 2°, ünïcödé 望遠鏡 " + "x" * 60
    sky = invented_map(2, camera=rig(COMPOUND).with_values({"name": name}))
    write_coverage(sky, tmp_path / "a.fits", sparse_below=0.25)
    write_sparse(sky, 0.9, tmp_path / "b.fits")
    for file in ("a.fits", "b.fits"):
        assert fits.getheader(tmp_path / file, 1)["RIG"].startswith('Rig "8 x 8 mm", Grosse 2 deg, unicode ???')
    assert plain_text("−3′ – 4″") == "-3' - 4\""


def test_differences_stand_in_columns(tmp_path, healpy):
    first, other = invented_map(8), invented_map(8, richness=5.0, no_data_beyond_dec_deg=45.0)
    long = "a rig of a very long name, " * 5
    write_differences(first, [(long, other), ("same", first)], tmp_path / "d.fits")
    gain, none = (healpy.read_map(tmp_path / "d.fits", field=number, nest=True) for number in (0, 1))
    assert np.array_equal(
        gain.astype(np.float32), seen(other.coverage.usable_fraction - first.coverage.usable_fraction)
    )
    assert gain[gain != healpy.UNSEEN].min() >= 0.0
    assert not none.any()
    assert fits.getheader(tmp_path / "d.fits", 1)["RIG1"] == long.strip()


@pytest.mark.parametrize("share", [0.25, 0.6, 1.0])
def test_mocpy_reads_the_sparse_fields(tmp_path, sky, share):
    from mocpy import MOC

    path = tmp_path / "sparse.moc.fits"
    write_sparse(sky, share, path)
    moc = MOC.from_fits(path)
    sparse = np.nan_to_num(sky.coverage.usable_fraction, nan=9.0) < share
    assert 0 < np.count_nonzero(sparse) < len(sparse)
    assert moc.sky_fraction == pytest.approx(np.count_nonzero(sparse) / (12 * 16**2), abs=1e-12)
    assert moc.max_order == 4
    places = SkyCoord(sky.sweep.ra_deg, sky.sweep.dec_deg, unit="deg")
    assert np.array_equal(moc.contains_skycoords(places), sparse)
    header = fits.getheader(path, 1)
    assert (header["MOCVERS"], header["MOCDIM"], header["ORDERING"], header["COORDSYS"]) == (
        "2.0",
        "SPACE",
        "RANGE",
        "C",
    )
    assert header["SPARSE"] == share


def test_no_sparse_field_is_an_empty_moc(tmp_path):
    from mocpy import MOC

    sky = invented_map(4, richness=60.0)
    assert not len(sparse_pixels(sky, 0.25))
    write_sparse(sky, 0.25, tmp_path / "a.fits")
    assert MOC.from_fits(tmp_path / "a.fits").sky_fraction == 0.0
