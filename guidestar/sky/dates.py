"""Dates as Julian epochs: 2000.0 is 2000 January 1, noon, and a Julian year is 365.25 days."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from typing import Final

from guidestar.errors import InputError

EARLIEST_YEAR: Final = 1900.0
LATEST_YEAR: Final = 2100.0
"""A century about the catalogues' own epochs (1991 to 2016).

Proper motions are straight lines, good to some 2.5 milliarcseconds a year (Tycho-2): a century makes that a
quarter of an arcsecond. A search has to be widened by the fastest star's 10.4″ a year, over a century 17′, as
much as the guide field's own distance; beyond, the answer would be slow and no better.
"""

_J2000_ORDINAL: Final = date(2000, 1, 1).toordinal() + 0.5  # days on the scale of date.toordinal, at noon
_DAYS_PER_YEAR: Final = 365.25
_SECONDS_PER_DAY: Final = 86400.0


def year_today(now: datetime | None = None) -> float:
    """Give the present moment, or `now` (with a time zone), as a Julian epoch.

    UTC stands in for TT, which is about 70 s ahead: 2e-6 of a year.
    """
    moment = (now or datetime.now(UTC)).astimezone(UTC)
    clock_s = moment.hour * 3600 + moment.minute * 60 + moment.second + moment.microsecond * 1e-6
    return _julian_epoch(moment.date(), clock_s / _SECONDS_PER_DAY)


def parse_epoch(text: str) -> float:
    """Read a date: a year with decimals ("2026.9", "J2026.9") or a calendar day ("2026-11-25", 0 h).

    Returns
    -------
    float
        Julian epoch, within 1900 to 2100.

    Raises
    ------
    InputError
        If the text is neither, if there is no such day, or if the year is out of range.
    """
    stripped = text.strip()
    year = _decimal_year(stripped)
    if year is None:
        year = _calendar_day(stripped)
    if year is None:
        raise InputError(f'The date "{stripped}" cannot be read: write a year such as 2026.9, or a day as 2026-11-25.')
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        raise InputError(
            f'The date "{stripped}" is out of range: star positions are moved to years from '
            f"{EARLIEST_YEAR:.0f} to {LATEST_YEAR:.0f} only."
        )
    return year


def _decimal_year(text: str) -> float | None:
    found = re.fullmatch(r"[Jj]?\s*(\d{1,9}(?:\.\d*)?)", text, flags=re.ASCII)
    return float(found[1]) if found else None


def _calendar_day(text: str) -> float | None:
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, flags=re.ASCII):
        return None
    try:
        return _julian_epoch(date.fromisoformat(text), 0.0)
    except ValueError as error:
        raise InputError(f'There is no day "{text}" in the calendar: write year-month-day.') from error


def _julian_epoch(day: date, fraction: float) -> float:
    """Turn a calendar day and the share of it that has passed into a Julian epoch."""
    return 2000.0 + (day.toordinal() + fraction - _J2000_ORDINAL) / _DAYS_PER_YEAR
