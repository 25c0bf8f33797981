"""Right ascension and declination as people write them.

The rule: two plain numbers are degrees; a sexagesimal right ascension is hours; a unit that is written is
honoured; the sign belongs to the whole declination. What could be read in two ways is refused with the way
to write it. The text is cut into numbers with their signs and units, the numbers are dealt to the two
coordinates, and each coordinate is then put together.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NoReturn

from guidestar.errors import InputError

EXAMPLES: Final = 'write for instance "339.267 34.416" (degrees) or "22 37 04.1 +34 24 56" (hours and degrees)'

LONGEST: Final = 100  # characters of a target; the wordiest notation of the tests has 50

_ALIKE: Final = str.maketrans(
    {
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d", "-"),
        **dict.fromkeys("\uff0b", "+"),
        **dict.fromkeys("\u00b0\u00ba\u02da", "d"),
        **dict.fromkeys("\u2032\u2019\u2018\u00b4\u02b9", "'"),
        **dict.fromkeys("\u2033\u201d\u201c\u02ba", '"'),
        **dict.fromkeys("\u00a0\u2009\u202f\t", " "),
        "\u02b0": "h",
        "\u1d50": "m",
        "\u02e2": "s",
    }
)
"""Typographic signs and the plain ones they are read as."""

_UNITS: Final = {
    **dict.fromkeys(("hours", "hour", "hr"), "h"),
    **dict.fromkeys(("degrees", "degree", "deg"), "d"),
    **dict.fromkeys(("min", "'"), "m"),
    **dict.fromkeys(("sec", '"', "''"), "s"),
}
_UNIT: Final = r"hours?|hr|degrees?|deg|min|sec|[hdms]|''|['\":]"
_DIGITS: Final = r"(?:\d+(?:\.\d*)?|\.\d+)(?:e[+-]?\d+)?"
_NUMBER: Final = re.compile(rf"\s*(?P<sign>[+-]?)\s*(?P<digits>{_DIGITS})\s*(?P<unit>{_UNIT})?(?![a-z])", re.ASCII)
_RA_LABEL: Final = re.compile(r"^\s*(?:ra|r\.a\.|α)\s*[:=]?\s*(?=[\d+-])")
_DEC_LABEL: Final = re.compile(r"[\s,;]*(?:de(?:cl?)?\.?|δ)\s*[:=]?\s*(?=[\d+-])")
_FRAME: Final = re.compile(r"\s*[\[(]?\s*(?:icrs|j2000(?:\.0)?)\s*[\])]?\s*$")
_SMALLER: Final = {"h": "m", "d": "m", "m": "s", ":": ":"}
_SIXTIETHS: Final = {"h": 0, "d": 0, "m": 1, "s": 2}


@dataclass(frozen=True)
class Place:
    """A place on the sky: ICRS degrees, 0 ≤ `ra_deg` < 360 and −90 ≤ `dec_deg` ≤ 90.

    `kind` is the sort of object in words ("Galaxy"), or "coordinates" where coordinates were given.
    """

    name: str
    ra_deg: float
    dec_deg: float
    kind: str


@dataclass(frozen=True)
class _Number:
    """One number of the text: its sign and unit as written ("" for none), and whether it begins a part."""

    sign: str
    digits: str
    unit: str
    first: bool

    @property
    def value(self) -> float:
        return float(self.digits)

    @property
    def whole(self) -> bool:
        return self.digits.isdecimal()


def looks_like_coordinates(text: str) -> bool:
    """Tell whether a text is meant as coordinates, readable or not, rather than as a name.

    True if it holds at least two numbers and nothing but numbers, signs, units and separators, or if it
    begins with "RA" and a number. "NGC 7331", "7331", "47 Tuc" and "3C 273" are names.
    """
    plain = _plain(text)
    if _RA_LABEL.search(plain):
        return True
    rest = re.sub(rf"{_DIGITS}|[+,;-]|south|{_UNIT}|(?<![a-z])[nsew](?![a-z])", " ", plain, flags=re.ASCII)
    return re.match(r"\s*[+-]?\s*[\d.]", plain) is not None and not rest.strip(" .") and _count(plain) > 1


def parse_coordinates(text: str) -> tuple[float, float]:
    """Read "RA DEC".

    Parameters
    ----------
    text : str
        For instance "339.267 34.416", "22 37 04.1 +34 24 56", "22:37:04.1 +34:24:56", "22h37.07m +34°24.9′",
        "339.267d 34.416d", "22.6178h +34.4"; a comma or semicolon may part the two, "RA" and "Dec" may stand
        before them and "J2000" or "ICRS" behind.

    Returns
    -------
    ra_deg, dec_deg : float
        Degrees, 0 ≤ ra < 360 (24 h and 360° are taken as 0), −90 ≤ dec ≤ 90.

    Raises
    ------
    InputError
        If the text is no pair of coordinates, can be read in two ways, or gives an impossible value.
    """
    shown = " ".join(text.split())
    if len(shown) > LONGEST:
        _refuse(f"{shown[:40]}…", f"the text is {len(shown)} characters long")
    ra_part, dec_part = _deal(_numbers(_plain(text), shown), shown)
    ra_deg = _right_ascension(ra_part, shown, lone_dec=len(dec_part) == 1)
    return ra_deg, _declination(dec_part, shown)


def sexagesimal(ra_deg: float, dec_deg: float, *, decimals: int = 0) -> tuple[str, str]:
    """Write a place as ("22h 37m 04.1s", "+34° 24′ 56″"), seconds of declination with `decimals` places.

    Right ascension gets one place more. Rounding carries: never 60 seconds, never 24 hours.
    """
    unit = 10 ** (decimals + 1)
    hours, minutes, seconds = _split(round((ra_deg % 360.0) * 240.0 * unit) % (86400 * unit), unit)
    ra = f"{hours:02d}h {minutes:02d}m {seconds:0{decimals + 4}.{decimals + 1}f}s"
    unit = 10**decimals
    degrees, minutes, seconds = _split(round(abs(dec_deg) * 3600.0 * unit), unit)
    sign = "-" if dec_deg < 0 and (degrees or minutes or seconds) else "+"
    width = decimals + 3 if decimals else 2
    return ra, f"{sign}{degrees:02d}° {minutes:02d}′ {seconds:0{width}.{decimals}f}″"


def _split(count: int, unit: int) -> tuple[int, int, float]:
    """Split a count of 1/`unit` seconds into whole degrees (or hours), minutes, and seconds."""
    minutes, rest = divmod(count, 60 * unit)
    return minutes // 60, minutes % 60, rest / unit


def _plain(text: str) -> str:
    """Bring a text to plain signs and small letters, without a frame note.

    A capital S that stands alone means south, not seconds. A unit above the decimal point, as in 04ˢ.1, moves
    behind the number.
    """
    plain = re.sub(r"(?<=\s)S(?![A-Za-z])", "south", text.translate(_ALIKE)).lower()
    plain = re.sub(r"(\d)(''|[hdms'\"])\.(\d+)", r"\1.\3\2", plain, flags=re.ASCII)
    return _FRAME.sub("", plain).strip()


def _count(plain: str) -> int:
    return len(re.findall(_DIGITS, plain, flags=re.ASCII))


def _numbers(plain: str, shown: str) -> list[_Number]:
    """Cut the text into numbers; the one behind a comma, or behind "Dec", begins a part."""
    plain = _DEC_LABEL.sub(" , ", _RA_LABEL.sub("", plain), count=1)
    if len(re.findall("[,;]", plain)) > 1:
        _refuse(shown, "it has more than one comma, and decimals take a point")
    found: list[_Number] = []
    at, first = 0, True
    while at < len(plain):
        comma = re.compile(r"\s*[,;]\s*").match(plain, at) if found else None
        at, first = (comma.end(), True) if comma else (at, first)
        match = _NUMBER.match(plain, at)
        if match is None:
            _refuse(shown, _unread(plain[at:].strip()))
        unit = match["unit"] or ""
        found.append(_Number(match["sign"], match["digits"], _UNITS.get(unit, unit), first))
        at, first = match.end(), False
    return found


def _unread(rest: str) -> str:
    """Say why the rest of a text is not read."""
    if rest in ("n", "north", "s", "south", "e", "w"):
        return "a letter stands for a direction, which takes a sign, + or -"
    return f'"{rest or ","}" is no number with a unit'


def _deal(numbers: Sequence[_Number], shown: str) -> tuple[Sequence[_Number], Sequence[_Number]]:
    """Deal the numbers to right ascension and declination."""
    if len(numbers) < 2:
        _refuse(shown, "right ascension and declination are both needed")
    cut = _cut(numbers)
    if cut is None and len(numbers) < 4 and numbers[0].unit:
        _refuse(shown, "right ascension and declination are both needed")
    if cut is None:
        _refuse(
            shown,
            f"{len(numbers)} numbers can be parted in more than one way, so the declination needs its sign",
        )
    ra_part, dec_part = numbers[:cut], numbers[cut:]
    if any(number.sign or number.first for number in (*ra_part[1:], *dec_part[1:])):
        _refuse(shown, "a sign or a comma stands within a coordinate")
    return ra_part, dec_part


def _cut(numbers: Sequence[_Number]) -> int | None:
    """Find the declination's first number, by the plainest sign of it that the text holds."""
    pairs = list(zip(range(1, len(numbers)), numbers[:-1], numbers[1:], strict=True))
    colons = [number.unit == ":" for number in numbers]
    signs_of_it = (
        [at for at, _, number in pairs if number.first],
        [at for at, _, number in pairs if number.sign],
        [at for at, _, number in pairs if number.unit in ("h", "d")],
        [at for at, before, _ in pairs if before.unit == "s"],
        [at for at, _, _ in pairs if not colons[at - 1] and (colons[at] or any(colons[: at - 1]))],
    )
    for places in signs_of_it:
        if places:
            return places[0]
    return {2: 1, 6: 3}.get(len(numbers))


def _right_ascension(part: Sequence[_Number], shown: str, *, lone_dec: bool) -> float:
    """Return degrees. `lone_dec`: the declination is one number, so that one number here is degrees too."""
    if part[0].sign == "-":
        _refuse(shown, "the right ascension is negative; it runs from 0 to 24 hours, or 0 to 360 degrees")
    in_hours = part[0].unit == "h" or (len(part) > 1 and part[0].unit != "d")
    if len(part) == 1 and not part[0].unit and not lone_dec and part[0].value <= 24.0:
        _refuse(
            shown,
            f"the right ascension {part[0].digits} may be hours or degrees, "
            f'so write "{part[0].digits}h" or "{part[0].digits}d"',
        )
    value, whole_turn = _put_together(part, shown), 24.0 if in_hours else 360.0
    if value > whole_turn:
        unit = "hours" if in_hours else "degrees"
        _refuse(shown, f"the right ascension {value:.10g} {unit} is more than {whole_turn:.0f} {unit}")
    return (value * 15.0 if in_hours else value) % 360.0


def _declination(part: Sequence[_Number], shown: str) -> float:
    """Return degrees."""
    if part[0].unit == "h":
        _refuse(shown, "the declination is given in hours; it takes degrees")
    value = _put_together(part, shown)
    if value > 90.0:
        _refuse(shown, f"the declination {part[0].sign}{value:.10g} degrees is beyond 90 degrees")
    return -value if part[0].sign == "-" else value


def _put_together(part: Sequence[_Number], shown: str) -> float:
    """Add whole units, minutes and seconds, without the sign."""
    units = _units(part, shown)
    value = 0.0
    for number, unit in zip(part, units, strict=True):
        power = _SIXTIETHS[unit]
        if power and number.value >= 60.0:
            name = "minutes" if power == 1 else "seconds"
            _refuse(shown, f"{number.digits} {name} are impossible; they run from 0 to below 60")
        if number is not part[-1] and not number.whole:
            _refuse(shown, f"{number.digits} has decimals and smaller units follow it")
        value += number.value / 60.0**power
    return value


def _units(part: Sequence[_Number], shown: str) -> list[str]:
    """Return the unit of each number: as written, or the next smaller one where none is written."""
    units: list[str] = []
    for at, number in enumerate(part):
        follows = "d" if at == 0 else _SMALLER.get(units[-1], "")
        unit = follows if number.unit in ("", ":") else number.unit
        if unit not in _SIXTIETHS or (at == 0) != (_SIXTIETHS[unit] == 0):
            _refuse(shown, f'"{number.digits}{number.unit}" is one number or one unit too many')
        if at and _SIXTIETHS[unit] <= _SIXTIETHS[units[-1]]:
            _refuse(shown, f'"{number.digits}{number.unit}" follows a unit as small or smaller')
        if number.unit == ":" and at == len(part) - 1:
            _refuse(shown, "nothing follows the last colon")
        units.append(unit)
    return units


def _refuse(shown: str, why: str) -> NoReturn:
    raise InputError(f'The coordinates "{shown}" cannot be used: {why}; {EXAMPLES}.')
