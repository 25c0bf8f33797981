"""A service with the CDS's names for table and columns: tested on a stand-in, because the real one is not here."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from support.cds_stand_in import NAMES, CdsStandIn
from support.gaia_rows import stars_in

from guidestar.sky import regions
from guidestar.stars.counted import EDGES_G, read_counts
from guidestar.stars.fetch import fetch
from guidestar.stars.fetch_counts import fetch_counts
from guidestar.stars.services import SERVICES, Service, services_for
from guidestar.stars.store import SCHEMA, Store
from guidestar.stars.tap_network import Manners

pytestmark = pytest.mark.enable_socket
HERE = regions.from_text("5/100 104")
QUICK = Manners(silence_s=5.0, attempts=2, first_wait_s=0.01, longest_wait_s=0.01)


@pytest.fixture
def stars() -> dict[str, np.ndarray]:
    rows = stars_in(HERE, 200)
    rows["bp"][5] = np.nan
    ours = ("source_id", "ra_deg", "dec_deg", "pm_ra", "pm_dec", "g", "bp", "rp", "ruwe")
    return {theirs: rows[name] for theirs, name in zip(NAMES, ours, strict=True)}


@pytest.mark.parametrize("known", [True, False], ids=["by its name", "by an address"])
def test_stars_come_with_the_cds_names(known: bool, stars: dict[str, np.ndarray], tmp_path: Path) -> None:
    with CdsStandIn(stars) as service:
        asked: Service = replace(SERVICES[-1], url=service.url) if known else services_for(service.url)[0]
        done = fetch(Store(tmp_path), (asked,), HERE, 15.0, manners=QUICK)
    bright = stars["Gmag"] <= 15.0
    assert done.stars == bright.sum()
    rows = Store(tmp_path).read(Store(tmp_path).pixels(), list(SCHEMA))
    order, theirs = np.argsort(rows["source_id"]), np.argsort(stars["Source"][bright])
    pairs = {
        "source_id": "Source",
        "ra_deg": "RA_ICRS",
        "dec_deg": "DE_ICRS",
        "pm_ra": "pmRA",
        "g": "Gmag",
        "bp": "BPmag",
    }
    for name, cds in pairs.items():
        expected = stars[cds][bright][theirs].astype(SCHEMA[name])
        assert np.array_equal(rows[name][order], expected, equal_nan=True), name
    assert all("in_galaxy_candidates" not in query for query in service.queries)
    assert any('FROM "I/355/gaiadr3" WHERE' in query for query in service.queries)


def test_counts_come_with_the_cds_names(stars: dict[str, np.ndarray], tmp_path: Path) -> None:
    with CdsStandIn(stars) as service:
        done = fetch_counts(Store(tmp_path), (replace(SERVICES[-1], url=service.url),), HERE, 15.0, manners=QUICK)
    found = read_counts(Store(tmp_path))
    assert found is not None
    assert found.pixels.tolist() == [100, 104]
    for row, pixel in enumerate((100, 104)):
        mine = stars["Gmag"][stars["Source"] >> 49 == pixel]
        assert found.stars[row, :11].tolist() == [int(np.sum(mine < edge)) for edge in EDGES_G[:11]]
    assert done.stars == np.sum(stars["Gmag"] <= 15.0)


def test_rows_left_out_are_asked_for_in_parts(stars: dict[str, np.ndarray], tmp_path: Path) -> None:
    with CdsStandIn(stars) as service:
        whole = service.answer
        service.answer = lambda query, most: whole(query, min(most, 60))  # type: ignore[method-assign]
        done = fetch(Store(tmp_path), (replace(SERVICES[-1], url=service.url),), HERE, 16.0, manners=QUICK)
    assert done.stars == 200
    assert sum("SELECT Source" in query for query in service.queries) > 4


def test_limits_of_the_capabilities_are_kept(stars: dict[str, np.ndarray], tmp_path: Path) -> None:
    with CdsStandIn(stars) as service:
        service.most_rows = 31
        done = fetch(Store(tmp_path), (replace(SERVICES[-1], url=service.url),), HERE, 16.0, manners=QUICK)
    assert done.stars == 200
    assert sum("SELECT Source" in query for query in service.queries) >= 200 / 30
