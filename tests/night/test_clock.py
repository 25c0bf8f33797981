from datetime import UTC, date, datetime, timedelta

import pytest

from guidestar.errors import InputError
from guidestar.night.clock import moment_of, noon_before, offset_changes, parse_evening, this_evening
from guidestar.rig import Site

BERLIN = Site(latitude_deg=52.5, longitude_deg=13.4, time_zone="Europe/Berlin")
SYDNEY = Site(latitude_deg=-33.9, longitude_deg=151.2, time_zone="Australia/Sydney")
FAR_WITH_UTC = Site(latitude_deg=-33.9, longitude_deg=151.2)
WEST_WITH_UTC = Site(latitude_deg=40.0, longitude_deg=-150.0)
EAST_AS_WEST = Site(latitude_deg=40.0, longitude_deg=210.0)


def test_a_date_is_read():
    assert parse_evening(" 2026-11-25 ") == date(2026, 11, 25)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("tomorrow", 'The date "tomorrow" cannot be read'),
        ("25.11.2026", "cannot be read"),
        ("2026-02-30", "There is no day"),
        ("1600-01-01", "1974 to 2099"),
        ("2300-01-01", "1974 to 2099"),
        ("2026-11-25T20:00", "cannot be read"),
        ("", "cannot be read"),
    ],
)
def test_what_is_no_evening_is_told(text, words):
    with pytest.raises(InputError, match=words):
        parse_evening(text)


@pytest.mark.parametrize("site", [BERLIN, SYDNEY, FAR_WITH_UTC, WEST_WITH_UTC, EAST_AS_WEST])
@pytest.mark.parametrize("day", [date(2026, 3, 28), date(2026, 10, 24), date(2026, 12, 31), date(2028, 2, 29)])
def test_a_night_begins_at_the_sun_s_mean_noon_of_its_date(site, day):
    """By the Sun's own time the evening has the date asked for, whatever clocks the site keeps."""
    noon = noon_before(day, site)
    east = (site.longitude_deg + 180.0) % 360.0 - 180.0
    by_sun = noon.replace(tzinfo=None) + timedelta(hours=east / 15.0)
    assert abs((by_sun - datetime(day.year, day.month, day.day, 12)).total_seconds()) < 1.0


def test_clocks_of_another_place_move_the_date():
    """Kiritimati's clocks are a day ahead of the Sun there: the evening of a date begins a day of the Sun earlier."""
    ahead = Site(latitude_deg=2.0, longitude_deg=-157.4, time_zone="Pacific/Kiritimati")
    noon = noon_before(date(2026, 11, 25), ahead)
    assert noon.astimezone(UTC).date() == date(2026, 11, 24)


@pytest.mark.parametrize(
    ("site", "now", "evening"),
    [
        (BERLIN, datetime(2026, 11, 25, 13, tzinfo=UTC), date(2026, 11, 25)),
        (BERLIN, datetime(2026, 11, 26, 1, tzinfo=UTC), date(2026, 11, 25)),
        (BERLIN, datetime(2026, 11, 26, 6, tzinfo=UTC), date(2026, 11, 26)),
        (SYDNEY, datetime(2026, 11, 25, 13, tzinfo=UTC), date(2026, 11, 25)),
        (FAR_WITH_UTC, datetime(2026, 11, 25, 17, tzinfo=UTC), date(2026, 11, 25)),
        (FAR_WITH_UTC, datetime(2026, 11, 25, 21, tzinfo=UTC), date(2026, 11, 26)),
    ],
)
def test_tonight_is_the_night_going_on_or_the_next(site, now, evening):
    assert this_evening(site, now) == evening


def test_clock_changes_are_found():
    start = noon_before(date(2026, 10, 24), BERLIN)
    assert offset_changes(BERLIN, start, start + timedelta(days=1)) == (timedelta(hours=2), timedelta(hours=1))
    start = noon_before(date(2026, 10, 25), BERLIN)
    assert offset_changes(BERLIN, start, start + timedelta(days=1)) is None


def test_moments_are_whole_seconds():
    assert moment_of(0.6) == datetime(1970, 1, 1, 0, 0, 1, tzinfo=UTC)
