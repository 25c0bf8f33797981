from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from guidestar.night import spans
from guidestar.night.darkness import EDGE_AT_HORIZON_DEG, height_above, tonight
from guidestar.night.window import meridian
from guidestar.rig import Mount, Site
from guidestar.sky.ephemeris import Observer, Track, installed_tables, moments


def minutes_off(found, expected):
    return abs((found - expected).total_seconds()) / 60.0


def test_sunrise_of_a_printed_example():
    """Almanac for Computers 1990 (US Naval Observatory): 1990 June 25 at 40.9° N, 74.3° W, zenith distance 90° 50′.

    Its example ends with UT 9.44 h, 5 h 26 m by the clocks there (that last line from memory; the inputs were read).
    """
    site = Site(latitude_deg=40.9, longitude_deg=-74.3, time_zone="America/New_York")
    dark, _ = tonight(date(1990, 6, 24), site)
    assert minutes_off(dark.sunrise, datetime(1990, 6, 25, 9, 26, 28, tzinfo=UTC)) < 1.0


def test_rise_transit_and_set_of_the_worked_example():
    """Meeus, example 15.a: Venus at Boston (71°05′ W, 42°20′ N) on 1988 March 20.

    Rises 12 h 25 m, transit 19 h 41 m, sets 2 h 55 m UT, with 34′ of refraction (0.51766, 0.81980, 0.12130 of the day).
    """
    from astropy.coordinates import AltAz, get_body
    from astropy.time import Time

    observer = Observer(42 + 20 / 60, -(71 + 5 / 60))
    start = datetime(1988, 3, 20, tzinfo=UTC).timestamp()
    at = moments(start, start + 86400.0)
    with installed_tables():
        times, place = Time(at, format="unix"), observer.location()
        venus = get_body("venus", times, place).transform_to(AltAz(obstime=times, location=place))
        up, around = np.radians(venus.alt.deg), np.radians(venus.az.deg)
    track = Track(at, np.column_stack((np.cos(up) * np.cos(around), np.cos(up) * np.sin(around), np.sin(up))))
    above = spans.above(height_above(track, -34.0 / 60.0), at[0], at[-1])
    assert above.ravel()[1:3] == pytest.approx(start + 86400.0 * np.array([0.12130, 0.51766]), abs=40.0)
    transit = meridian(track, Mount(), observer.latitude_deg).upper
    assert transit == pytest.approx([start + 86400.0 * 0.81980], abs=30.0)


def test_an_ordinary_night():
    dark, tracks = tonight(date(2026, 11, 25), Site(latitude_deg=50.1, longitude_deg=10.2, time_zone="Europe/Berlin"))
    assert (dark.sun, dark.kind, len(dark.spans)) == ("rises and sets", "astronomical", 1)
    assert dark.whole.hours == 24.0
    assert dark.sunset < dark.nautical[0].start < dark.spans[0].start < dark.spans[0].end < dark.nautical[0].end
    assert dark.nautical[0].end < dark.sunrise
    for moment, level in ((dark.sunset, EDGE_AT_HORIZON_DEG), (dark.spans[0].start, -18.0), (dark.spans[0].end, -18.0)):
        assert tracks.sun.at(moment.timestamp())[0][0] == pytest.approx(level, abs=0.003)
    assert dark.notes == ()


def test_full_moon_stands_opposite_the_sun():
    """Full Moon on 2026 November 24, 14:53 UT (as almanacs print it; from memory): the next evening it is just past."""
    dark, _ = tonight(date(2026, 11, 25), Site(latitude_deg=50.1, longitude_deg=10.2))
    assert dark.moon.illuminated > 0.95
    assert not dark.moon.waxing
    before, _ = tonight(date(2026, 11, 20), Site(latitude_deg=50.1, longitude_deg=10.2))
    assert before.moon.waxing
    assert before.moon.illuminated < dark.moon.illuminated


@pytest.mark.parametrize(
    ("latitude", "day", "sun", "kind"),
    [
        (78.2, date(2026, 6, 21), "never sets", "none"),
        (63.4, date(2026, 6, 21), "rises and sets", "none"),
        (52.5, date(2026, 6, 21), "rises and sets", "nautical"),
        (78.2, date(2026, 12, 21), "never rises", "astronomical"),
        (90.0, date(2026, 12, 21), "never rises", "astronomical"),
        (-78.2, date(2026, 12, 21), "never sets", "none"),
        (0.0, date(2026, 6, 21), "rises and sets", "astronomical"),
    ],
)
def test_summer_and_winter_far_north_and_south(latitude, day, sun, kind):
    dark, _ = tonight(day, Site(latitude_deg=latitude, longitude_deg=15.6))
    assert (dark.sun, dark.kind) == (sun, kind)
    assert (dark.sunset is None) == (sun != "rises and sets")
    assert bool(dark.spans) == (kind != "none")
    if kind == "nautical":
        assert dark.spans == dark.nautical
        assert dark.astronomical == ()
    if latitude == 90.0:
        assert dark.hours == 24.0


def test_hours_are_counted_as_they_pass_when_clocks_change():
    site = Site(latitude_deg=50.1, longitude_deg=10.2, time_zone="Europe/Berlin")
    autumn, _ = tonight(date(2026, 10, 24), site)
    next_night, _ = tonight(date(2026, 10, 25), site)
    assert "from UTC+2 to UTC+1" in autumn.notes[0]
    assert next_night.notes == ()
    assert 0.0 < next_night.hours - autumn.hours < 0.1


def test_years_beyond_the_tables_are_said():
    dark, _ = tonight(date(2080, 6, 1), Site(latitude_deg=40.0, longitude_deg=10.0))
    assert "rotation is not known that far ahead" in dark.notes[0]
    assert dark.whole.end - dark.whole.start == timedelta(days=1)
