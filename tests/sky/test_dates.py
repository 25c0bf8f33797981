"""Dates as Julian epochs, against astropy's Time."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from guidestar.errors import InputError
from guidestar.sky.dates import parse_epoch, year_today


@pytest.mark.parametrize(
    ("text", "year"),
    [
        ("2026.9", 2026.9),
        ("J2026.9", 2026.9),
        ("j2000", 2000.0),
        (" 2016 ", 2016.0),
        ("1900", 1900.0),
        ("2100.0", 2100.0),
        ("1991.25", 1991.25),
    ],
)
def test_years(text, year):
    assert parse_epoch(text) == year


def test_the_standard_epoch():
    """J2000.0 is 2000 January 1, 12 h, by definition: the day itself begins half a day earlier."""
    assert parse_epoch("2000-01-01") == pytest.approx(2000.0 - 0.5 / 365.25, abs=1e-12)
    assert year_today(datetime(2000, 1, 1, 12, tzinfo=UTC)) == 2000.0


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.dates(datetime(1900, 1, 2).date(), datetime(2099, 12, 31).date()))
def test_days_as_astropy(day):
    from astropy.time import Time

    theirs = Time(f"{day.isoformat()}T00:00:00", scale="tt").jyear
    assert parse_epoch(day.isoformat()) == pytest.approx(theirs, abs=1e-9)


def test_today_is_now_and_knows_time_zones():
    from astropy.time import Time

    assert year_today() == pytest.approx(Time.now().jyear, abs=1e-5)  # 5 minutes
    zone = timezone(timedelta(hours=5, minutes=30))
    moment = datetime(2026, 11, 25, 3, 15, 30, tzinfo=zone)
    assert year_today(moment) == pytest.approx(Time("2026-11-24T21:45:30", scale="tt").jyear, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "today",
        "25.11.2026",
        "2026,9",
        "2026-11",
        "2026-W48-3",
        "2026-11-25T22:00",
        "B1950",
        "nan",
        "inf",
        "-2026",
        "1e3",
        "２０２６",
    ],
)
def test_unreadable(text):
    with pytest.raises(InputError, match=r"cannot be read: write a year such as 2026\.9") as caught:
        parse_epoch(text)
    assert f'"{text}"' in str(caught.value)


@pytest.mark.parametrize("text", ["2026-02-29", "2026-13-01", "2026-00-10", "0000-01-01"])
def test_no_such_day(text):
    with pytest.raises(InputError, match=f'no day "{text}"'):
        parse_epoch(text)


@pytest.mark.parametrize("text", ["1899.9", "2100.1", "20261125", "26.9", "0", "1582-10-15", "9999-12-31", "2" * 40])
def test_out_of_range(text):
    with pytest.raises(InputError, match=r"1900 to 2100|cannot be read") as caught:
        parse_epoch(text)
    assert text in str(caught.value)
