"""Gaia's stars as a source: those of the local store, with the brightest from Tycho-2."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.polynomial.polynomial import polyval
from numpy.typing import NDArray

from guidestar.sky import epoch, healpix, regions
from guidestar.sky.regions import Region
from guidestar.stars import gaia_sky, merge, tycho2
from guidestar.stars.counts import SkyCounts
from guidestar.stars.flags import CLOSE_NEIGHBOUR_ARCSEC, POOR_FIT_RUWE, StarFlag, flag_where
from guidestar.stars.search import Motion, Ring, stars_in_ring, widening_deg
from guidestar.stars.source import SkyStars, StarSource, cone
from guidestar.stars.store import (
    FILE_ORDER,
    GAIA_RELEASE,
    GAIA_YEAR,
    Rows,
    Store,
    complete_to,
    empty_rows,
    star_index,
)
from guidestar.stars.table import StarTable
from guidestar.stars.wholesky import Wanted

FloatArray = NDArray[np.float64]

G_MINUS_V: Final = (-0.02704, 0.01424, -0.2156, 0.01426)
"""Coefficients of G − V in powers of BP − RP, −0.5 < BP − RP < 5 (Gaia DR3 documentation, Table 5.9)."""

SPOILING_MAG: Final = 3.0
"""A neighbour fainter than the star by more than this takes less than 6 % of the light and hardly moves a centroid:
only nearer magnitudes make a star a `close_neighbour` (our choice; Gaia lists very faint ones, Tycho-2 does not)."""

_COLUMNS: Final = ("_healpix_29", "source_id", "ra_deg", "dec_deg", "pm_ra", "pm_dec", "g", "bp", "rp", "flags")

_BESIDE_DEG: Final = 0.02
"""How much wider than asked stars are read: for neighbours, for Tycho-2's unmoved stars, and for the stars at a
pixel's edge that belong to the next one (see `store.star_index`)."""


@dataclass(frozen=True)
class GaiaStore:
    """The local store as a `StarSource`, in a place where it is complete to `complete_to_mag`.

    `bright`: where Gaia's missing bright stars are from; `counts`: the store's star counts, if any
    (`counts.counts_for`).
    """

    store: Store
    complete_to_mag: float
    bright: StarSource
    name: str = "Gaia DR3 (local store) with Tycho-2"
    band: str = "G"
    counts: SkyCounts | None = None
    _bright_of_year: dict[float, StarTable] = field(default_factory=dict, init=False, repr=False, compare=False)

    def ring(
        self,
        ra_deg: float,
        dec_deg: float,
        inner_deg: float,
        outer_deg: float,
        *,
        faintest_mag: float | None,
        epoch_year: float,
    ) -> StarTable:
        """Return every star between two distances from a point; see `StarSource.ring`."""
        ring = Ring(ra_deg, dec_deg, inner_deg, outer_deg)
        widen_deg = widening_deg(epoch_year, (GAIA_YEAR, GAIA_YEAR)) + _BESIDE_DEG
        rows = self._rows_near(ring.widened(widen_deg))
        beside = _in_ring(rows, ring.widened(_BESIDE_DEG), epoch_year, widen_deg)
        missing = self._missing(rows, ring, epoch_year)
        joined = _joined(beside, missing, _designations(self.store, rows))
        table = joined.take(_first_of_each(joined.id))
        spoiled = merge.close_pairs(table.ra_deg, table.dec_deg, table.g_mag, CLOSE_NEIGHBOUR_ARCSEC, SPOILING_MAG)
        table.flags[spoiled] |= np.uint16(StarFlag.CLOSE_NEIGHBOUR)
        return _asked_for(table, ring, faintest_mag)

    def sky_chunks(
        self, *, epoch_year: float, faintest_mag: float | None, dec_deg: tuple[float, float]
    ) -> Iterator[SkyStars]:
        """Return all stars, those of a file at a time; see `wholesky.sky_chunks`."""
        bright = gaia_sky.BrightStars(self._bright_at(GAIA_YEAR), self._bright_at(epoch_year))
        yield from gaia_sky.chunks(self.store, bright, Wanted(epoch_year, faintest_mag, dec_deg))

    def sky_coverage(self) -> Region:
        """Return where the store is complete to `complete_to_mag`."""
        return complete_to(self.store.coverage_in(regions.whole_sky()), self.complete_to_mag)

    def _bright_at(self, epoch_year: float) -> StarTable:
        """Return the other catalogue's bright stars of the whole sky at a date, read once."""
        if epoch_year not in self._bright_of_year:
            table = cone(self.bright, 0.0, 90.0, 180.0, faintest_mag=self._bright_to_mag, epoch_year=epoch_year)
            self._bright_of_year[epoch_year] = table
        return self._bright_of_year[epoch_year]

    @property
    def _bright_to_mag(self) -> float:
        return min(merge.BRIGHT_G_MAG, self.complete_to_mag - merge.UNMOVED_ALIKE_MAG)

    def _rows_near(self, ring: Ring) -> Rows:
        pixels = healpix.pixels_touching_circle(ring.ra_deg, ring.dec_deg, ring.outer_deg, FILE_ORDER)
        rows = self.store.read(pixels.tolist(), _COLUMNS)
        near = np.abs(rows["dec_deg"] - ring.dec_deg) <= ring.outer_deg
        return {name: values[near] for name, values in rows.items()}

    def _missing(self, rows: Rows, ring: Ring, epoch_year: float) -> StarTable:
        """Return the bright stars of the ring that Gaia does not have, at the date."""
        where = (ring.ra_deg, ring.dec_deg, ring.outer_deg + widening_deg(epoch_year, (GAIA_YEAR, GAIA_YEAR)))
        depth = self._bright_to_mag
        then = cone(self.bright, *where, faintest_mag=depth, epoch_year=GAIA_YEAR)
        alone = merge.missing_from(
            (rows["ra_deg"], rows["dec_deg"], rows["g"].astype(np.float64)),
            (then.ra_deg, then.dec_deg, then.g_mag),
            then.flags,
        )
        wide = ring.widened(_BESIDE_DEG)
        now = self.bright.ring(
            wide.ra_deg,
            wide.dec_deg,
            max(wide.inner_deg, 0.0),
            wide.outer_deg,
            faintest_mag=depth,
            epoch_year=epoch_year,
        )
        return now.take(np.isin(now.id, then.id[alone]))


def _in_ring(rows: Rows, ring: Ring, epoch_year: float, widen_deg: float) -> StarTable:
    """Return the store's stars of a ring at a date."""
    motion = Motion(
        rows["ra_deg"],
        rows["dec_deg"],
        np.full(len(rows["g"]), GAIA_YEAR),
        rows["pm_ra"].astype(np.float64),
        rows["pm_dec"].astype(np.float64),
    )
    indices, ra_deg, dec_deg = stars_in_ring(motion, ring, epoch_year, widen_deg)
    g_mag, bp, rp = (rows[name][indices].astype(np.float64) for name in ("g", "bp", "rp"))
    return StarTable(
        id=rows["source_id"][indices].astype(np.int64),
        ra_deg=ra_deg,
        dec_deg=dec_deg,
        g_mag=g_mag,
        v_mag=g_mag - polyval(bp - rp, G_MINUS_V),
        flags=rows["flags"][indices].astype(np.uint16),
        hip=np.zeros(len(indices), dtype=np.int32),
    )


def _joined(gaia: StarTable, bright: StarTable, designation: Callable[[int], str]) -> StarTable:
    """Return the stars of both; those of Tycho-2 get negative numbers, so that no two stars have the same."""
    return StarTable(
        id=np.concatenate([gaia.id, -bright.id]),
        ra_deg=np.concatenate([gaia.ra_deg, bright.ra_deg]),
        dec_deg=np.concatenate([gaia.dec_deg, bright.dec_deg]),
        g_mag=np.concatenate([gaia.g_mag, bright.g_mag]),
        v_mag=np.concatenate([gaia.v_mag, bright.v_mag]),
        flags=np.concatenate([gaia.flags, bright.flags]),
        hip=np.concatenate([gaia.hip, bright.hip]),
        designation=designation,
    )


def _first_of_each(number: NDArray[np.int64]) -> NDArray[np.intp]:
    """Return where each number stands first: an imported star at a pixel's edge may be in two files."""
    return np.sort(np.unique(number, return_index=True)[1])


def _asked_for(table: StarTable, ring: Ring, faintest_mag: float | None) -> StarTable:
    """Cut the wider ring in which neighbours were looked for down to the one that was asked for."""
    centre = epoch.unit_vectors(ring.ra_deg, ring.dec_deg)[:, np.newaxis]
    chord = np.linalg.norm(epoch.unit_vectors(table.ra_deg, table.dec_deg) - centre, axis=0)
    inside = chord >= epoch.chord_of(ring.inner_deg)
    if ring.outer_deg < 180.0:
        inside &= chord <= epoch.chord_of(ring.outer_deg)
    if faintest_mag is not None:
        inside &= table.g_mag <= faintest_mag
    return table.take(inside)


def _designations(store: Store, rows: Rows) -> Callable[[int], str]:
    """Return what names a star: the release that it is from and its number there, or Tycho-2's name."""
    pixels = np.unique(rows["_healpix_29"] >> 2 * (healpix.INDEX_ORDER - FILE_ORDER)).tolist()
    others = [item for pixel in pixels for item in store.coverage_of(pixel) if item.release != GAIA_RELEASE]
    release: dict[int, str] = {}
    for item in others:
        theirs = rows["source_id"][regions.contains(item.region, rows["_healpix_29"])]
        release |= dict.fromkeys(theirs.tolist(), item.release)

    def name(number: int) -> str:
        return tycho2.designation(-number) if number < 0 else f"{release.get(number, GAIA_RELEASE)} {number}"

    return name


def gaia_flags(rows: Rows, galaxy: NDArray[np.bool_]) -> NDArray[np.uint16]:
    """Return the bits of `StarFlag` that follow from Gaia's own columns, shape (n,)."""
    unmoving = np.isnan(rows["pm_ra"]) | np.isnan(rows["pm_dec"])
    return np.asarray(
        flag_where(unmoving, StarFlag.NO_PROPER_MOTION)
        | flag_where(galaxy, StarFlag.EXTENDED)
        | flag_where(np.nan_to_num(rows["ruwe"]) > POOR_FIT_RUWE, StarFlag.POOR_FIT)
        | flag_where(np.isnan(rows["bp"]) | np.isnan(rows["rp"]), StarFlag.NO_COLOUR)
    )


def rows_of(number: NDArray[np.int64], floats: dict[str, FloatArray], galaxy: NDArray[np.bool_]) -> Rows:
    """Return the store's columns for stars of given number, our float columns and mark of galaxies, shape (n,)."""
    rows = empty_rows() | {"source_id": number, "ra_deg": floats["ra"], "dec_deg": floats["dec"]}
    rows |= {"pm_ra": floats["pmra"], "pm_dec": floats["pmdec"], "ruwe": floats["ruwe"]}
    rows |= {name: floats[name].astype(np.float32) for name in ("g", "bp", "rp")}
    rows["_healpix_29"] = star_index(number, rows["ra_deg"], rows["dec_deg"])
    rows["flags"] = gaia_flags(rows, galaxy)
    return rows


def gaia_store(store: Store, complete_to_mag: float, counts: SkyCounts | None = None) -> GaiaStore:
    """Return the store as a source where it is complete to a magnitude, with the built-in catalogue's bright stars."""
    return GaiaStore(store, complete_to_mag, tycho2.tycho2(), counts=counts)
