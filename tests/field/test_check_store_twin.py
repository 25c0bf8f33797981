"""`check` in real deep fields, imported into a store, against the slow twin on the files' own rows.

Three whole nside-32 pixels of Gaia DR2 to G 16 (`../shared/data/gaia_fields`; about 3.5 % of the stars are missing
there, which is no matter for comparing two ways of counting the same ones).
"""

from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest
from support.compare import asserted_as_check
from support.rigs import COMPOUND, rig

from guidestar import check
from guidestar.sky import epoch, healpix, regions
from guidestar.stars.importing import import_file
from guidestar.stars.store import Store

FIELDS = Path(__file__).parents[3] / "shared" / "data" / "gaia_fields"
PIXELS = (12233, 12236, 12260)
EPOCH = 2026.9
STEP_DEG = 2.0


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    if not FIELDS.is_dir():
        pytest.skip("the Gaia fields are not at ../shared/data/gaia_fields")
    store = Store(tmp_path_factory.mktemp("deep") / "store")
    for pixel in PIXELS:
        file = FIELDS / f"dr2_nside32_pixel{pixel}_G16.parquet"
        whole = regions.of_pixels([pixel], 5)
        stars, _ = import_file(store, file, whole, 16.0, epoch_year=2015.5, release="Gaia DR2")
        # Pixels are told from positions of 2015.5 in the file and from numbers here: stars at an edge may differ.
        assert stars > 0.99 * pq.read_metadata(file).num_rows
    return store


def stars_of(pixel: int, limit: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the file's own rows, at the date."""
    table = pq.read_table(FIELDS / f"dr2_nside32_pixel{pixel}_G16.parquet").to_pydict()
    ra, dec, pm_ra, pm_dec, g = (np.array(table[n]) for n in ("ra", "dec", "pmra", "pmdec", "phot_g_mean_mag"))
    bright = g <= limit
    return epoch.moved(ra[bright], dec[bright], pm_ra[bright], pm_dec[bright], EPOCH - 2015.5)


@pytest.mark.parametrize("limit", [12.5, 14.0])
@pytest.mark.parametrize("pixel", PIXELS)
def test_usable_and_sure_angles_equal_the_twin(pixel: int, limit: float, store: Store) -> None:
    camera = rig(COMPOUND, guiding__faintest_mag=limit)
    ra, dec = healpix.pixel_centres([pixel], 5)
    place = (float(ra[0]), float(dec[0]))
    result = check(place, camera, stars="store", store=store.path, epoch=EPOCH)
    builtin = check(place, camera, stars="tycho2", epoch=EPOCH)
    assert result.stars.complete_to_mag == 16.0
    assert result.stars.candidates > builtin.stars.candidates
    assert all(star.id.startswith("Gaia DR2 ") for star in result.guide_stars)  # none of Tycho-2's was needed here
    stars = stars_of(pixel, limit)
    asserted_as_check(result.usable, camera, place, stars, STEP_DEG)
