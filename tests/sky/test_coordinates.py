"""Coordinates as people write them, against astropy's own reading of the same texts."""

import re

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from guidestar.errors import InputError
from guidestar.sky.coordinates import looks_like_coordinates, parse_coordinates, sexagesimal

SAME_PLACE = [
    "22 37 04.1 +34 24 56",
    "22:37:04.1 +34:24:56",
    "22h37m04.1s +34d24m56s",
    "22h37m04.1s34d24m56s",
    "22H37M04.1S +34D24M56S",
    "22h 37m 04.1s 34d 24m 56s",
    "22h37m04.1 34d24m56",
    "22h37m04.1s 34 24 56",
    "22 37 04.1 34 24 56",
    "22:37:04.1 34:24:56",
    "22:37:04.1 34 24 56",
    "22 37 04.1 34:24:56",
    "22:37:04.1,34:24:56",
    "22 37 04.1; 34 24 56",
    "22 37 04.1\t+34 24 56",
    "+22 37 04.1 + 34 24 56",
    "22h37m04.1s +34°24′56″",
    "22h37m04.1s +34°24'56\"",
    "22h37'04.1'' +34º24’56”",
    "22ʰ37ᵐ04ˢ.1 +34°24′56″",
    "22 hours 37 min 04.1 sec 34 deg 24 min 56 sec",
    "RA 22 37 04.1 Dec +34 24 56",
    "ra=22:37:04.1, dec=+34:24:56",
    "α 22h37m04.1s δ +34°24′56″",
    "22 37 04.1 +34 24 56 J2000",
    "22h37m04.1s +34°24′56″ (J2000.0)",
    "22 37 04.1 +34 24 56 ICRS",
    "339d16m01.5s +34d24m56s",
    "339°16′01.5″ +34°24′56″",
]


@pytest.mark.parametrize("text", SAME_PLACE)
def test_one_place_in_many_notations(text):
    """22h 37m 04.1s = 339.2670833…°, 34° 24′ 56″ = 34.4155555…°, by arithmetic."""
    assert looks_like_coordinates(text)
    ra = (22 + 37 / 60 + 4.1 / 3600) * 15
    assert parse_coordinates(text) == pytest.approx((ra, 34 + 24 / 60 + 56 / 3600), abs=1e-12)


@pytest.mark.parametrize(
    ("text", "ra_deg", "dec_deg"),
    [
        ("339.267 34.416", 339.267, 34.416),
        ("339.267, -34.416", 339.267, -34.416),
        ("339.267 \u221234.416", 339.267, -34.416),
        ("339.267 \u201334.416", 339.267, -34.416),
        ("339.267d 34.416d", 339.267, 34.416),
        ("339.267° 34.416°", 339.267, 34.416),
        ("339.267°+34.416°", 339.267, 34.416),
        ("22.6178h +34.4", 339.267, 34.4),
        ("22.6178h 34.4d", 339.267, 34.4),
        ("22h37.068m +34°24.9′", 339.267, 34.415),
        ("22 37.068 +34 24.9", 339.267, 34.415),
        ("22:37.068 +34:24.9", 339.267, 34.415),
        ("22 37 04 +34.4", 339.26666666666665, 34.4),
        ("22:37:04 34.4", 339.26666666666665, 34.4),
        ("339.267 +34 24 54", 339.267, 34.415),  # more than 24: cannot be hours
        ("10 20", 10.0, 20.0),
        ("10 -20", 10.0, -20.0),
        ("1.5e1 -2e-05", 15.0, -2e-05),
        ("0 0", 0.0, 0.0),
        ("5h30s -5d", 75.125, -5.0),
        ("360 -90", 0.0, -90.0),
        ("24h 90", 0.0, 90.0),
        ("24 00 00 +90 00 00", 0.0, 90.0),
        (".5 -.5", 0.5, -0.5),
    ],
)
def test_degrees_hours_and_units(text, ra_deg, dec_deg):
    assert looks_like_coordinates(text)
    assert parse_coordinates(text) == pytest.approx((ra_deg, dec_deg), abs=1e-12)


@pytest.mark.parametrize("text", ["0 0 0 -00 30 00", "0h -0d30m", "0:0:0 -00:30", "0 0 0 −0 30"])
def test_sign_belongs_to_the_whole_declination(text):
    assert parse_coordinates(text) == (0.0, -0.5)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("22 37 34 24", "4 numbers"),
        ("22 37 34", "3 numbers"),
        ("22h37m 34 24", "4 numbers"),
        ("22 37 04 34 24", "5 numbers"),
        ("22.6178 +34 24 56", '"22.6178h" or "22.6178d"'),
        ("22 +34 24 56", '"22h" or "22d"'),
        ("10,5 20,3", "more than one comma"),
        ("10,5 +20.3", "a sign or a comma stands within"),
        ("22 37 04 34 24 56 S", "direction"),
        ("22 37 04 34 24 56 N", "direction"),
        ("22h37m04s", "both needed"),
        ("22:37:04", "both needed"),
        ("22:37:04 +", "no number"),
        ("10 91", "91 degrees is beyond 90"),
        ("10 -90.001", "-90.001 degrees is beyond 90"),
        ("22 37 04 +90 00 01", "beyond 90"),
        ("22 75 04 +34 24 56", "75 minutes"),
        ("22 37 60 +34 24 56", "60 seconds"),
        ("22 37 04 +34 60 56", "60 minutes"),
        ("22 37 04 +34 24 99", "99 seconds"),
        ("400 10", "400 degrees is more than 360"),
        ("360.0001 10", "more than 360 degrees"),
        ("25 00 00 +10 00 00", "25 hours is more than 24"),
        ("24 00 00.1 +10 00 00", "more than 24 hours"),
        ("25.5h 10", "25.5 hours"),
        ("-10 20", "right ascension is negative"),
        ("22h 34h", "declination is given in hours"),
        ("22.5 37 04 +34", "22.5 has decimals"),
        ("22 37.5 04 +34", "37.5 has decimals"),
        ("22 37 04 05 +34", "too many"),
        ("22m37s +34d", "too many"),
        ("22h37s04m +34d", "follows a unit as small"),
        ("22:37:04: +34", "last colon"),
        ("22 37 +-34", "no number"),
        ("22 37 x +34", '"x +34" is no number'),
        ("5 +20 +30", "a sign or a comma stands within"),
        ("9" * 400 + " 10", "403 characters long"),
        ("9" * 90 + " 10", "more than 360 degrees"),
        ("22d37m 34x", "no number"),
    ],
)
def test_what_cannot_be_used_is_refused_with_the_reason(text, expected):
    with pytest.raises(InputError, match=re.escape(expected)) as caught:
        parse_coordinates(text)
    message = str(caught.value)
    assert text[:20] in message  # the value found
    assert "339.267 34.416" in message  # the way to write it
    assert len(message) < 420
    assert "\n" not in message


@pytest.mark.parametrize(
    "name",
    [
        "NGC 7331",
        "7331",
        "M31",
        "m 31",
        "47 Tuc",
        "30 Dor Cluster",
        "3C 273",
        "2MASX J00110081-1249206",
        "h & chi Persei",
        "MCG -02-01-031",
        "ESO 56-115",
        "Sh2-155",
        "Rasalhague",
        "Dec",
        "",
        "+",
        "S",
        "1.5",
    ],
)
def test_names_are_not_taken_for_coordinates(name):
    assert not looks_like_coordinates(name)


@pytest.mark.parametrize("text", ["22 37 34 24", "400 10", "22h37m04s", "22 37 04 34 24 56 S", "RA 22", "1 2 3 4"])
def test_bad_coordinates_are_still_meant_as_coordinates(text):
    """So that the person reads what is wrong with them, and not that no such object is known."""
    assert looks_like_coordinates(text)


ra_texts = st.tuples(st.integers(0, 23), st.integers(0, 59), st.integers(0, 59999))
dec_texts = st.tuples(st.sampled_from("+-"), st.integers(0, 89), st.integers(0, 59), st.integers(0, 5999))
STYLES = [
    ("{} {} {}", "{}{} {} {}"),
    ("{}:{}:{}", "{}{}:{}:{}"),
    ("{}h{}m{}s", "{}{}d{}m{}s"),
    ("{}h {}m {}s", "{}{}° {}′ {}″"),
]


@settings(derandomize=True, deadline=None, max_examples=150)
@given(ra=ra_texts, dec=dec_texts, style=st.sampled_from(STYLES), comma=st.booleans())
@example(ra=(0, 0, 0), dec=("-", 0, 0, 1), style=STYLES[0], comma=False)
def test_sexagesimal_texts_read_as_astropy_reads_them(ra, dec, style, comma):
    """Astropy reads each coordinate on its own, told its unit; ours reads the pair."""
    from astropy.coordinates import Angle

    ra_text = style[0].format(ra[0], ra[1], f"{ra[2] / 1000:.3f}")
    dec_text = style[1].format(dec[0], dec[1], dec[2], f"{dec[3] / 100:.2f}")
    theirs = Angle(ra_text, "hourangle").deg, Angle(dec_text, "deg").deg
    found = parse_coordinates(ra_text + (", " if comma else " ") + dec_text)
    assert found == pytest.approx(theirs, abs=1e-12)


places = st.tuples(st.floats(0.0, 360.0, exclude_max=True), st.floats(-90.0, 90.0))


@settings(derandomize=True, deadline=None)
@given(place=places)
@example(place=(359.999999999, -0.0000001))
def test_plain_degrees_round_trip_exactly(place):
    ra_deg, dec_deg = place
    assert parse_coordinates(f"{ra_deg!r} {dec_deg!r}") == (ra_deg, dec_deg)
    assert parse_coordinates(f"{ra_deg!r}d {dec_deg:+}d") == (ra_deg, dec_deg)


@settings(derandomize=True, deadline=None)
@given(place=places, decimals=st.integers(0, 4))
@example(place=(359.99999999, 89.99999999), decimals=0)
@example(place=(15.0 - 1e-9, -1e-9), decimals=2)
@example(place=(14.9999, -59.9999 / 3600), decimals=0)
def test_sexagesimal_round_trips_to_its_last_digit(place, decimals):
    ra, dec = sexagesimal(*place, decimals=decimals)
    assert not re.search(r" 60(\.0*)?[s″]| 60[m′]|24h|-00° 00′ 00(\.0*)?″", f"{ra} {dec}")
    ra_deg, dec_deg = parse_coordinates(f"{ra} {dec}")
    half_digit = 0.5 / 3600 / 10**decimals + 1e-10
    assert abs((ra_deg - place[0] + 180) % 360 - 180) <= half_digit * 1.5  # 15″ a second, one place more
    assert abs(dec_deg - place[1]) <= half_digit


def test_sexagesimal_pads():
    assert sexagesimal(339.26708333, 34.41555556) == ("22h 37m 04.1s", "+34° 24′ 56″")
    assert sexagesimal(1.0, -2.005, decimals=1) == ("00h 04m 00.00s", "-02° 00′ 18.0″")


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.text(alphabet="0123456789 .+-:,hdms°'\"NSJeRAc", max_size=24))
@example("22h")
@example("dec 1 ra 2")
@example("J2000")
@example(",")
def test_any_text_is_read_or_refused_in_a_sentence(text):
    looks_like_coordinates(text)
    refusal = ""
    ra_deg, dec_deg = 0.0, 0.0
    try:
        ra_deg, dec_deg = parse_coordinates(text)
    except InputError as error:
        refusal = str(error)
    if refusal:
        assert refusal.startswith("The coordinates")
        assert refusal.endswith(".")
    else:
        assert 0.0 <= ra_deg < 360.0
        assert -90.0 <= dec_deg <= 90.0
