"""What counts as a star-like spot: stars do, hot pixels, dust and edges do not."""

import numpy as np
import pytest
from support import flats

from guidestar.flat.frame import flat_frame
from guidestar.flat.spots import count_spots


@pytest.fixture
def even():
    return np.random.default_rng(3).normal(10000.0, 100.0, (300, 400)).astype(np.float32)


def with_star(frame, row, column, peak, sigma=1.8):
    rows, columns = np.indices(frame.shape)
    return frame + np.float32(peak) * np.exp(-((rows - row) ** 2 + (columns - column) ** 2) / (2 * sigma**2))


def test_nothing_in_an_even_frame(even):
    assert count_spots(even) == 0


@pytest.mark.parametrize(("row", "column"), [(150, 200), (31, 32), (2, 2), (297, 397), (150, 1), (64, 95)])
def test_a_star_counts_anywhere(even, row, column):
    """On the border of two or four blocks it may count in each."""
    assert 1 <= count_spots(with_star(even, row, column, 3000.0)) <= 4


def test_two_stars_close_together_both_count(even):
    assert count_spots(with_star(with_star(even, 80, 80, 3000.0), 80, 92, 2500.0)) >= 1


def test_a_hot_pixel_does_not(even):
    even[150, 200] = 60000.0
    assert count_spots(even) == 0


def test_dust_and_the_bright_side_of_an_edge_do_not(even):
    """The picture just outside a large grain of dust is brighter than most of its block, but it goes on."""
    rows, columns = np.indices(even.shape)
    dusty = even * np.where(np.hypot(rows - 150, columns - 200) < 60, 0.9, 1.0)
    assert count_spots(dusty.astype(np.float32)) == 0
    assert count_spots((even * np.where(columns < 210, 0.5, 1.0)).astype(np.float32)) == 0


def test_a_frame_cut_by_a_round_opening_is_no_picture_of_stars():
    """This one once was refused for seven spots."""
    frame = flat_frame(flats.round_stop_flat(100_045, colour=True).pixels)
    assert count_spots(frame.pixels) <= 1
