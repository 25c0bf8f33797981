"""How many stars the sky holds: cumulative counts per square degree, anywhere, from G 10 to 18. An estimate.

For a place p the model is ln N(<G; p) = base(G) + d(G; p): a curve for the whole sky, and how far the place lies above
or below it. base is set so that the sum over the sky is Gaia DR3's own total at every G (known at 10, 10.5, 11, 11.5,
12, 13, 16, 17 and 18, a spline between them). d comes from maps, each a sum of spherical harmonics with coefficients
that `data/fit_star_counts.py` fitted:

- at G 16, 17 and 18, from the counts of Gaia DR3 in pixels of 1.8°; between them a parabola. To these are added round
  spots of Gaussian shape where the sky is too abrupt for the harmonics: dense clouds, the Magellanic Clouds, globulars;
- at G 10.5, from Tycho-2's counts, with how fast d grows there; below 10.5 a straight line;
- between 10.5 and 16 the cubic that joins both ends in value and slope.

So the bright end is anchored in Tycho-2's stars around the place, through a map that averages over some 5°; a few
stars in the guide field itself would say less. Detail finer than about 2° (small dark clouds, clusters) is not in it.
"""

from __future__ import annotations

import zipfile
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.errors import DataError
from guidestar.sky.epoch import unit_vectors
from guidestar.stars.harmonics import harmonics, term_count

FloatArray = NDArray[np.float64]
Maps = dict[str, FloatArray]
Arrays = dict[str, NDArray[np.floating[Any]]]

FILE_NAME: Final = "model.npz"

MODEL: Final = "model fitted to Gaia DR3 counts and Tycho-2"

BRIGHTEST_G_MAG: Final = 10.0
FAINTEST_G_MAG: Final = 18.0

_ANCHOR_G_MAG: Final = 10.5
_FAINT_G_MAG: Final = 16.0
_GROWTH_G_MAG: Final = 9.5
"""Middle of the G 9 to 10 from which the growth at the bright end is counted."""

PIXEL_DEG2: Final = 3.3572
"""Square degrees of a pixel of the fitted counts (HEALPix nside 32)."""

_REPAIR: Final = "install guidestar again, or fit the model as data/README.md says"

MAPS: Final = ("bright", "bright_growth", "g16", "g17_over_g16", "g18_over_g17")
_ERROR_MAP: Final = "log_faint_error"
SPOTTED: Final = ("g16", "g17_over_g16", "g18_over_g17")
"""The maps that the three columns of heights belong to."""
SPOT_PLACES: Final = "spot_deg"
SPOT_HEIGHTS: Final = "spot_heights"
_TABLES: Final = (SPOT_PLACES, SPOT_HEIGHTS, "errors", "g_mag", "log_mean_per_deg2")

SPOT_SIGMA_DEG: Final = 0.8

_PLACES_AT_ONCE: Final = 1024
"""So many places take some 100 MB for their harmonics."""


def maps_at(arrays: Arrays, ra_deg: FloatArray, dec_deg: FloatArray) -> Maps:
    """Return each map, that of the error included, at n places (ICRS degrees), shape (n,)."""
    names = (*MAPS, _ERROR_MAP)
    degree = max(int(np.sqrt(len(arrays[name]))) - 1 for name in names)
    basis = harmonics(ra_deg, dec_deg, degree)
    maps = {name: basis[:, : len(arrays[name])] @ arrays[name] for name in names}
    spots = spot_shapes(arrays[SPOT_PLACES], ra_deg, dec_deg) @ arrays[SPOT_HEIGHTS]
    return maps | {name: maps[name] + spots[:, i] for i, name in enumerate(SPOTTED)}


def spot_shapes(spot_deg: NDArray[np.floating[Any]], ra_deg: FloatArray, dec_deg: FloatArray) -> FloatArray:
    """Return exp(−θ²/2σ²) for each place and each spot's centre (rows of right ascension and declination): (n, k).

    σ is `SPOT_SIGMA_DEG`; θ² is taken as the square of the chord, which differs only where nothing is left.
    """
    places, spots = unit_vectors(ra_deg, dec_deg), unit_vectors(spot_deg[:, 0], spot_deg[:, 1])
    shapes: FloatArray = np.exp((places.T @ spots - 1.0) / np.radians(SPOT_SIGMA_DEG) ** 2)
    return shapes


def deviation(maps: Maps, g_mag: FloatArray) -> FloatArray:
    """Return d(G; p), shape (places, magnitudes), for maps of shape (places,)."""
    bright, growth_before, faint, step, next_step = (maps[name][:, None] for name in MAPS)
    # The parabola through 16, 17 and 18, and its slope at 16.
    bend = (next_step - step) / 2.0
    faint_growth = step - bend
    beyond = g_mag - _FAINT_G_MAG
    parabola = faint + faint_growth * beyond + bend * beyond**2
    # Growth as counted at 9.5, carried to 10.5 on a straight line towards that at 16.5.
    growth = growth_before + (step - growth_before) / 7.0 * (_ANCHOR_G_MAG - _GROWTH_G_MAG)
    width = _FAINT_G_MAG - _ANCHOR_G_MAG
    t = np.clip((g_mag - _ANCHOR_G_MAG) / width, 0.0, 1.0)
    cubic = (
        (1 + 2 * t) * (1 - t) ** 2 * bright
        + t * (1 - t) ** 2 * width * growth
        + t**2 * (3 - 2 * t) * faint
        - t**2 * (1 - t) * width * faint_growth
    )
    line = bright + growth * (g_mag - _ANCHOR_G_MAG)
    return np.where(g_mag < _ANCHOR_G_MAG, line, np.where(g_mag > _FAINT_G_MAG, parabola, cubic))


class CountsAt(Protocol):
    """Star counts at n places."""

    def per_deg2(self, g_mag: ArrayLike) -> FloatArray:
        """Return N(<G), stars per square degree, shape (n,) for one magnitude, (n, k) for k."""

    def relative_error(self, g_mag: ArrayLike) -> FloatArray:
        """Return the standard error of N(<G) over N(<G), same shapes."""


class SkyCounts(Protocol):
    """Star counts of the whole sky: the model, or it and what was counted (`counted_sky`)."""

    def at(self, ra_deg: ArrayLike, dec_deg: ArrayLike) -> CountsAt:
        """Return the counts at places, ICRS degrees, shape (n,) or single numbers (n = 1)."""

    def described(self, ra_deg: float, dec_deg: float) -> str:
        """Return in a few words what the counts at a place are made from."""


@dataclass(frozen=True)
class CountsHere:
    """The model at n places; magnitudes outside 10 … 18 are taken as the nearer end."""

    model: StarCounts
    maps: Maps
    faint_error: FloatArray

    def per_deg2(self, g_mag: ArrayLike) -> FloatArray:
        """Return N(<G), stars per square degree, shape (n,) for one magnitude, (n, k) for k."""
        wanted = np.clip(np.asarray(g_mag, dtype=np.float64), BRIGHTEST_G_MAG, FAINTEST_G_MAG)
        log = self.model.base(np.atleast_1d(wanted)) + deviation(self.maps, np.atleast_1d(wanted))
        return np.exp(log) if wanted.ndim else np.exp(log[:, 0])

    def relative_error(self, g_mag: ArrayLike) -> FloatArray:
        """Return the standard error of N(<G) over N(<G), same shapes.

        At the faint end what a fit misses half a pixel further on, by place, and the noise of a pixel's own count; at
        the bright end what it misses of stars that it was not shown; between them both, and a share for the bridge.
        How the stars of a small field happen to fall comes on top.
        """
        wanted = np.atleast_1d(np.asarray(g_mag, dtype=np.float64))
        t = np.clip((wanted - _ANCHOR_G_MAG) / (_FAINT_G_MAG - _ANCHOR_G_MAG), 0.0, 1.0)
        bright, gap = self.model.arrays["errors"]
        of_pixel = 1.0 / np.sqrt(self.per_deg2(np.maximum(wanted, _FAINT_G_MAG)) * PIXEL_DEG2)
        faint = np.hypot(self.faint_error[:, None], of_pixel)
        error: FloatArray = np.sqrt(((1 - t) * bright) ** 2 + (t * faint) ** 2 + (4 * t * (1 - t) * gap) ** 2)
        return error if np.ndim(g_mag) else error[:, 0]


@dataclass(frozen=True)
class StarCounts:
    """The fitted model; `arrays` as `data/fit_star_counts.py` wrote them."""

    arrays: Arrays

    def described(self, ra_deg: float, dec_deg: float) -> str:
        """Return in a few words what the counts are made from, the same everywhere."""
        del ra_deg, dec_deg
        return MODEL

    def base(self, g_mag: FloatArray) -> FloatArray:
        """Return the whole sky's curve, ln of stars per square degree."""
        curve: FloatArray = np.interp(g_mag, self.arrays["g_mag"], self.arrays["log_mean_per_deg2"])
        return curve

    def at(self, ra_deg: ArrayLike, dec_deg: ArrayLike) -> CountsHere:
        """Return the model at places, ICRS degrees, shape (n,) or single numbers (n = 1)."""
        ra, dec = (np.atleast_1d(np.asarray(angle, dtype=np.float64)) for angle in (ra_deg, dec_deg))
        starts = range(0, max(len(ra), 1), _PLACES_AT_ONCE)
        parts = [maps_at(self.arrays, *(axis[i : i + _PLACES_AT_ONCE] for axis in (ra, dec))) for i in starts]
        maps = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
        return CountsHere(self, maps, np.exp(maps[_ERROR_MAP]))


@cache
def star_counts(path: Path | None = None) -> StarCounts:
    """Return the built-in model, or the one in a file.

    Raises
    ------
    DataError
        The file is missing, damaged or incomplete.
    """
    file = path or _builtin_file()
    try:
        with file.open("rb") as stream, np.load(stream, allow_pickle=False) as content:
            arrays = {name: content[name] for name in (*MAPS, _ERROR_MAP, *_TABLES)}
    except FileNotFoundError:
        raise DataError(f"The star counts {file} are missing: {_REPAIR}.") from None
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile) as error:
        raise DataError(f"The star counts {file} are damaged ({error}): {_REPAIR}.") from error
    if any(len(arrays[name]) != term_count(int(np.sqrt(len(arrays[name]))) - 1) for name in MAPS):
        raise DataError(f"The star counts {file} are damaged (a map is cut short): {_REPAIR}.")
    return StarCounts(arrays)


def _builtin_file() -> Path:
    """Return the built-in file: inside the installed package, or in `data` of the tree."""
    package = Path(str(resources.files("guidestar.stars"))).parent
    places = [root / "data" / "star_counts" / FILE_NAME for root in (package, package.parent)]
    return next((place for place in places if place.is_file()), places[0])


def counts_for(source: object) -> SkyCounts:
    """Return the counts of what a star source does not list: its own attribute `counts`, else the built-in model.

    Raises
    ------
    DataError
        The model's file is missing or damaged.
    """
    own: SkyCounts | None = getattr(source, "counts", None)
    return star_counts() if own is None else own
