"""How many stars a region holds, told before they are fetched."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from guidestar.sky import regions
from guidestar.stars.amount import BYTES_PER_STAR, expected_stars
from guidestar.stars.counts import star_counts

COUNTS = Path(__file__).parents[3] / "shared" / "data" / "counts" / "gaiadr3_cumulative_nside32_nested.parquet"
PLANE, POLE, CLOUD, MAGELLANIC = (290.0, 15.0), (192.86, 27.13), (68.0, 26.5), (80.9, -69.8)


def test_plane_and_pole_differ_tenfold() -> None:
    plane, pole = (expected_stars(regions.around(*place, 3.0), 18.0) for place in (PLANE, POLE))
    assert plane.stars > 15 * pole.stars
    mean = 310_397_433 * regions.area_deg2(regions.around(*POLE, 3.0)) / regions.SKY_DEG2
    assert pole.stars < 0.25 * mean < mean < plane.stars
    assert plane.size_bytes == plane.stars * BYTES_PER_STAR


@pytest.mark.skipif(not COUNTS.is_file(), reason="the counts of ../shared/data are not here")
@pytest.mark.parametrize("place", [PLANE, POLE, CLOUD, MAGELLANIC])
@pytest.mark.parametrize("radius_deg", [3.0, 12.0])
def test_real_counts_lie_within_twice_the_error(place: tuple[float, float], radius_deg: float) -> None:
    counted = pq.read_table(COUNTS)
    order = np.argsort(counted["healpix32"].to_numpy())
    region = regions.rounded_out(regions.around(*place, radius_deg), 5)
    for g_mag in (16, 17, 18):
        real = counted[str(g_mag)].to_numpy()[order][regions.pixels_of(region, 5)].sum()
        told = expected_stars(region, float(g_mag))
        assert abs(told.stars - real) < 2 * told.error
        assert abs(told.stars / real - 1.0) < 0.08


def test_the_whole_sky_and_beyond_the_model() -> None:
    """Totals of Gaia DR3 (tests/authorities/gaia_dr3_totals.json); to G 21 all sources."""
    totals = {7.0: 62_723, 9.0: 177_426, 16.0: 83_407_737, 21.0: 1_811_709_771}
    for g_mag, total in totals.items():
        assert expected_stars(regions.whole_sky(), g_mag).stars == pytest.approx(total, rel=0.01)
    deep = expected_stars(regions.whole_sky(), 21.0)
    assert deep.error / deep.stars > 0.4


def test_small_and_odd_regions() -> None:
    assert expected_stars(regions.nowhere(), 16.0).stars == 0.0
    for text in ("12/5 1000000", "4/7", "3/300 5/12233", "9/100-130 8/4000"):
        region = regions.from_text(text)
        told = expected_stars(region, 16.0)
        slow = [
            star_counts().at(*place).per_deg2(16.0)[0]
            * regions.area_deg2(regions.intersection(region, regions.of_pixels([pixel], 7)))
            for pixel in regions.pixels_of(region, 7).tolist()
            for place in [_centre(pixel)]
        ]
        assert told.stars == pytest.approx(sum(slow), rel=0.03)
        assert told.error > 0.02 * told.stars


def _centre(pixel: int) -> tuple[float, float]:
    from guidestar.sky import healpix

    ra, dec = healpix.pixel_centres([pixel], 7)
    return float(ra[0]), float(dec[0])
