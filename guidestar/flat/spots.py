"""Star-like spots in a frame: what gives away a picture of the sky that was meant to be a flat."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.float32]

_BLOCK = 32
_ERRORS = 10.0
_AROUND = 12
"""Pixels from a spot to the ring of places that have to be darker than it: beyond a star, within a grain of dust."""
_MARGIN = _AROUND + 1


def count_spots(values: Pixels) -> int:
    """Return how many blocks of 32 × 32 pixels of a frame hold a star-like spot.

    A spot is at least four neighbouring pixels far above their block, and above places on all sides: a hot pixel
    stands alone, and the bright side of a dust ring's edge goes on.
    """
    return sum(_spots_in_band(values, top) for top in range(0, values.shape[0] - 1, _BLOCK))


def _spots_in_band(values: Pixels, top: int) -> int:
    """Count the blocks with a spot in the band of rows that begins at `top`.

    Averaging 2 × 2 halves the noise, so a spot must stand out of its block's median by ten errors of that average, and
    the darkest of the four pixels by a third of that. Median and error come from every other pixel of every other row.
    """
    first = max(0, top - _MARGIN)
    band = values[first : top + _BLOCK + 1 + _MARGIN]
    corners = (band[:-1, :-1], band[1:, :-1], band[:-1, 1:], band[1:, 1:])
    smooth = (corners[0] + corners[1] + corners[2] + corners[3]) / np.float32(4.0)
    least = np.minimum(np.minimum(corners[0], corners[1]), np.minimum(corners[2], corners[3]))
    rows = slice(top - first, top - first + _BLOCK)
    starts = np.arange(0, smooth.shape[1], _BLOCK)
    level, error = _levels(smooth[rows], starts)
    owner = np.arange(smooth.shape[1]) // _BLOCK
    bright = smooth[rows] > (level + _ERRORS * error)[owner]
    bright &= least[rows] > (level + _ERRORS / 3 * error)[owner]
    candidates = np.flatnonzero(np.logical_or.reduceat(bright.any(axis=0), starts))
    return sum(
        _stands_alone(smooth, bright[:, start : start + _BLOCK], rows.start, start, _ERRORS / 2 * float(error[number]))
        for number, start in ((number, int(starts[number])) for number in candidates)
    )


def _levels(smooth: Pixels, starts: NDArray[np.intp]) -> tuple[Pixels, Pixels]:
    """Return each block's median, and the error of a pixel from the median deviation (1.4826 of it, for a Gaussian)."""
    level, error = np.empty(len(starts), np.float32), np.empty(len(starts), np.float32)
    for number, start in enumerate(starts):
        some = smooth[::2, start : start + _BLOCK : 2]
        level[number] = np.median(some)
        error[number] = 1.4826 * np.median(np.abs(some - level[number])) + 1e-12
    return level, error


def _stands_alone(smooth: Pixels, bright: NDArray[np.bool_], row: int, column: int, least_step: float) -> bool:
    """Tell whether the brightest marked pixel of a block is a step above the places round it, all but one at most.

    `bright` is the block, whose first pixel is (`row`, `column`) of `smooth`. One place may hold another star.
    """
    block = np.where(bright, smooth[row : row + bright.shape[0], column : column + bright.shape[1]], -np.inf)
    i, j = (int(n) for n in np.unravel_index(int(np.argmax(block)), block.shape))
    around = [
        float(smooth[row + i + down, column + j + right])
        for down in (-_AROUND, 0, _AROUND)
        for right in (-_AROUND, 0, _AROUND)
        if (down or right) and 0 <= row + i + down < smooth.shape[0] and 0 <= column + j + right < smooth.shape[1]
    ]
    highest = float(block[i, j]) - least_step
    return sum(value > highest for value in around) <= 1
