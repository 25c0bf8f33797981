"""A killed fetch leaves a store that opens, and goes on to the same content (the benchmark store_kills does 50)."""

from pathlib import Path

from support.kill_fetch import kill_many


def test_kills_at_random_moments(server_url: str, tmp_path: Path) -> None:
    outcomes = kill_many(tmp_path, server_url, 2, seed=7)
    assert all(one.whole and one.same_content for one in outcomes)
    assert any(one.killed and one.stars_before for one in outcomes)
