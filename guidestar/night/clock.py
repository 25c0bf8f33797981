"""The evening's date, and the 24 hours that belong to it."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Final
from zoneinfo import ZoneInfo

from guidestar.errors import InputError
from guidestar.rig import Site
from guidestar.sky.ephemeris import FIRST_YEAR, LAST_YEAR

_STILL_NIGHT_H: Final = 6.0
"""Before this hour of the Sun's mean time a night still belongs to the evening before."""


def parse_evening(text: str) -> date:
    """Read the evening's date, YYYY-MM-DD.

    Raises
    ------
    InputError
        If it is anything else, if there is no such day, or if the year cannot be reckoned.
    """
    stripped = text.strip()
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", stripped, flags=re.ASCII):
        raise InputError(f'The date "{stripped}" cannot be read: write the evening\'s date as 2026-11-25.')
    try:
        evening = date.fromisoformat(stripped)
    except ValueError as error:
        raise InputError(f'There is no day "{stripped}" in the calendar: write year-month-day.') from error
    if not FIRST_YEAR < evening.year <= LAST_YEAR - 1:
        raise InputError(
            f"The date {stripped} is out of range: the Earth's rotation and the stars' places are reckoned for the "
            f"years {FIRST_YEAR + 1} to {LAST_YEAR - 1} only."
        )
    return evening


def this_evening(site: Site, now: datetime | None = None) -> date:
    """Return the date of the evening whose night is going on or comes next at a site; before 6 h it is yesterday's."""
    moment = now or datetime.now(UTC)
    return (moment.astimezone(_sun_time(site)) - timedelta(hours=_STILL_NIGHT_H)).date()


def noon_before(evening: date, site: Site) -> datetime:
    """Return the Sun's mean noon before a night: that nearest to noon of the evening's date by the site's clocks.

    So the date is right even where the clocks are not the place's own, as with UTC far from Greenwich.
    """
    by_clock = datetime.combine(evening, time(12), zone_of(site))
    by_sun = datetime.combine(evening, time(12), _sun_time(site))
    days = round((by_clock - by_sun) / timedelta(days=1))
    return (by_sun + timedelta(days=days)).astimezone(UTC)


def zone_of(site: Site) -> ZoneInfo:
    """Return a site's time zone."""
    return ZoneInfo(site.time_zone)


def offset_changes(site: Site, start: datetime, end: datetime) -> tuple[timedelta, timedelta] | None:
    """Return what a site's clocks differ from UTC by before and after, if they change between two moments."""
    zone = zone_of(site)
    before, after = (moment.astimezone(zone).utcoffset() or timedelta() for moment in (start, end))
    return None if before == after else (before, after)


def _sun_time(site: Site) -> timezone:
    """Return the Sun's mean time at a site as a time zone: 4 minutes for each degree of longitude."""
    east_deg = (site.longitude_deg + 180.0) % 360.0 - 180.0
    return timezone(timedelta(minutes=4.0 * east_deg))


def unix_of(moment: datetime) -> float:
    """Return a moment in Unix seconds."""
    return moment.timestamp()


def moment_of(unix_s: float) -> datetime:
    """Return Unix seconds as a moment in UTC, to the second."""
    return datetime.fromtimestamp(round(float(unix_s)), UTC)
