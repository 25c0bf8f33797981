"""The sky map in figures: bands, spreads, the share below a threshold, sparse fields, CSV."""

import csv
import io
import math
from itertools import pairwise

import numpy as np
import pytest
from support.rigs import COMPOUND, rig
from support.sky_maps import invented_map

from guidestar.errors import InputError
from guidestar.maps.bands import EDGES_DEG, bands, latitude_deg, spread, whole_sky
from guidestar.maps.regional import cell_means, over_the_sky
from guidestar.maps.summary import SPREADS, latitudes_csv, summarise


def test_bands_hold_the_sky_by_area():
    # Area of |b| from b1 to b2: the difference of sin b, as a share of the sphere.
    for band in bands(invented_map(64), 0.25):
        share = math.sin(math.radians(band.to_deg)) - math.sin(math.radians(band.from_deg))
        assert band.pixels / (12 * 64**2) == pytest.approx(share, rel=0.005)


def test_bands_part_the_sky_and_add_up_to_it():
    sky = invented_map(16)
    parts, whole = bands(sky, 0.25), whole_sky(sky, 0.25)
    assert [(band.from_deg, band.to_deg) for band in parts] == list(pairwise(EDGES_DEG))
    assert sum(band.pixels for band in parts) == whole.pixels == 12 * 16**2
    for name in SPREADS:
        total = sum(getattr(band, name).mean * band.pixels for band in parts)
        assert total / whole.pixels == pytest.approx(getattr(whole, name).mean, abs=1e-12)
    assert sum(band.no_angle * band.pixels for band in parts) / whole.pixels == pytest.approx(whole.no_angle)


def test_figures_are_those_of_the_pixels_one_by_one():
    sky = invented_map(8)
    latitude = latitude_deg(sky)
    for band in bands(sky, 0.3):
        here = [value for value, b in zip(sky.coverage.usable_fraction, latitude, strict=True)
                if band.from_deg <= b < band.to_deg]  # fmt: skip
        assert band.usable.mean == pytest.approx(sum(here) / len(here))
        assert band.usable.below == sum(value < 0.3 for value in here) / len(here)
        assert band.no_angle == sum(value == 0.0 for value in here) / len(here)
        low = sorted(here)[: max(1, int(0.05 * len(here)))][-1]
        assert band.usable.low >= low - 1e-12
        assert sum(value < band.usable.low for value in here) <= 0.05 * len(here) + 1


def test_no_data_takes_no_part():
    sky = invented_map(16, no_data_beyond_dec_deg=20.0)
    summary = summarise(sky)
    known = sky.coverage.usable_fraction[~sky.no_data]
    assert 0 < len(known) < len(sky.ipix)
    assert summary.whole.usable.mean == pytest.approx(known.mean())
    assert summary.whole.no_data == len(sky.ipix) - len(known)
    assert summary.no_data_deg2 == pytest.approx(41252.96 * (1 - math.sin(math.radians(20.0))) / 2, rel=0.03)
    assert summary.sparse_deg2 == pytest.approx(np.sum(known < 0.25) * sky.pixel_deg2)


def test_all_without_data_is_none_not_zero():
    summary = summarise(invented_map(4, no_data_beyond_dec_deg=-91.0))
    assert summary.whole.usable.mean is None
    assert summary.whole.no_angle is None
    assert summary.sparse_deg2 == 0.0
    assert summary.no_data_deg2 == pytest.approx(41252.96, abs=0.01)
    assert ",," in latitudes_csv(summary)


def test_a_mount_that_does_not_flip_has_no_flip_safe_share():
    summary = summarise(invented_map(4, camera=rig(COMPOUND, mount__kind="altaz")))
    assert summary.whole.flip_safe.mean is None
    assert summary.whole.usable.mean is not None


def test_a_band_beyond_the_bounds_is_empty():
    # Within 3° of the equator near no pixel of so coarse a map lies at |b| < 10° (its centres are few).
    summary = summarise(invented_map(2, bounds_deg=(-3.0, 3.0)))
    assert sum(band.pixels for band in summary.bands) == summary.whole.pixels == 8
    assert any(band.pixels == 0 and band.usable.mean is None for band in summary.bands)


def test_a_spread_of_known_numbers():
    found = spread(np.array([0.0, 0.1, 0.2, np.nan, 0.7]), 0.2)
    assert (found.mean, found.median, found.below) == pytest.approx((0.25, 0.15, 0.5))
    assert found.low == pytest.approx(0.015)  # linear between the two least of four


def test_the_csv_is_the_figures():
    summary = summarise(invented_map(8), 0.4)
    rows = list(csv.DictReader(io.StringIO(latitudes_csv(summary))))
    assert [(float(row["abs_b_from_deg"]), float(row["abs_b_to_deg"])) for row in rows[:-1]] == [
        (band.from_deg, band.to_deg) for band in summary.bands
    ]
    assert (rows[-1]["abs_b_from_deg"], rows[-1]["abs_b_to_deg"]) == ("0", "90")
    for row, band in zip(rows, (*summary.bands, summary.whole), strict=True):
        assert float(row["threshold"]) == 0.4
        for name in SPREADS:
            found = getattr(band, name)
            columns = [f"{name}_{word}" for word in ("mean", "median", "5th_percentile", "below_threshold")]
            assert [float(row[column]) for column in columns] == pytest.approx(
                [found.mean, found.median, found.low, found.below], abs=1e-5
            )
        assert float(row["no_angle"]) == pytest.approx(band.no_angle, abs=1e-5)


@pytest.mark.parametrize(("share", "words"), [(25.0, "25 % is 0.25"), (0.0, "0:"), (-1.0, "-1"), (math.nan, "nan")])
def test_a_threshold_that_is_no_share(share, words):
    with pytest.raises(InputError, match="--sparse") as caught:
        summarise(invented_map(1), share)
    assert words in str(caught.value)


def test_cells_are_means_of_the_pixels_in_them():
    sky = invented_map(32, no_data_beyond_dec_deg=60.0)
    values = sky.coverage.usable_fraction
    cells, order = cell_means(sky, values)
    assert order == 4
    assert len(cells) == 12 * 16**2
    for cell in (0, 777, 3071):
        inside = values[4 * cell : 4 * cell + 4]  # NESTED: four children stand together
        known = inside[~np.isnan(inside)]
        assert (np.isnan(cells[cell]) and not len(known)) or cells[cell] == pytest.approx(known.mean())
    same, order = cell_means(invented_map(4), invented_map(4).coverage.usable_fraction)
    assert order == 2
    assert np.array_equal(same, invented_map(4).coverage.usable_fraction)


def test_a_part_of_the_sky_stands_at_its_pixels():
    sky = invented_map(8, bounds_deg=(10.0, 50.0))
    whole = over_the_sky(sky, sky.coverage.mean_stars)
    assert np.array_equal(whole[sky.ipix], sky.coverage.mean_stars)
    assert np.isnan(np.delete(whole, sky.ipix)).all()
