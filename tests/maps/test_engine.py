"""Reading stars beside the rest of the preparations: the same however they come in parts, and stopped when asked."""

from __future__ import annotations

from threading import Event

import numpy as np
import pytest
from support.rigs import COMPOUND, rig

from guidestar.maps import engine
from guidestar.maps.facts import sweep_facts
from guidestar.maps.order import Part, ordered
from guidestar.maps.sweep import sky_map
from guidestar.stars.tycho2 import tycho2
from guidestar.stars.wholesky import sky_chunks

RIG = rig(COMPOUND, guiding__faintest_mag=9.0)
YEAR = 2026.9


@pytest.fixture
def chunks_taken(monkeypatch):
    """Count the chunks of stars that were read."""
    taken = []

    def counted(*args, **asked):
        for chunk in sky_chunks(*args, **asked):
            taken.append(len(chunk))
            yield chunk

    monkeypatch.setattr(engine, "sky_chunks", counted)
    return taken


def test_the_size_of_parts_changes_nothing(monkeypatch):
    whole = sky_map(RIG, tycho2(), nside=4, epoch_year=YEAR)
    monkeypatch.setattr(engine, "_STARS_A_PART", 1000)
    small = sky_map(RIG, tycho2(), nside=4, epoch_year=YEAR)
    assert small.sweep.work.stars_used == whole.sweep.work.stars_used > 100_000
    assert np.allclose(small.coverage.usable_fraction, whole.coverage.usable_fraction, atol=1e-12)
    assert np.allclose(small.coverage.mean_stars, whole.coverage.mean_stars, atol=1e-12)


def test_few_stars_and_a_tiny_ring_take_little_memory():
    """A patch of the sky for each ninetieth of this ring would be 1e12 of them."""
    star = Part(np.array([[1.0, 0.0, 0.0]]), np.zeros(1, np.float32), np.zeros(1, np.uint16))
    stars = ordered([star], ring_sr=1e-9, outer=1e-4, plain_need=0.5)
    assert stars.vectors.tolist() == [[1.0, 0.0, 0.0]]
    assert stars.starts.nbytes < 1_000_000


def test_reading_stops_when_it_is_told(chunks_taken):
    stop = Event()
    engine._read(sweep_facts(RIG), tycho2(), YEAR, np.empty(0), stop)
    whole = len(chunks_taken)
    assert whole > 100
    stop.set()
    assert engine._read(sweep_facts(RIG), tycho2(), YEAR, np.empty(0), stop) == []
    assert len(chunks_taken) == whole + 1


def test_an_interrupt_while_stars_are_read_stops_that(monkeypatch):
    under_way, told, taken = Event(), Event(), []

    class Stop(Event):
        def set(self):
            super().set()
            told.set()

    def slow(*args, **asked):
        for number, chunk in enumerate(sky_chunks(*args, **asked)):
            taken.append(number)
            if number == 3:
                under_way.set()
                assert told.wait(10)
            yield chunk

    def interrupted(*_, **__):
        assert under_way.wait(10)
        raise KeyboardInterrupt

    monkeypatch.setattr(engine, "Event", Stop)
    monkeypatch.setattr(engine, "sky_chunks", slow)
    monkeypatch.setattr(engine, "rig_numbers", interrupted)
    with pytest.raises(KeyboardInterrupt):
        sky_map(RIG, tycho2(), nside=4, epoch_year=YEAR)
    assert taken == [0, 1, 2, 3]
