"""Cutting the sky into questions, and the list of services."""

from __future__ import annotations

import numpy as np
import pytest

from guidestar.errors import DataError, InputError
from guidestar.sky import healpix, regions
from guidestar.stars import pieces
from guidestar.stars.amount import expected_stars
from guidestar.stars.fetch_counts import STARS_PER_PIECE, pieces_to_count
from guidestar.stars.services import SERVICES, Service, services_for

PLAIN = Service("x", "x", "http://x/tap", "gaiadr3.gaia_source")


def test_pieces_are_the_region_without_overlap() -> None:
    region = regions.union(regions.around(10.0, 80.0, 3.0), regions.around(200.0, -3.0, 0.5))
    cut = pieces.first_pieces(region)
    assert np.array_equal(regions.union(*(piece.region for piece in cut)), region)
    assert sum(regions.area_deg2(p.region) for p in cut) == pytest.approx(regions.area_deg2(region))
    assert all(len(piece.region) <= 40 for piece in cut)
    for piece in cut:
        parts = piece.split()
        assert len(parts) > 1
        assert np.array_equal(regions.union(*(part.region for part in parts)), piece.region)


def test_the_whole_sky_begins_with_twelve_pieces() -> None:
    cut = pieces.first_pieces(regions.whole_sky())
    assert len(cut) == 12
    assert [len(piece.split()) for piece in cut] == [4] * 12


def test_a_ragged_region_is_cut_until_its_question_is_short() -> None:
    ragged = regions.of_pixels(np.arange(0, 3000, 2), 9)
    cut = pieces.first_pieces(ragged)
    assert all(len(piece.region) <= 40 for piece in cut)
    assert np.array_equal(regions.union(*(piece.region for piece in cut)), ragged)


def test_the_finest_piece_cannot_be_split() -> None:
    with pytest.raises(DataError, match="smallest piece"):
        pieces.Piece(regions.of_pixels([5], 12), 12).split()


def test_numbers_of_a_region() -> None:
    """Gaia's number of a star is its order-12 pixel times 2³⁵ and more: an invented one in each of two pixels."""
    region = regions.of_pixels([7, 8, 100], 12)
    spans = pieces.number_ranges(region).tolist()
    assert spans == [[7 << 35, (9 << 35) - 1], [100 << 35, (101 << 35) - 1]]
    last = pieces.number_ranges(regions.whole_sky())[0, 1]
    assert last == (healpix.pixel_count(12) << 35) - 1 < 2**63


def test_questions() -> None:
    region = regions.of_pixels([7, 100], 12)
    where = "(source_id BETWEEN 240518168576 AND 274877906943 OR source_id BETWEEN 3435973836800 AND 3470333575167)"
    assert pieces.count_query(PLAIN, region, 15.5) == (
        f"SELECT COUNT(*) AS stars FROM gaiadr3.gaia_source WHERE {where} AND phot_g_mean_mag <= 15.5"
    )
    cds = SERVICES[-1]
    assert pieces.rows_query(cds, regions.of_pixels([7], 12), 16.0, ["source_id", "ra", "g"]) == (
        'SELECT Source, RA_ICRS, Gmag FROM "I/355/gaiadr3" '
        "WHERE (Source BETWEEN 240518168576 AND 274877906943) AND Gmag <= 16"
    )


def test_services() -> None:
    assert [service.name for service in services_for(None)] == ["esa", "ari", "gavo", "vizier"]
    assert services_for("GAVO")[0].table == "gaia.dr3lite"
    assert services_for("https://gaia.ari.uni-heidelberg.de/tap/sync")[0].name == "ari"
    assert services_for("http://127.0.0.1:99/tap/") == (
        Service("other", "http://127.0.0.1:99/tap", "http://127.0.0.1:99/tap", ""),
    )
    assert services_for("esa")[0].mode == "async"
    with pytest.raises(InputError, match=r'"visier" is not known: use esa, ari, .* did you mean "vizier"'):
        services_for("visier")


def test_pieces_to_count_are_whole_pixels_and_small_in_the_milky_way() -> None:
    region = regions.rounded_out(regions.union(regions.around(290.0, 15.0, 9.0), regions.around(192.9, 27.1, 9.0)), 5)
    cut = pieces_to_count(region, 17.0)
    assert np.array_equal(regions.union(*(piece.region for piece in cut)), region)
    assert sum(len(regions.pixels_of(piece.region, 5)) for piece in cut) == len(regions.pixels_of(region, 5))
    orders = {piece.order for piece in cut}
    assert min(orders) == 0  # the pole's pixels, which hold few stars, stay together
    assert max(orders) >= 2
    assert all(expected_stars(p.region, 17.0).stars <= STARS_PER_PIECE for p in cut)


def test_the_question_for_counts() -> None:
    """In words that all the services know: no LIMIT, no function of one archive's own."""
    query = pieces.groups_query(PLAIN, regions.from_text("5/100"), 16.5, 5)
    assert query == (
        "SELECT FLOOR(source_id/562949953421312) AS pixel, FLOOR(phot_g_mean_mag*2) AS step, COUNT(*) AS stars "
        "FROM gaiadr3.gaia_source WHERE (source_id BETWEEN 56294995342131200 AND 56857945295552511) "
        "AND phot_g_mean_mag <= 16.5 GROUP BY pixel, step"
    )
