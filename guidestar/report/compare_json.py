"""A comparison of rigs as plain JSON values (schema `guidestar.compare/1`), and its table as CSV.

Fields may be added to the schema, never changed or dropped. Shares and differences of shares to 1e-5; null where
nothing is known.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from typing import Any

from guidestar.maps.compare import Compared, Comparison, difference, means
from guidestar.maps.targets import Wished
from guidestar.report.json_values import COORDINATE_DIGITS, direction, number
from guidestar.report.map_json import at_to_json, band_to_json

SCHEMA = "guidestar.compare/1"


def compare_to_json(found: Comparison, notes: Sequence[str] = ()) -> dict[str, Any]:
    """Turn a comparison into values for `json.dumps`."""
    sky = found.rigs[0].sky
    stars = sky.sweep.stars
    return {
        "schema": SCHEMA,
        "epoch_year": number(sky.sweep.epoch_year, 4),
        "stars": {"source": stars.source, "band": stars.band, "complete_to_mag": number(stars.complete_to_mag, 3)},
        "nside": sky.nside,
        "bounds_deg": None if sky.bounds_deg is None else list(sky.bounds_deg),
        "sparse_below": number(found.rigs[0].summary.sparse_below, 5),
        "varied": [{"key": item.key, "values": [_value(value) for value in item.values]} for item in found.varied],
        "rigs": [_rig(found, at) for at in range(len(found.rigs))],
        "targets": [_target(found, at, row) for at, row in enumerate(found.rows)],
        "warnings": list(notes),
    }


def _value(value: float) -> float | str:
    """Return a varied value; JSON has no infinity."""
    return value if math.isfinite(value) else "inf"


def _rig(found: Comparison, at: int) -> dict[str, Any]:
    rig = found.rigs[at]
    pairs = zip(found.varied, rig.variant.values, strict=True)
    return {
        "name": rig.rig.name,
        "values": {item.key: _value(value) for item, value in pairs},
        "reach_mag": number(rig.reach_mag, 3),
        "lit_share": number(rig.lit_share, 5),
        "offset_mm": number(rig.rig.prism.offset_mm, 4),
        "least_clear_offset_mm": number(rig.least_clear_offset_mm, 4),
        "shadows_main_sensor": rig.shadows,
        "whole": band_to_json(rig.summary.whole),
        "bands": [band_to_json(band) for band in rig.summary.bands],
        "minus_first": _minus_first(found, rig),
        "warnings": list(rig.rig.warnings),
    }


def _minus_first(found: Comparison, rig: Compared) -> dict[str, Any]:
    *bands, usable, sure = (
        number(difference(value, before), 5) for value, before in zip(means(rig), means(found.rigs[0]), strict=True)
    )
    wholes = (rig.summary.whole.expected.mean, found.rigs[0].summary.whole.expected.mean)
    return {"usable": usable, "sure": sure, "expected": number(difference(*wholes), 5), "usable_by_band": bands}


def _target(found: Comparison, at: int, row: Wished) -> dict[str, Any]:
    if row.place is None:
        return {"row": row.number, "error": row.error}
    return {
        "row": row.number,
        "name": row.place.name,
        "ra_deg": direction(row.place.ra_deg, COORDINATE_DIGITS),
        "dec_deg": number(row.place.dec_deg, COORDINATE_DIGITS),
        "rigs": [at_to_json(rig.at[at]) for rig in found.rigs],
    }


def compare_csv(found: Comparison) -> str:
    """Return one line a rig: name, varied values, figures over the sky, and the usable share by band."""
    bands = [f"usable_{band.from_deg:g}_{band.to_deg:g}" for band in found.rigs[0].summary.bands]
    figures = ("usable", "sure", "flip_safe", "expected", "no_angle", "sparse")
    facts = ("reach_mag", "lit_share", "offset_mm", "least_clear_offset_mm", "shadows_main_sensor")
    page = io.StringIO()
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow(["rig", *(item.key for item in found.varied), *figures, *bands, *facts])
    for rig in found.rigs:
        whole = rig.summary.whole
        shares = (whole.usable.mean, whole.sure.mean, whole.flip_safe.mean, whole.expected.mean, whole.no_angle)
        more = (whole.usable.below, *(band.usable.mean for band in rig.summary.bands))
        known = [_cell(value) for value in (*shares, *more, rig.reach_mag, rig.lit_share)]
        offsets = [_cell(rig.rig.prism.offset_mm), _cell(rig.least_clear_offset_mm)]
        writer.writerow([rig.rig.name, *map(str, rig.variant.values), *known, *offsets, str(rig.shadows).lower()])
    return page.getvalue()


def _cell(value: float | None) -> str:
    return "" if value is None else f"{value:.5f}"
