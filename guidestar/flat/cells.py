"""A flat frame reduced to a coarse grid of cells, on which all searching and fitting is done.

Each cell holds the logarithm of the median of its pixels: a median forgets hot pixels and small dust, and in the
logarithm falloff, gradient and shadow add up instead of multiplying.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

CELLS_ALONG = 60
"""Cells along the longer side: a prism's shadow, a tenth of the frame wide or more, spans several."""


@dataclass(frozen=True)
class Cells:
    """A flat on a grid of cells.

    `right`, `up` (n,) are the cells' centres from the middle of the displayed picture in units of half its longer
    side; `log_light` (n,) the natural logarithm of their median brightness; `noise` its standard error from pixel to
    pixel scatter; `rows`, `columns` the grid, row 0 on top; `half_width`, `half_height` of the frame, one of them 1.
    """

    right: FloatArray
    up: FloatArray
    log_light: FloatArray
    noise: float
    rows: int
    columns: int
    half_width: float
    half_height: float


def to_cells(pixels: NDArray[np.floating]) -> Cells:
    """Reduce a frame (row 0 on top, linear, positive) to cells; cells differ by a pixel at most."""
    height, width = pixels.shape
    step = max(1, round(max(width, height) / CELLS_ALONG))
    rows, columns = max(1, height // step), max(1, width // step)
    row_edges, column_edges = (np.linspace(0, n, k + 1).astype(int) for n, k in ((height, rows), (width, columns)))
    medians = np.empty((rows, columns))
    errors = np.empty((rows, columns))
    for i in range(rows):
        band = pixels[row_edges[i] : row_edges[i + 1]]
        for j in range(columns):
            cell = band[:, column_edges[j] : column_edges[j + 1]]
            low, medians[i, j], high = _quartiles(cell)
            errors[i, j] = (high - low) / 1.349 * 1.2533 / np.sqrt(cell.size)
    half = max(width, height) / 2
    right, up = grid(rows, columns, width / 2 / half, height / 2 / half)
    floor = max(float(np.max(medians)) * 1e-3, 1e-9)
    light = np.maximum(medians, floor)
    return Cells(
        right=right,
        up=up,
        log_light=np.log(light).ravel(),
        noise=float(np.median(errors / light)),
        rows=rows,
        columns=columns,
        half_width=width / 2 / half,
        half_height=height / 2 / half,
    )


def _quartiles(cell: NDArray[np.floating]) -> tuple[float, float, float]:
    """Return the quartiles; the middle one is a median proper, the mean of the middle two of an even number."""
    size = cell.size
    places = (size // 4, (size - 1) // 2, size // 2, 3 * size // 4)
    ordered = np.partition(cell, places, axis=None)
    low, below, above, high = (float(ordered[place]) for place in places)
    return low, (below + above) / 2.0, high


def grid(rows: int, columns: int, half_width: float, half_height: float) -> tuple[FloatArray, FloatArray]:
    """Return (right, up) of the cells' centres, (n,) each, row by row from the top; cells differ by a pixel at most."""
    right = ((np.arange(columns) + 0.5) / columns * 2.0 - 1.0) * half_width
    up = (1.0 - (np.arange(rows) + 0.5) / rows * 2.0) * half_height
    x, y = np.meshgrid(right, up)
    return x.ravel(), y.ravel()
