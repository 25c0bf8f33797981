"""What a sky map comes to: the answer in a few numbers, worked out once for text, JSON, CSV and picture."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, fields
from typing import Final

from guidestar.errors import InputError
from guidestar.maps.bands import Band, Spread, bands, whole_sky
from guidestar.maps.result import SkyMap

SPREADS: Final = ("usable", "sure", "flip_safe", "expected")
SPARSE_BELOW: Final = 0.25
"""A field is sparse, unless another share is asked for, where less than a quarter of the circle finds a star."""


@dataclass(frozen=True)
class Summary:
    """A sky map in figures; areas in square degrees.

    `sparse_deg2`: sky where confirmed stars serve less than `sparse_below` of the circle.
    """

    sparse_below: float
    whole: Band
    bands: tuple[Band, ...]
    worked_out_deg2: float
    no_data_deg2: float
    sparse_deg2: float


def summarise(sky: SkyMap, sparse_below: float = SPARSE_BELOW) -> Summary:
    """Return a map's figures.

    Raises
    ------
    InputError
        A threshold that is no share.
    """
    require_share(sparse_below)
    whole = whole_sky(sky, sparse_below)
    known = (whole.pixels - whole.no_data) * sky.pixel_deg2
    return Summary(
        sparse_below=sparse_below,
        whole=whole,
        bands=bands(sky, sparse_below),
        worked_out_deg2=whole.pixels * sky.pixel_deg2,
        no_data_deg2=whole.no_data * sky.pixel_deg2,
        sparse_deg2=(whole.usable.below or 0.0) * known,
    )


def require_share(sparse_below: float) -> None:
    """Raise an InputError unless a threshold is a share of the circle."""
    if not 0.0 < sparse_below <= 1.0:
        percent = f" ({sparse_below:g} % is {sparse_below / 100:g})" if 1.0 < sparse_below <= 100.0 else ""
        raise InputError(f"--sparse {sparse_below:g}: must be a share of the circle above 0, at most 1{percent}.")


def latitudes_csv(summary: Summary) -> str:
    """Return the bands as CSV, one line a band, the last one the whole; an empty cell where nothing is known."""
    names = [field.name for field in fields(Spread)]
    heads = [f"{share}_{_HEADS.get(name, name)}" for share in SPREADS for name in names]
    page = io.StringIO()
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow(
        ["abs_b_from_deg", "abs_b_to_deg", "pixels", "no_data_pixels", "threshold", *heads, "no_angle", "mean_stars"]
    )
    for band in (*summary.bands, summary.whole):
        spreads = [getattr(getattr(band, share), name) for share in SPREADS for name in names]
        head = (f"{band.from_deg:g}", f"{band.to_deg:g}", band.pixels, band.no_data, f"{summary.sparse_below:g}")
        writer.writerow([*head, *(_cell(value) for value in (*spreads, band.no_angle, band.mean_stars))])
    return page.getvalue()


_HEADS: Final = {"low": "5th_percentile", "below": "below_threshold"}


def _cell(value: float | None) -> str:
    return "" if value is None else f"{value:.5f}"
