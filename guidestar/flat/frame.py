"""Is this a flat at all? Checks of a frame as read, and the 2 × 2 binning of colour frames."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from guidestar.errors import InputError
from guidestar.flat.result import Sensor
from guidestar.flat.spots import count_spots

Pixels = NDArray[np.float32]

_SMALLEST_PX = 60
_SATURATED_SHARE = 0.005
_COLOUR_CONTRAST = 0.03
_LARGEST_BINNING = 4
_SIZE_TOLERANCE = 0.02
_LEAST_SIGNAL = 50.0
_HIGHEST = 1e30
_FEW_STARS = 6
_MOST_STARS_PER_MILLION = 60.0
_ENOUGH_PX = 300_000
"""A median over this many pixels, spread over the frame, is as good as one over all."""


@dataclass(frozen=True)
class Frame:
    """A frame ready to be analysed: `pixels` (rows, columns), row 0 on top as displayed, linear and positive.

    `colour` if it came from a 2 × 2 colour mosaic, which is binned away; `width_px`, `height_px` as read.
    """

    pixels: Pixels
    colour: bool
    width_px: int
    height_px: int


def flat_frame(
    pixels: NDArray[np.generic], *, name: str = "flat", mosaic: bool | None = None, sensor: Sensor | None = None
) -> Frame:
    """Check that an array is a usable flat and bin a colour mosaic away.

    Parameters
    ----------
    pixels : ndarray, shape (rows, columns)
        Linear counts, row 0 at the top of the displayed picture.
    name : str
        What the sentence of an error begins with.
    mosaic : bool, optional
        Whether the pixels lie under a 2 × 2 colour mosaic; found from the pixels if not given.
    sensor : Sensor, optional
        The camera that it should come from.

    Raises
    ------
    InputError
        The frame is too small, of another camera, empty, saturated, or full of stars: with the reason and a remedy.
    """
    if pixels.ndim != 2 or min(pixels.shape) < _SMALLEST_PX:
        shape = " × ".join(str(n) for n in pixels.shape[::-1])
        raise InputError(
            f"{name}: the picture is {shape} pixels; a flat must be a plane of at least "
            f"{_SMALLEST_PX} × {_SMALLEST_PX}."
        )
    height, width = pixels.shape
    if sensor is not None:
        _demand_size(width, height, sensor, name)
    _demand_light(pixels, name)
    values = np.asarray(pixels, dtype=np.float32)
    colour = _is_mosaic(values) if mosaic is None else mosaic
    binned = _binned(values) if colour else values
    _demand_no_stars(binned, name)
    return Frame(binned, colour, width, height)


def _demand_size(width: int, height: int, sensor: Sensor, name: str) -> None:
    """Refuse a frame that the sensor cannot have given, whole or binned; a few rows more or less are let pass."""
    wanted = (sensor.width_mm * 1000.0 / sensor.pixel_um, sensor.height_mm * 1000.0 / sensor.pixel_um)
    for binning in range(1, _LARGEST_BINNING + 1):
        if all(abs(n * binning / w - 1.0) <= _SIZE_TOLERANCE for n, w in zip((width, height), wanted, strict=True)):
            return
    raise InputError(
        f"{name}: the frame has {width} × {height} pixels, but the rig's camera gives about {wanted[0]:.0f} × "
        f"{wanted[1]:.0f} (or these over a binning of 2 to {_LARGEST_BINNING}); use a flat of that camera, uncropped, "
        "or correct [camera] in the rig file."
    )


def _demand_light(values: NDArray[Any], name: str) -> None:
    """Refuse a frame without numbers or light, and one whose bright parts are cut off."""
    _demand_numbers(values, name)
    middle, low, top = _median(values), float(np.min(values)), float(np.max(values))
    if top <= 0.0 or middle <= 0.0:
        raise InputError(
            f"{name}: the frame holds no light (median {middle:g}); use a flat exposed to about half scale."
        )
    if low == top:
        raise InputError(
            f"{name}: all pixels hold the same value ({top:g}), so it is saturated or no exposure; use a flat exposed "
            "to about half of full scale."
        )
    if top > 2.0 and middle < _LEAST_SIGNAL:  # a frame scaled to 0 … 1 says nothing of its counts
        raise InputError(
            f"{name}: too dark for a flat (median {middle:g} counts); expose longer, to about half of full scale."
        )
    share = float(np.mean(values == np.max(values)))
    if share > _SATURATED_SHARE:
        raise InputError(
            f"{name}: saturated: {100 * share:.1f} % of the pixels stand at the highest value ({top:g}); expose "
            "shorter, to about half of full scale."
        )


def _demand_numbers(values: NDArray[Any], name: str) -> None:
    if values.dtype.kind not in "iuf":
        raise InputError(f"{name}: the pixels are of type {values.dtype}, not plain numbers; use a raw flat frame.")
    fits = np.isfinite(values) & (np.abs(values) < _HIGHEST) if values.dtype.kind == "f" else None
    missing = 0 if fits is None else int(fits.size - np.count_nonzero(fits))
    if missing:
        raise InputError(
            f"{name}: {missing} of {values.size} pixels hold no number (NaN, infinite or beyond all counts); use a raw "
            "flat frame."
        )
    negative = float(np.mean(values < 0)) if values.dtype.kind in "if" else 0.0
    if negative > _SATURATED_SHARE:
        raise InputError(
            f"{name}: {100 * negative:.1f} % of the pixels are negative: counts above 32767 were saved as signed "
            "numbers, or too much was subtracted; save the raw flat again, as unsigned or floating-point numbers."
        )


def _median(values: NDArray[Any]) -> float:
    """Return the median of a frame; of a large one, that of every third, fifth … row and column.

    An odd step meets every colour of a mosaic equally often.
    """
    step = max(1, round((values.size / _ENOUGH_PX) ** 0.5)) // 2 * 2 + 1
    return float(np.median(values[::step, ::step]))


def _is_mosaic(values: Pixels) -> bool:
    """Tell a 2 × 2 mosaic from its pixels: the four kinds of place differ in brightness more than a plain flat's do."""
    medians = [_median(values[i::2, j::2]) for i in (0, 1) for j in (0, 1)]
    return (max(medians) - min(medians)) / max(medians) > _COLOUR_CONTRAST


def _binned(values: Pixels) -> Pixels:
    rows, columns = (n // 2 * 2 for n in values.shape)
    even, odd = values[0:rows:2], values[1:rows:2]
    return (even[:, 0:columns:2] + even[:, 1:columns:2] + odd[:, 0:columns:2] + odd[:, 1:columns:2]) / np.float32(4.0)


def _demand_no_stars(values: Pixels, name: str) -> None:
    """Refuse a frame with too many star-like spots."""
    stars = count_spots(values)
    if stars > max(_FEW_STARS, _MOST_STARS_PER_MILLION * values.size / 1e6):
        raise InputError(
            f"{name}: not a flat: about {stars} star-like spots stand out of it; use a frame of an evenly lit surface."
        )
