"""Regions of the sky as sets of HEALPix pixels: ranges of indices at the deepest order.

A region is an int64 array of shape (n, 2): half-open ranges [start, end) of NESTED indices at order 29, ascending,
not touching each other: the RANGE form of a space MOC (IVOA MOC 2.0). `to_text` and `from_text` are that
standard's ASCII form, such as "5/12233 6/48936-48938 48941". Own code, because the library for MOCs imports astropy and
takes a second to start, and `check` needs these few operations only.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.errors import InputError
from guidestar.sky import healpix

Region = NDArray[np.int64]

END: Final = healpix.pixel_count(healpix.INDEX_ORDER)
SKY_DEG2: Final = 4.0 * np.pi * np.degrees(1.0) ** 2

_EDGE_ORDER: Final = 10
"""The finest pixels by which a circle's edge is followed (3.4′)."""


def nowhere() -> Region:
    """Return the empty region."""
    return np.empty((0, 2), dtype=np.int64)


def whole_sky() -> Region:
    """Return the region that holds everything."""
    return np.array([[0, END]], dtype=np.int64)


def of_pixels(pixels: ArrayLike, order: int) -> Region:
    """Return the region of some NESTED pixels, in any order and number."""
    first = np.asarray(pixels, dtype=np.int64).ravel() << 2 * (healpix.INDEX_ORDER - order)
    return union(np.stack([first, first + (1 << 2 * (healpix.INDEX_ORDER - order))], axis=1))


def union(*regions: NDArray[np.int64]) -> Region:
    """Return what is in any region; accepts ranges that overlap, touch or are out of order."""
    return healpix.union_of_ranges(regions)


def intersection(one: Region, other: Region) -> Region:
    """Return what is in both regions."""
    return healpix.intersection_of_ranges((one, other))


def difference(one: Region, other: Region) -> Region:
    """Return what is in `one` and not in `other`."""
    edges = np.concatenate(([0], other.ravel(), [END])).reshape(-1, 2)
    return intersection(one, edges[edges[:, 0] < edges[:, 1]])


def contains(region: Region, index: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return which indices (order 29, shape (n,)) lie in a region."""
    return np.asarray(np.searchsorted(region.ravel(), index, side="right") % 2 == 1)


def is_within(one: Region, other: Region) -> bool:
    """Tell whether `other` holds all of `one`."""
    return not len(difference(one, other))


def area_deg2(region: Region) -> float:
    """Return the area, square degrees."""
    return float(np.sum((region[:, 1] - region[:, 0]).astype(np.float64)) / END * SKY_DEG2)


def pixels_of(region: Region, order: int) -> NDArray[np.int64]:
    """Return every NESTED pixel of an order that a region touches, ascending."""
    shift = 2 * (healpix.INDEX_ORDER - order)
    touched = [np.arange(start >> shift, ((end - 1) >> shift) + 1) for start, end in region.tolist()]
    return np.unique(np.concatenate(touched)) if touched else np.empty(0, dtype=np.int64)


def around(ra_deg: float, dec_deg: float, radius_deg: float, order: int | None = None) -> Region:
    """Return the pixels that touch a circle (degrees, ICRS); unless given, `order` suits the circle's size."""
    chosen = _order_for(radius_deg) if order is None else order
    return of_pixels(healpix.pixels_touching_circle(ra_deg, dec_deg, radius_deg, chosen), chosen)


def inside_circle(ra_deg: float, dec_deg: float, radius_deg: float) -> Region:
    """Return the pixels that lie wholly inside a circle (degrees, ICRS)."""
    order = min(_order_for(radius_deg) + 2, _EDGE_ORDER + 2)
    pixels = healpix.pixels_touching_circle(ra_deg, dec_deg, radius_deg, order)
    ra, dec = (np.radians(angle) for angle in healpix.pixel_centres(pixels, order))
    ra0, dec0 = np.radians(ra_deg), np.radians(dec_deg)
    half = np.sin((dec - dec0) / 2) ** 2 + np.cos(dec) * np.cos(dec0) * np.sin((ra - ra0) / 2) ** 2
    away_deg = np.degrees(2.0 * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))))
    return of_pixels(pixels[away_deg + healpix.largest_radius_deg(order) <= radius_deg], order)


def declination_band(from_deg: float, to_deg: float, order: int = 6) -> Region:
    """Return the pixels that touch the declinations between two values, degrees."""
    pixels = np.arange(healpix.pixel_count(order), dtype=np.int64)
    dec = healpix.pixel_centres(pixels, order)[1]
    margin = healpix.largest_radius_deg(order)
    return of_pixels(pixels[(dec + margin >= from_deg) & (dec - margin <= to_deg)], order)


def _order_for(radius_deg: float) -> int:
    """Return the order whose pixels are about a quarter of the radius wide, from 4 to the finest for edges."""
    order, width_deg = 4, 3.7
    while width_deg > radius_deg / 3 and order < _EDGE_ORDER:
        order, width_deg = order + 1, width_deg / 2
    return order


def to_text(region: Region) -> str:
    """Return the region as an ASCII MOC, largest pixels first; "" for the empty region."""
    left, words = region, []
    for order in range(healpix.INDEX_ORDER + 1):
        if not len(left):
            break
        shift = 2 * (healpix.INDEX_ORDER - order)
        whole = np.stack([-(-left[:, 0] >> shift), left[:, 1] >> shift], axis=1)
        whole = whole[whole[:, 0] < whole[:, 1]]
        if len(whole):
            words.append(f"{order}/" + " ".join(_span(first, end - 1) for first, end in whole.tolist()))
            left = difference(left, whole << shift)
    return " ".join(words)


def _span(first: int, last: int) -> str:
    return f"{first}" if first == last else f"{first}-{last}"


def from_text(text: str) -> Region:
    """Return the region that an ASCII MOC describes.

    Raises
    ------
    InputError
        If it is not one.
    """
    found, order = [], None
    for word in re.sub(r"\s*([/-])\s*", r"\1", text.replace(",", " ")).replace("/", "/ ").split():
        form = re.fullmatch(r"(\d{1,19})(/|-\d{1,19})?", word)
        if form is None or (order is None and form[2] != "/"):
            raise _not_a_moc(text)
        if form[2] == "/":
            order = int(form[1])
        else:
            found.append(_range(text, order or 0, int(form[1]), int((form[2] or "")[1:] or form[1])))
    return union(np.array(found, dtype=np.int64).reshape(-1, 2))


def _range(text: str, order: int, first: int, last: int) -> tuple[int, int]:
    if order > healpix.INDEX_ORDER or not first <= last < healpix.pixel_count(order):
        raise _not_a_moc(text)
    shift = 2 * (healpix.INDEX_ORDER - order)
    return first << shift, (last + 1) << shift


def _not_a_moc(text: str) -> InputError:
    return InputError(
        f'"{text.strip()[:60]}" is not a MOC in its text form: order, stroke, pixels, such as "5/12233 12236".'
    )


def rounded_out(region: Region, order: int) -> Region:
    """Return the region grown to whole pixels of an order."""
    shift = 2 * (healpix.INDEX_ORDER - order)
    return union(np.stack([region[:, 0] >> shift, -(-region[:, 1] >> shift)], axis=1) << shift)
