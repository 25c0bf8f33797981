"""Moments and days in words, by the clocks of a site."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from guidestar.night.result import NightResult, Span
from guidestar.report import wording as w
from guidestar.rig import Site

# The names are written out because the standard library's follow the person's own language.
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


@dataclass(frozen=True)
class Clock:
    """A site's clocks through one night; `changes` if they are put forward or back in it."""

    zone: ZoneInfo
    changes: bool

    def local(self, moment: datetime) -> datetime:
        """Return a moment by these clocks."""
        return moment.astimezone(self.zone)

    def nearest_minute(self, moment: datetime) -> datetime:
        """Return a moment by these clocks, rounded to the minute: the one rule of every text, table and card."""
        return self.local(moment + timedelta(seconds=30)).replace(second=0, microsecond=0)

    def at(self, moment: datetime) -> str:
        """Write a moment to the nearest minute, as "18:05"; with its offset from UTC where the clocks change."""
        there = self.nearest_minute(moment)
        return f"{there:%H:%M}{f'{w.NBSP}(UTC{offset(there)})' if self.changes else ''}"

    def span(self, span: Span) -> str:
        """Write a span, as "18:05 to 05:51"."""
        return f"{self.at(span.start)}{w.NBSP}to{w.NBSP}{self.at(span.end)}"


def clock_of(result: NightResult) -> Clock:
    """Return the clocks of a result's site."""
    zone = ZoneInfo(result.site.time_zone)
    ends = [moment.astimezone(zone).utcoffset() for moment in (result.dark.whole.start, result.dark.whole.end)]
    return Clock(zone, ends[0] != ends[1])


def offset(there: datetime) -> str:
    """Write what a clock shows more than UTC at a moment by it: "+2", "−3:30", "+0"."""
    minutes = round((there.utcoffset() or timedelta()).total_seconds() / 60.0)
    hours, rest = divmod(abs(minutes), 60)
    return f"{'−' if minutes < 0 else '+'}{hours}" + (f":{rest:02d}" if rest else "")


def day(evening: date) -> str:
    """Write a date as "Wednesday 25 November 2026"."""
    month = MONTHS[evening.month - 1]
    return f"{_DAYS[evening.weekday()]} {evening.day}{w.NBSP}{month} {evening.year}"


def hours(value_h: float) -> str:
    """Write a length of time: "11.5 h", under an hour "25 min"; what rounds to nothing is "under 1 min"."""
    if value_h >= 0.995:
        return w.unit(w.plain(value_h), "h")
    minutes = round(value_h * 60.0)
    return w.unit(str(minutes), "min") if minutes or value_h <= 0.0 else "under" + w.NBSP + w.unit("1", "min")


def place(site: Site) -> str:
    """Write where a site is: "50.10° N, 10.20° E"."""
    east = (site.longitude_deg + 180.0) % 360.0 - 180.0
    north_south = f"{abs(site.latitude_deg):.2f}°{w.NBSP}{'S' if site.latitude_deg < 0 else 'N'}"
    return f"{north_south}, {abs(east):.2f}°{w.NBSP}{'W' if east < 0 else 'E'}"
