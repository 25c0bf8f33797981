"""A `NightResult` as plain JSON values (schema `guidestar.night/1`).

Fields may be added to the schema, never changed or dropped. Moments are ISO 8601 by the site's clocks, to the second,
with their offset from UTC. No NaN or infinity leaves here.
"""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Any

from guidestar.night.result import Choice, Dark, Moment, NightResult, Run, SideOfNight, Span, TargetNight, Turning
from guidestar.report.json_output import to_json
from guidestar.report.json_values import COORDINATE_DIGITS, direction, number, tidy_intervals
from guidestar.report.night_wording import Clock, clock_of

SCHEMA = "guidestar.night/1"


def night_to_json(result: NightResult) -> dict[str, Any]:
    """Turn a result into values for `json.dumps(…, allow_nan=False)`."""
    clock = clock_of(result)
    return {
        "schema": SCHEMA,
        "evening": result.dark.evening.isoformat(),
        "rig": result.rig.name,
        "site": _site(result),
        "least_altitude_deg": number(result.least_altitude_deg, 3),
        "warnings": list(result.warnings),
        "dark": _dark(result.dark, clock),
        "targets": [_target(night, clock) for night in result.targets],
        "left_out": [asdict(row) for row in result.bad_rows],
    }


def _site(result: NightResult) -> dict[str, Any]:
    site = result.site
    line = site.horizon_deg
    return {
        "latitude_deg": number(site.latitude_deg, 6),
        "longitude_deg": number(site.longitude_deg, 6),
        "elevation_m": number(site.elevation_m, 1),
        "horizon_deg": number(line, 3)
        if isinstance(line, float | int)
        else [[number(a, 3), number(h, 3)] for a, h in line],
        "time_zone": site.time_zone,
    }


def _dark(dark: Dark, clock: Clock) -> dict[str, Any]:
    moon = dark.moon
    return {
        "kind": dark.kind,
        "spans": [_span(span, clock) for span in dark.spans],
        "hours": number(dark.hours, 3),
        "sun": dark.sun,
        "sunset": _moment(dark.sunset, clock),
        "sunrise": _moment(dark.sunrise, clock),
        "lowest_sun_deg": number(dark.lowest_sun_deg, 3),
        "nautical": [_span(span, clock) for span in dark.nautical],
        "astronomical": [_span(span, clock) for span in dark.astronomical],
        "moon": {
            "illuminated": number(moon.illuminated, 4),
            "phase_deg": number(moon.phase_deg, 2),
            "waxing": moon.waxing,
            "rises": _moment(moon.rises, clock),
            "sets": _moment(moon.sets, clock),
            "up_while_dark_hours": number(moon.up_while_dark_hours, 3),
        },
        "notes": list(dark.notes),
    }


def _target(night: TargetNight, clock: Clock) -> dict[str, Any]:
    target = night.target
    return {
        "warnings": list(night.warnings),
        "name": target.name,
        "row": night.row,
        "ra_deg": direction(target.ra_deg, COORDINATE_DIGITS),
        "dec_deg": number(target.dec_deg, COORDINATE_DIGITS),
        "windows": [{**_span(window, clock), "begins": window.begins, "ends": window.ends} for window in night.windows],
        "no_window": night.no_window,
        "hours": number(night.hours, 3),
        "guidable_hours": number(night.guidable_hours, 3),
        "longest_run_hours": number(night.longest_run_hours, 3),
        "star_changes": night.star_changes,
        "transit": _moment(night.transit, clock),
        "transit_altitude_deg": number(night.transit_altitude_deg, 2),
        "flip": _moment(night.flip, clock),
        "moon_least_separation_deg": number(night.moon_least_separation_deg, 1),
        "sun_separation_deg": number(night.sun_separation_deg, 1),
        "usable_angles_deg": tidy_intervals(night.usable),
        "sure_angles_deg": tidy_intervals(night.sure),
        "choice": None if night.choice is None else _choice(night.choice),
        "runs": [_run(run, clock) for run in night.runs],
        "sides": [_side(side, clock) for side in night.sides],
        "turning": None if night.turning is None else _turning(night.turning, clock),
        "quarter_hours": [_quarter(moment, clock) for moment in night.moments],
        "notes": list(night.notes),
    }


def _choice(choice: Choice) -> dict[str, Any]:
    return {
        "angle_deg": direction(choice.angle_deg),
        "asked": choice.asked,
        "holds": choice.holds,
        "margin_deg": number(choice.margin_deg, 4),
        "roll_deg": direction(choice.roll_deg),
    }


def _turning(turning: Turning, clock: Clock) -> dict[str, Any]:
    return {
        "total_deg": number(turning.total_deg, 2),
        "fastest_deg_per_hour": number(turning.fastest_deg_per_hour, 2),
        "fastest_at": _moment(turning.fastest_at, clock),
        "exposure_limit_s": number(turning.exposure_limit_s, 2),
    }


def _run(run: Run, clock: Clock) -> dict[str, Any]:
    return {
        **_span(run, clock),
        "side": run.side,
        "camera_angle_deg": direction(run.camera_angle_deg),
        "camera_angle_end_deg": direction(run.camera_angle_end_deg),
        "star_id": run.star_id,
        "g_mag": number(run.g_mag, 3),
        "exposure_s": number(run.exposure_s, 4),
        "would_be_id": run.would_be_id,
        "peak_fill": number(run.peak_fill, 4),
    }


def _side(side: SideOfNight, clock: Clock) -> dict[str, Any]:
    return {
        **_span(side, clock),
        "side": side.side,
        "camera_angle_deg": direction(side.camera_angle_deg),
        "usable_angles_deg": tidy_intervals(side.usable),
        "sure_angles_deg": tidy_intervals(side.sure),
        "own_angle_deg": direction(side.own_angle_deg),
        "hardest": _quarter(side.hardest, clock),
        "check": to_json(side.check),
    }


def _quarter(moment: Moment, clock: Clock) -> dict[str, Any]:
    return {
        "time": _moment(moment.time, clock),
        "altitude_deg": number(moment.altitude_deg, 3),
        "azimuth_deg": direction(moment.azimuth_deg, 3),
        "airmass": number(moment.airmass, 4),
        "extinction_mag": number(moment.extinction_mag, 4),
        "fwhm_arcsec": number(moment.fwhm_arcsec, 3),
        "parallactic_deg": number(moment.parallactic_deg, 3),
        "moon_altitude_deg": number(moment.moon_altitude_deg, 2),
        "moon_separation_deg": number(moment.moon_separation_deg, 2),
        "sky_v_mag_arcsec2": number(moment.sky_v_mag_arcsec2, 3),
        "moonlight_mag": number(moment.moonlight_mag, 3),
        "faintest_mag": number(moment.faintest_mag, 3),
        "usable_fraction": number(moment.usable_fraction, 5),
        "flipped": moment.flipped,
    }


def _span(span: Span, clock: Clock) -> dict[str, str | None]:
    return {"start": _moment(span.start, clock), "end": _moment(span.end, clock)}


def _moment(at: datetime | None, clock: Clock) -> str | None:
    return None if at is None else clock.local(at).isoformat(timespec="seconds")
