"""Numbers and directions in words: one way to write each kind of figure, with its unit.

Between a number and its unit stands a no-break space (`NBSP`), so that line filling never parts them; `text.py`
turns it into a plain space at the very end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from guidestar.sky.coordinates import sexagesimal

NBSP = "\N{NO-BREAK SPACE}"

_POINTS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")

# What the Milky Way does to the number of stars, by distance from its plane. The counts of Tycho-2 fall from about
# 150 a square degree in the plane to 50 at 30° and 25 at the pole (Tycho-2 ReadMe).
_STAR_WEALTH = (
    (10.0, "in the Milky Way itself, where stars are plentiful"),
    (30.0, "where stars begin to thin out"),
    (60.0, "well away from the Milky Way, where bright stars are few"),
    (90.0, "near the pole of the Milky Way, where bright stars are fewest"),
)

_FLAG_WORDS = {
    "close_neighbour": "has a close neighbour, so it may look drawn out",
    "double": "is a double star, so it may look drawn out",
    "saturated": "fills its brightest pixel in one exposure, so its place is less exact",
    "photocentre": "is a close pair seen as one, so it may look drawn out",
    "extended": "is a galaxy by Gaia's measurements, so it may be no point of light",
    "poor_fit": "does not fit one single star in Gaia's measurements, so it may be two, or none",
    "no_mean_position": "has no well-known position, so it may stand a little off",
    "colour_range": "has a colour outside the range of the brightness formula, so its G is rough",
    "colour_assumed": "has no measured colour, so its G is rough",
}


def unit(number: str, word: str) -> str:
    """Join a number and its unit so that they stay on one line."""
    return f"{number}{NBSP}{word}"


def plain(value: float, digits: int = 1) -> str:
    """Write a number with at most `digits` decimals and no needless zeros; a true minus sign."""
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text.replace("-", "−")


def signed(value: float, digits: int) -> str:
    """Write a number with its sign, as for a place on a sensor."""
    text = f"{value:+.{digits}f}".replace("-", "−")
    return text.replace("−", "+") if float(f"{value:.{digits}f}") == 0.0 else text


def angle(value_deg: float) -> str:
    """Write a direction in [0°, 360°) to a tenth of a degree."""
    return f"{round(value_deg % 360.0, 1) % 360.0:.1f}°"


def width(value_deg: float) -> str:
    """Write how wide something is; what rounds to nothing is "under 0.1°", never "0.0°"."""
    if 0.0 < value_deg < 0.1:
        return "under" + NBSP + "0.1°"
    return f"{value_deg:.1f}°"


def margin(value_deg: float) -> str:
    """Write a margin, rounded down: a promise is never made larger by rounding."""
    floored = math.floor(value_deg * 10.0 + 1e-9) / 10.0
    return width(floored) if floored > 0.0 or value_deg <= 0.0 else "under" + NBSP + "0.1°"


def span(start_deg: float, end_deg: float) -> str:
    """Write a range of camera angles; the end of one that crosses north is written below 360°."""
    if end_deg - start_deg >= 360.0:
        return "the whole circle"
    return f"{angle(start_deg)}{NBSP}to{NBSP}{angle(end_deg)}"


def spans(intervals: Sequence[tuple[float, float]], most: int | None = None) -> str:
    """List ranges of camera angles as a sentence does; beyond `most` of them only how many more there are."""
    parts = [span(start, end) for start, end in intervals]
    if most is not None and len(parts) > most:
        return f"{', '.join(parts[:most])} and {len(parts) - most} more"
    return joined(parts)


def share(fraction: float) -> str:
    """Write a share of the circle in per cent; "0 %" and "100 %" only for exactly nothing and everything."""
    percent = 100.0 * fraction
    if 0.0 < percent < 0.1:
        return "under" + NBSP + unit("0.1", "%")
    if 99.9 < percent < 100.0:
        return "over" + NBSP + unit("99.9", "%")
    return unit(plain(percent, 1 if percent < 10.0 or percent > 99.0 else 0), "%")


def short_share(fraction: float) -> str:
    """Write a share of the circle for a narrow table: as `share`, with < and > for words."""
    return share(fraction).replace(f"over{NBSP}", ">").replace(f"under{NBSP}", "<")


def magnitude(value_mag: float, band: str = "G") -> str:
    """Write a magnitude with its band, as in "G 9.85"."""
    return f"{band}{NBSP}{value_mag:.2f}".replace("-", "−")


def exposure(value_s: float) -> str:
    """Write an exposure time, as in "1.5 s"."""
    return unit(plain(value_s, 3), "s")


def percent(fraction: float) -> str:
    """Write a share that may exceed the whole, in whole per cent; what rounds to nothing is "under 1 %"."""
    value = 100.0 * fraction
    return "under" + NBSP + unit("1", "%") if 0.0 < value < 0.5 else unit(f"{value:.0f}", "%")


def arcsec(value_arcsec: float) -> str:
    """Write a small angle in arcseconds, to two figures or 0.001″; what is not finite is a dash."""
    return f"{small(value_arcsec)}″" if math.isfinite(value_arcsec) else "–"


def small(value: float) -> str:
    """Write a small plain number to two figures or 0.001; what rounds to nothing is "under 0.001"."""
    if 0.0 < value < 0.0005:
        return "under" + NBSP + "0.001"
    digits = 1 if value >= 1.0 else 2 if value >= 0.1 else 3
    return f"{value:.{digits}f}"


def star(star_id: str) -> str:
    """Keep a star's designation on one line."""
    return star_id.replace(" ", NBSP)


def joined(parts: Sequence[str], word: str = "and") -> str:
    """Join parts as a sentence does: "a", "a and b", "a, b and c"."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {word} {parts[-1]}"


def capital(text: str) -> str:
    """Begin with a capital letter, and leave the rest as it is."""
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """End a sentence with a full stop unless it has its own ending."""
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."


def counted(number: int, noun: str, plural: str = "") -> str:
    """Write a number of things: "1 star", "3 stars"."""
    return unit(str(number), noun if number == 1 else plural or f"{noun}s")


def wanted(number: int) -> str:
    """Name what a camera angle has to find: "a guide star", "3 guide stars at once"."""
    return "a guide star" if number == 1 else f"{counted(number, 'guide star')} at once"


def play(accuracy_mm: float) -> str:
    """Write how far a prism may be off, also where that is next to nothing."""
    return unit(plain(accuracy_mm, 2 if accuracy_mm >= 0.01 else 5), "mm")


def even_if_off(accuracy_mm: float) -> str:
    """Say for which places of the prism something is sure."""
    if accuracy_mm == 0.0:
        return "if the prism sits exactly where you measured it, for the rig file allows nothing for it"
    return f"even if the prism sits up to {play(accuracy_mm)} from where you measured it"


def compass(position_angle_deg: float) -> str:
    """Name the nearest of the eight points of the compass for a position angle."""
    return _POINTS[round(position_angle_deg % 360.0 / 45.0) % 8]


def right_ascension(ra_deg: float) -> str:
    """Write a right ascension in hours, minutes and seconds, to 0.1 s."""
    return sexagesimal(ra_deg, 0.0)[0].replace(" ", NBSP)


def declination(dec_deg: float) -> str:
    """Write a declination in degrees, arcminutes and arcseconds, to 1″."""
    return sexagesimal(0.0, dec_deg)[1].replace(" ", NBSP).replace("-", "−")


def galactic_place(b_deg: float) -> str:
    """Say how far a target stands from the Milky Way's plane, and what that does to the stars."""
    wealth = next((words for limit, words in _STAR_WEALTH if abs(b_deg) <= limit), _STAR_WEALTH[-1][1])
    if round(abs(b_deg)) == 0:
        return f"on the Milky Way's plane, {wealth}"
    side = "north" if b_deg > 0.0 else "south"
    return f"{abs(b_deg):.0f}° {side} of the Milky Way's plane, {wealth}"


def caveats(flags: Sequence[str]) -> list[str]:
    """Say what an observer should know of a star, from its flags: what stands behind its name, one item a flag."""
    return [_FLAG_WORDS[flag] for flag in flags if flag in _FLAG_WORDS]
