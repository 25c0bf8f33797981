"""A flat frame from a FITS file (astropy.io.fits, loaded here and nowhere else)."""

from __future__ import annotations

import importlib.util
import os
import warnings
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from guidestar.errors import InputError, MissingPackageError
from guidestar.flat.frame import Frame, flat_frame
from guidestar.flat.result import Sensor

FirstRow = Literal["bottom", "top"]

_MOSAIC_KEYS = ("BAYERPAT", "COLORTYP")


def read_flat(
    path: str | os.PathLike[str], *, sensor: Sensor | None = None, first_row: FirstRow | None = None
) -> Frame:
    """Read a flat and check that it is one.

    Parameters
    ----------
    path : path-like
        A FITS file: the first picture in it counts. Three colour planes are added up.
    sensor : Sensor, optional
        The camera that it should come from.
    first_row : "bottom" or "top", optional
        Where the file's first row stands in the displayed picture. Default: what the header's ROWORDER says, else the
        bottom, as the FITS standard suggests.

    Raises
    ------
    InputError
        Unreadable, truncated, without a picture, or not a flat.
    """
    where = os.fspath(path)
    data, header = _first_picture(where)
    data = _plane(data, where)
    order = str(header.get("ROWORDER", "")).strip().upper()
    top_first = first_row == "top" if first_row else order == "TOP-DOWN"
    # A header that names a mosaic is believed; one that does not says nothing.
    named = any(str(header.get(key, "")).strip() for key in _MOSAIC_KEYS)
    mosaic = True if named and header.get("NAXIS") == 2 else None
    return flat_frame(data if top_first else data[::-1], name=where, mosaic=mosaic, sensor=sensor)


def _plane(data: NDArray[np.generic], where: str) -> NDArray[np.generic]:
    """Return a plane of pixels, three colour planes added up."""
    data = data.reshape([n for n in data.shape if n != 1]) if data.ndim > 2 else data
    if data.ndim == 2:
        return data
    colours = [axis for axis, n in enumerate(data.shape) if n == 3]
    if data.ndim == 3 and colours:
        return np.asarray(data.sum(axis=colours[0], dtype=np.float64))
    size = " × ".join(str(n) for n in data.shape[::-1])
    raise InputError(
        f"{where}: the file holds a stack of {size} values, not one picture; save a single flat (or the mean of the "
        "stack) as a plane."
    )


def require_libraries(where: str) -> None:
    """Raise `InputError` with what to install if scipy or threadpoolctl is missing."""
    libraries = ("scipy", "threadpoolctl")
    if any(importlib.util.find_spec(library) is None for library in libraries):
        raise MissingPackageError(f"{where}: looking at flats", libraries, "flats")


def _first_picture(where: str) -> tuple[NDArray[np.generic], Any]:
    """Return the first picture of a file and its header."""
    require_libraries(where)
    from astropy.io import fits

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what is wrong with the file is said below, in a sentence
            with fits.open(where, memmap=False, lazy_load_hdus=True) as file:
                for unit in file:
                    if unit.is_image and unit.header.get("NAXIS", 0) >= 2:
                        return np.asarray(unit.data), unit.header
    except FileNotFoundError as error:
        raise InputError(f"{where}: there is no such file; check the path.") from error
    except IsADirectoryError as error:
        raise InputError(f"{where}: this is a folder; name the FITS file inside it.") from error
    except PermissionError as error:
        raise InputError(f"{where}: may not be read; check the file's permissions.") from error
    except Exception as error:  # a damaged file can break the reader in any way
        raise InputError(f"{where}: cannot be read as FITS: {_reason(error)}; save the flat again as FITS.") from error
    raise InputError(f"{where}: the FITS file holds no picture; save the flat as a FITS picture.")


def _reason(error: Exception) -> str:
    """Say what is wrong with a file in plain words; the reader's own are for programmers."""
    return "it is a file of another kind" if "SIMPLE" in str(error) else "it is empty, damaged or cut short"
