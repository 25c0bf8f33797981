"""The sky map as a HEALPix table in FITS: the whole sky in NESTED order, ICRS, one row a pixel.

Implicit indexing: row number is pixel number, so that any HEALPix reader takes the file as it is. Pixels that were
not worked out, where the star source holds nothing, or where a column has no value carry HEALPix's own mark
`UNSEEN`.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from guidestar.maps.result import COLUMNS, FloatArray, SkyMap
from guidestar.sky import healpix

if TYPE_CHECKING:
    from astropy.io.fits import HDUList

UNSEEN: Final = -1.6375e30
"""What HEALPix tables hold where there is no value (HEALPix facility documentation, "bad pixels")."""

UNITS: Final[Mapping[str, tuple[str, str]]] = {
    "usable_fraction": ("", "share of camera angles, confirmed stars"),
    "flip_safe_fraction": ("", "usable before and after the flip"),
    "sure_fraction": ("", "usable wherever the prism truly is"),
    "mean_stars": ("count", "usable stars, mean over camera angles"),
    "longest_blind_deg": ("deg", "widest run of unusable angles"),
    "expected_fraction": ("", "with estimated fainter stars besides"),
}
"""Unit and meaning of each column; a share has no unit."""

_SIGNS: Final = str.maketrans(
    {"×": "x", "°": " deg", "′": "'", "″": '"', "−": "-", "–": "-", "“": '"', "”": '"', "ß": "ss"}
)


def write_coverage(sky: SkyMap, path: Path, *, sparse_below: float) -> None:
    """Write the columns of the sky map, in the order of `COLUMNS`, as single floats."""
    columns = [(name, getattr(sky.coverage, name), *UNITS[name]) for name in COLUMNS]
    cards = {**_cards(sky), "SPARSE": (sparse_below, "a field below this share of usable angles")}
    healpix_table(sky, columns, cards, name="COVERAGE").writeto(path)


def write_differences(first: SkyMap, others: Sequence[tuple[str, SkyMap]], path: Path) -> None:
    """Write how the usable fraction of other rigs differs from the first one's, one column a rig."""
    columns = [
        (f"difference_{number}", other.coverage.usable_fraction - first.coverage.usable_fraction, "", "minus the first")
        for number, (_, other) in enumerate(others, start=1)
    ]
    cards: dict[str, tuple[Any, str]] = _cards(first)
    for number, (label, _) in enumerate(others, start=1):
        cards[f"RIG{number}"] = (plain_text(label), "")
    healpix_table(first, columns, cards, name="DIFFERENCE").writeto(path)


def healpix_table(
    sky: SkyMap,
    columns: Sequence[tuple[str, FloatArray, str, str]],
    cards: Mapping[str, tuple[Any, str]],
    *,
    name: str,
) -> HDUList:
    """Return a FITS file with a HEALPix table in extension 1.

    Parameters
    ----------
    sky : SkyMap
        Whose pixels these are.
    columns : sequence of (name, values, unit, meaning)
        Values of shape (n,), one a pixel of `sky.ipix`, NaN for none.
    cards : mapping
        Keyword to value and comment.
    name : str
        Of the extension.
    """
    from astropy.io import fits

    made = [
        fits.Column(name=title, format="E", unit=unit or None, array=_over_the_sky(sky, values))
        for title, values, unit, _ in columns
    ]
    table = fits.BinTableHDU.from_columns(made, name=name)
    for number, (_, _, unit, meaning) in enumerate(columns, start=1):
        table.header.comments[f"TTYPE{number}"] = meaning
        if not unit:
            table.header.set(f"TUNIT{number}", "", "a share, 0 to 1")
    for key, (value, comment) in {**_pixel_cards(sky), **cards}.items():
        table.header[key] = (value, comment)
    return fits.HDUList([fits.PrimaryHDU(), table])


def _over_the_sky(sky: SkyMap, values: FloatArray) -> NDArray[np.float32]:
    """Put values at their pixels; what is not known is UNSEEN."""
    whole = np.full(healpix.pixel_count(sky.order), UNSEEN, dtype=np.float32)
    whole[sky.ipix] = np.where(np.isnan(values), UNSEEN, values)
    return whole


def _pixel_cards(sky: SkyMap) -> dict[str, tuple[Any, str]]:
    return {
        "PIXTYPE": ("HEALPIX", "HEALPix pixelisation"),
        "ORDERING": ("NESTED", "order of the pixels"),
        "COORDSYS": ("C", "equatorial coordinates"),
        "RADESYS": ("ICRS", "reference system"),
        "NSIDE": (sky.nside, "resolution"),
        "FIRSTPIX": (0, "number of the first pixel"),
        "LASTPIX": (healpix.pixel_count(sky.order) - 1, "number of the last pixel"),
        "INDXSCHM": ("IMPLICIT", "row number is pixel number"),
        "OBJECT": ("FULLSKY", "one row for every pixel of the sky"),
        "BAD_DATA": (UNSEEN, "no value, or no star data there"),
    }


def _cards(sky: SkyMap) -> dict[str, tuple[Any, str]]:
    """Return what the map was made from; texts stand without a comment, for which a long one leaves no room."""
    sweep = sky.sweep
    found: dict[str, tuple[Any, str]] = {
        "RIG": (plain_text(sweep.rig.name), ""),
        "STARS": (plain_text(sweep.stars.source), ""),
        "COMPLETE": (sweep.stars.complete_to_mag, "it is complete to this magnitude, mag"),
        "REACH": (round(sweep.stars.faintest_mag, 3), "faintest star counted, mag"),
        "BAND": (sweep.stars.band, "band of these magnitudes"),
        "EPOCH": (round(sweep.epoch_year, 4), "Julian year of the stars' places"),
        "NODATA": (int(np.count_nonzero(sky.no_data)), "pixels asked for without star data"),
    }
    if sky.bounds_deg is not None:
        found["DECMIN"] = (sky.bounds_deg[0], "least declination worked out, deg")
        found["DECMAX"] = (sky.bounds_deg[1], "greatest declination worked out, deg")
    return found


def plain_text(text: str) -> str:
    """Return text in the signs that a FITS header holds (ASCII); what has none becomes a question mark."""
    spelt = unicodedata.normalize("NFKD", text.translate(_SIGNS))
    bare = "".join(sign for sign in spelt if not unicodedata.combining(sign))
    return bare.encode("ascii", "replace").decode("ascii")
