"""The one ramp of the sky maps: from paper to deep blue in steps that look alike, on paper, in grey and in red light.

A tint is ink mixed with paper in linear light, so that mixed inks keep their hue. The steps are even in lightness
(CIE 1976 L*, CIE 15:2018), with which a printed tint is judged.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.report import palette

if TYPE_CHECKING:
    from matplotlib.colors import ListedColormap

FloatArray = NDArray[np.float64]

_STEPS: Final = 256
_KNEE: Final = 216.0 / 24389.0
"""Below this luminance L* is a straight line (CIE 15:2018)."""


def lightness(luminance: ArrayLike) -> FloatArray:
    """Return L*, 0 to 100, of relative luminances, 0 to 1."""
    y = np.asarray(luminance, dtype=np.float64)
    return np.where(y > _KNEE, 116.0 * np.cbrt(y) - 16.0, y * 24389.0 / 27.0)


def _luminance(light: FloatArray) -> FloatArray:
    """Undo `lightness`."""
    return np.where(light > 8.0, ((light + 16.0) / 116.0) ** 3, light * 27.0 / 24389.0)


def tints(ink: str, shares: ArrayLike) -> FloatArray:
    """Return sRGB colours, shape (n, 3), 0 to 1: paper for 0, the ink (`#rrggbb`) for 1, even in lightness between."""
    darkest = lightness(palette.luminance(ink))
    wanted = _luminance(100.0 + np.asarray(shares, dtype=np.float64) * (darkest - 100.0))
    of_paper = (wanted - palette.luminance(ink)) / (1.0 - palette.luminance(ink))
    channels = np.array([int(ink[at : at + 2], 16) / 255.0 for at in (1, 3, 5)])
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return _srgb(linear + of_paper[:, None] * (1.0 - linear))


def _srgb(linear: FloatArray) -> FloatArray:
    """Apply the sRGB transfer curve (IEC 61966-2-1)."""
    curve = 1.055 * np.maximum(linear, 1e-9) ** (1.0 / 2.4) - 0.055
    return np.clip(np.where(linear <= 0.0031308, 12.92 * linear, curve), 0.0, 1.0)


def dark_is_little() -> ListedColormap:
    """Return the colour map of shares from 0 (full ink: no camera angle) to 1 (paper: every angle)."""
    from matplotlib.colors import ListedColormap

    return ListedColormap(tints(palette.ACCENT, np.linspace(1.0, 0.0, _STEPS)), name="dark is little")


def loss_and_gain() -> ListedColormap:
    """Return the colour map of differences: grey for a loss, paper for none, blue for a gain.

    Both ends print alike in grey, so that a loss is hatched besides.
    """
    from matplotlib.colors import ListedColormap

    half = np.linspace(0.0, 1.0, _STEPS // 2)
    return ListedColormap(
        np.concatenate((tints(_LOSS_INK, half[::-1]), tints(palette.ACCENT, half))), name="loss and gain"
    )


_LOSS_INK: Final = "#5a5d61"
