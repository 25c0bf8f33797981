"""The real TAP server for these tests, and the proxy that spoils its answers."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from support.fault_proxy import FaultProxy

from guidestar.sky import regions
from guidestar.sky.regions import Region
from guidestar.stars.services import Service, services_for
from guidestar.stars.store import Store

BRIGHT_FIELD = "3/300 301"
"""Where the server has its stars to G 10 only: 107 square degrees."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The tests of this folder talk to 127.0.0.1; everywhere else sockets stay shut."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.enable_socket)


@pytest.fixture(scope="session")
def server_url() -> str:
    url = os.environ.get("GUIDESTAR_TEST_TAP")
    if not url:
        pytest.skip("no TAP server: tests/tap/setup_server.sh all starts one; set GUIDESTAR_TEST_TAP to its address")
    return url


@pytest.fixture(scope="session")
def server_home() -> Path:
    """The server's folder, where it was set up on this computer."""
    home = Path(os.environ.get("TAP_HOME", "/tmp/guidestar-tap"))
    if not (home / "rows.json").is_file():
        pytest.skip(f"the TAP server's folder {home} is not on this computer")
    return home


@pytest.fixture(scope="session")
def rows_loaded(server_home: Path) -> dict[str, int]:
    """How many stars were loaded into the server, by part."""
    return json.loads((server_home / "rows.json").read_text())


@pytest.fixture
def services(server_url: str) -> tuple[Service, ...]:
    return services_for(server_url)


@pytest.fixture
def proxy(server_url: str) -> Iterator[FaultProxy]:
    with FaultProxy(server_url) as running:
        yield running


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "store")


@pytest.fixture(scope="session")
def field() -> Region:
    return regions.from_text(BRIGHT_FIELD)
