"""A sky map's figures as plain JSON values (schema `guidestar.map/1`).

Fields may be added to the schema, never changed or dropped. Shares to 1e-5, null where nothing is known. What
confirmed stars say stands in `confirmed`, what is estimated besides in `expected`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from guidestar.maps.bands import Band, Spread
from guidestar.maps.result import COLUMNS, SkyMap
from guidestar.maps.summary import Summary
from guidestar.maps.targets import At, TargetHere
from guidestar.report.json_values import COORDINATE_DIGITS, direction, number

SCHEMA = "guidestar.map/1"

_SHARE_DIGITS = 5


def map_to_json(
    sky: SkyMap, summary: Summary, targets: Sequence[TargetHere] = (), notes: Sequence[str] = ()
) -> dict[str, Any]:
    """Turn a map's figures into values for `json.dumps`."""
    sweep = sky.sweep
    return {
        "schema": SCHEMA,
        "rig": sweep.rig.name,
        "epoch_year": number(sweep.epoch_year, 4),
        "stars": stars_to_json(sky),
        "nside": sky.nside,
        "pixel_deg2": number(sky.pixel_deg2, 6),
        "bounds_deg": None if sky.bounds_deg is None else list(sky.bounds_deg),
        "sparse_below": number(summary.sparse_below, _SHARE_DIGITS),
        "worked_out_deg2": number(summary.worked_out_deg2, 2),
        "no_data_deg2": number(summary.no_data_deg2, 2),
        "sparse_deg2": number(summary.sparse_deg2, 2),
        "whole": band_to_json(summary.whole),
        "bands": [band_to_json(band) for band in summary.bands],
        "targets": [_target(row) for row in targets],
        "warnings": [*sweep.rig.warnings, *notes],
    }


def stars_to_json(sky: SkyMap) -> dict[str, Any]:
    """Return which stars a map was made from, and how much work that was."""
    stars, work = sky.sweep.stars, sky.sweep.work
    return {
        "source": stars.source,
        "band": stars.band,
        "complete_to_mag": number(stars.complete_to_mag, 3),
        "faintest_mag": number(stars.faintest_mag, 3),
        "within_reach": work.stars_used,
        "pairs": work.pairs,
    }


def band_to_json(band: Band) -> dict[str, Any]:
    """Return a band's figures, the confirmed and the expected ones apart."""
    return {
        "abs_b_deg": [band.from_deg, band.to_deg],
        "pixels": band.pixels,
        "no_data_pixels": band.no_data,
        "confirmed": {
            "usable": _spread(band.usable),
            "sure": _spread(band.sure),
            "flip_safe": _spread(band.flip_safe),
            "no_angle": number(band.no_angle, _SHARE_DIGITS),
            "mean_stars": number(band.mean_stars, 4),
            "longest_blind_deg": number(band.longest_blind_deg, 3),
        },
        "expected": {"usable": _spread(band.expected)},
    }


def _spread(spread: Spread) -> dict[str, float | None]:
    return {
        "mean": number(spread.mean, _SHARE_DIGITS),
        "median": number(spread.median, _SHARE_DIGITS),
        "percentile_5": number(spread.low, _SHARE_DIGITS),
        "below_threshold": number(spread.below, _SHARE_DIGITS),
    }


def at_to_json(at: At | None) -> dict[str, float | None]:
    """Return the map's columns at a place; all null for a row that is none."""
    return {name: None if at is None else number(getattr(at, name), 6) for name in COLUMNS}


def _target(row: TargetHere) -> dict[str, Any]:
    if row.target is None:
        return {"row": row.number, "error": row.error}
    best = row.best
    return {
        "row": row.number,
        "name": row.target.name,
        "ra_deg": direction(row.target.ra_deg, COORDINATE_DIGITS),
        "dec_deg": number(row.target.dec_deg, COORDINATE_DIGITS),
        "b_deg": number(row.target.b_deg, 4),
        **at_to_json(row.at),
        "best": None if best is None else {"angle_deg": direction(best.angle_deg), "sure": bool(best.sure)},
    }
