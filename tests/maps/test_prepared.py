"""Whether compiling is still to come is known before, and a folder that cannot be written to does no harm."""

import pytest

from guidestar.maps import kernels, prepared


@pytest.fixture
def other_kernels(monkeypatch, tmp_path):
    """Keep what is noted for other kernels in a folder of its own."""

    class Stats:
        cache_path = str(tmp_path)

    class Kernel:
        stats = Stats

    monkeypatch.setattr(kernels, "sweep_targets", Kernel)
    return tmp_path


def test_a_sweep_that_ended_is_remembered_for_these_kernels(other_kernels, monkeypatch):
    assert not prepared.is_prepared()
    prepared.remember()
    assert prepared.is_prepared()
    monkeypatch.setattr(kernels, "STAMP", kernels.STAMP ^ 1)
    assert not prepared.is_prepared()


def test_nothing_is_noted_in_a_folder_that_is_not_there(other_kernels):
    other_kernels.rmdir()
    prepared.remember()
    assert not prepared.is_prepared()


def test_kernels_tell_where_they_are_kept():
    assert kernels.sweep_targets.stats.cache_path
