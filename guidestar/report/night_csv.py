"""A night's targets as a table: CSV for a spreadsheet, the best of the night first."""

from __future__ import annotations

import csv
import io
import math
from datetime import datetime
from pathlib import Path
from typing import Any

from guidestar.night.result import NightResult, TargetNight
from guidestar.report import night_sentences as sentences
from guidestar.report import wording as w
from guidestar.report.json_values import direction, number
from guidestar.report.night_wording import Clock, clock_of
from guidestar.report.writing import write_whole

HEADINGS = (
    "rank",
    "target",
    "ra_deg",
    "dec_deg",
    "evening",
    "from",
    "to",
    "hours_up_dark",
    "hours_guided",
    "camera_angle_deg",
    "holds",
    "margin_deg",
    "stars",
    "flip",
    "transit",
    "transit_altitude_deg",
    "moon_least_separation_deg",
    "sun_separation_deg",
    "remark",
)


def night_to_csv(result: NightResult) -> str:
    """Return the table with a header; moments in ISO 8601 by the site's clocks."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(HEADINGS)
    writer.writerows(rows(result))
    return text.getvalue()


def save_night_csv(result: NightResult, path: Path) -> Path:
    """Write the table, whole or not at all.

    Raises
    ------
    InputError
        The file cannot be written; one that stood there stays as it was.
    """
    write_whole(path, night_to_csv(result).encode(), "table")
    return path


def rows(result: NightResult) -> list[list[Any]]:
    """Return one row a target; what there is not is empty."""
    clock = clock_of(result)
    return [_row(result, night, rank, clock) for rank, night in enumerate(result.targets, 1)]


def _row(result: NightResult, night: TargetNight, rank: int, clock: Clock) -> list[Any]:
    choice = night.choice
    stars = list(dict.fromkeys(run.star_id for run in night.runs if run.star_id))
    values = [
        rank,
        night.target.name,
        direction(night.target.ra_deg, 6),
        number(night.target.dec_deg, 6),
        result.dark.evening.isoformat(),
        _moment(night.windows[0].start if night.windows else None, clock),
        _moment(night.windows[-1].end if night.windows else None, clock),
        number(night.hours, 2),
        number(night.guidable_hours, 2),
        None if choice is None else direction(choice.angle_deg, 2),
        None if choice is None else choice.holds,
        None if choice is None else _margin(choice.margin_deg),
        "; ".join(stars),
        _moment(night.flip, clock),
        _moment(night.transit, clock),
        number(night.transit_altitude_deg, 1),
        number(night.moon_least_separation_deg, 1),
        number(night.sun_separation_deg, 1),
        _remark(night),
    ]
    return ["" if value is None else value for value in values]


def _margin(value_deg: float) -> float:
    """Round a margin down, as the text does: a promise is never made larger by rounding."""
    return math.floor(100.0 * value_deg + 1e-9) / 100.0


def _remark(night: TargetNight) -> str:
    remarks = [*night.warnings, *([night.no_window] if night.no_window else []), *sentences.saturated(night)]
    return " ".join(remarks).replace(w.NBSP, " ")  # names as in the other columns


def _moment(at: datetime | None, clock: Clock) -> str | None:
    return None if at is None else clock.nearest_minute(at).isoformat(timespec="minutes")
