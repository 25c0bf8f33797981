"""Inks, tints and pens of the figures.

Made for a printed page under a deep red light and for every kind of colour vision: nothing is told apart by hue.
White paper, one dark ink, two tints and one accent that differ in lightness both in grey and in red light alone;
shapes, line styles and hatching carry the meaning, and words repeat it. Red light shows only how much red a colour
sends back, so the accent is a deep blue: it prints dark under red as well as in grey.
"""

from __future__ import annotations

PAPER = "#ffffff"
INK = "#111111"
ACCENT = "#0b3c6f"
TINT = "#e4e6e9"
SHADE = "#9a9fa6"

HATCH = "////"
"""Hatching of what is usable but not sure."""

THIN, MEDIUM, HEAVY = 0.6, 1.1, 2.0
"""Line widths, points."""

DASHED = (0.0, (5.0, 3.0))

SMALL, NORMAL, LARGE = 7.0, 8.0, 11.0
"""Type sizes on an A4 page, points; nothing is set smaller."""

MOST_STARS = 12
"""Guide stars that are drawn one by one; the rest are counted."""

MOST_STARS_HERE = 4
"""Guide stars on the guide camera at the angle shown that are drawn in any case."""

_SMALLEST_STAR, _LARGEST_STAR = 2.0, 110.0


def star_area(g_mag: float, faintest_mag: float) -> float:
    """Area of a star's dot in square points: it grows by 1.6 a magnitude, from the faintest star drawn.

    True flux ratios (2.512 a magnitude) would turn a bright star into a blot over its neighbours.
    """
    area: float = 1.6 ** (faintest_mag - g_mag) * 2.0 * _SMALLEST_STAR
    return min(max(area, _SMALLEST_STAR), _LARGEST_STAR)


def luminance(colour: str) -> float:
    """Relative luminance (0 to 1) of a `#rrggbb` colour as a grey print shows it (ITU-R BT.709 weights)."""
    red, green, blue = (_linear(int(colour[i : i + 2], 16) / 255.0) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(value: float) -> float:
    """Undo the sRGB transfer curve (IEC 61966-2-1)."""
    return float(value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4)
