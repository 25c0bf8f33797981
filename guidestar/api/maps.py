"""`sky_map`: the whole sky and one rig, as an object."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from guidestar.api.arguments import judged
from guidestar.api.common import frame_of, rig_of, with_options, year_of
from guidestar.errors import InputError
from guidestar.field.needs import star_needs
from guidestar.maps.extras import require
from guidestar.maps.files import Writer, output_folder, write_all
from guidestar.maps.fits import write_coverage
from guidestar.maps.kept import kept
from guidestar.maps.moc import sparse_pixels, write_sparse
from guidestar.maps.result import COLUMNS, SkyMap
from guidestar.maps.summary import SPARSE_BELOW, Summary, latitudes_csv, require_share, summarise
from guidestar.maps.sweep import pixels_within
from guidestar.maps.sweep import sky_map as sweep_the_sky
from guidestar.maps.targets import TargetHere, targets_here, wished
from guidestar.rig import Rig
from guidestar.stars.choose import Choice, choose_for_sky
from guidestar.stars.source import StarSource
from guidestar.stars.store import store_at

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class MapAnswer:
    """A sky map that can show itself.

    `sky.coverage` holds the columns, one row a pixel of `sky.ipix`; `targets` the person's own targets; `notes` what to
    know before trusting it.
    """

    sky: SkyMap
    sparse_below: float
    targets: tuple[TargetHere, ...] = ()
    notes: tuple[str, ...] = ()

    @cached_property
    def summary(self) -> Summary:
        """What the map comes to, by distance from the Milky Way."""
        return summarise(self.sky, self.sparse_below)

    @property
    def sparse(self) -> np.ndarray:
        """The sparse pixels, NESTED numbers."""
        return sparse_pixels(self.sky, self.sparse_below)

    def to_frame(self) -> pd.DataFrame:
        """Return the map as a table, one row a pixel: its number, its centre and the columns (needs pandas)."""
        sweep = self.sky.sweep
        places = {"ipix": self.sky.ipix, "ra_deg": sweep.ra_deg, "dec_deg": sweep.dec_deg}
        return frame_of({**places, **{name: getattr(sweep.coverage, name) for name in COLUMNS}})

    def to_json(self) -> dict[str, object]:
        """Return the figures as plain values, in the schema of `map --json`."""
        from guidestar.report.map_json import map_to_json

        return map_to_json(self.sky, self.summary, self.targets, self.notes)

    def to_text(self, *, folder: str | None = None, width: int | None = None, colour: bool = False) -> str:
        """Return the report that the command line prints; `folder` is named in it as where the files are."""
        from guidestar.report.map_text import render_map

        return render_map(self.sky, self.summary, self.targets, self.notes, folder=folder, width=width, colour=colour)

    def plot(self) -> Figure:
        """Draw the page with both sky maps."""
        from guidestar.report.map_figure import plot_map

        return plot_map(self.sky, self.summary, self.targets)

    def save(self, folder: str | os.PathLike[str]) -> tuple[Path, ...]:
        """Write all files of the map into a folder, which is made if it is missing: all of them or none.

        Raises
        ------
        InputError
            The folder cannot be written to.
        """
        with output_folder(Path(folder)) as there:
            return write_all(there, self._writers())

    def _writers(self) -> Mapping[str, Writer]:
        def picture(path: Path) -> None:
            from guidestar.report.map_figure import save_map

            save_map(self.sky, self.summary, self.targets, path)

        return {
            "coverage.fits": lambda path: write_coverage(self.sky, path, sparse_below=self.sparse_below),
            "coverage.png": picture,
            "latitudes.csv": lambda path: path.write_text(latitudes_csv(self.summary), encoding="utf-8"),
            "sparse.moc.fits": lambda path: write_sparse(self.sky, self.sparse_below, path),
            "summary.json": lambda path: path.write_text(page_of(self.to_json()), encoding="utf-8"),
        }

    def __str__(self) -> str:
        """Return the report that the command line prints."""
        return self.to_text()


def page_of(values: Mapping[str, object]) -> str:
    """Return plain values as the text of a JSON file."""
    return json.dumps(values, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


@judged
def sky_map(
    rig: Rig | str | os.PathLike[str],
    *,
    nside: int = 64,
    bounds: tuple[float, float] | None = None,
    targets: str | os.PathLike[str] | None = None,
    sparse: float = SPARSE_BELOW,
    stars: StarSource | str | None = None,
    store: str | os.PathLike[str] | None = None,
    epoch: float | str | None = None,
    faintest_mag: float | None = None,
    min_stars: int | None = None,
    exposure: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> MapAnswer:
    """Take every part of the sky as a target and find out where a rig is short of guide stars.

    Parameters
    ----------
    rig : Rig or path
        The rig, or its TOML file.
    nside : int
        HEALPix resolution, a power of two from 1 to 512; 64 makes 49,152 fields of 0.84 square degrees.
    bounds : (least, greatest), optional
        Only declinations between these, degrees.
    targets : path, optional
        A CSV list of targets, to be marked on the map and listed.
    sparse : float
        A field is sparse where less than this share of the camera angles finds a confirmed star.
    stars : "auto", "tycho2", "store" or StarSource, optional
        "auto", the default: the local store where it covers the whole sky, deeper than the built-in catalogue is
        complete, else that. With "store" the map says "no data" where the store has none.
    store : path, optional
        Folder of the local store, instead of GUIDESTAR_STORE or the person's data folder.
    epoch : float or str, optional
        Date of the star positions: a Julian year or "2026-11-25"; today by default.
    faintest_mag, min_stars, exposure : optional
        Instead of the rig's own; a `faintest_mag` switches the light model off.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Raises
    ------
    InputError
        The rig, the targets or an option cannot be used, or Numba is not installed.
    DataError
        The star catalogue or the store failed.
    """
    known = with_options(rig_of(rig), faintest_mag=faintest_mag, min_stars=min_stars, exposure=exposure)
    require_sky(nside, bounds, sparse)
    rows = () if targets is None else wished(Path(targets))
    year = year_of(epoch)
    faintest_mag = star_needs(known).faintest_mag
    chosen = chosen_sky(stars, store, faintest_mag)
    # The targets are a second sweep over the same stars.
    source = kept(chosen.source, epoch_year=year, faintest_mag=faintest_mag) if rows else chosen.source
    sky = sweep_the_sky(known, source, nside=nside, epoch_year=year, bounds_deg=bounds, progress=progress)
    listed = targets_here(rows, known, source, epoch_year=year)
    return MapAnswer(sky, sparse, listed, chosen.notes)


def require_sky(nside: int, bounds_deg: tuple[float, float] | None, sparse: float) -> None:
    """Raise an InputError, before the work, for a map that cannot be made or would hold nothing."""
    require_share(sparse)
    pixels = pixels_within(nside, bounds_deg)
    if bounds_deg is not None and not len(pixels):
        raise InputError(
            f"--bounds {bounds_deg[0]:g},{bounds_deg[1]:g} with --nside {nside}: no target of so coarse a map lies "
            "between these declinations; take a larger nside or wider bounds."
        )
    require("numba", "Working out a sky map")


def chosen_sky(stars: StarSource | str | None, store: str | os.PathLike[str] | None, faintest_mag: float) -> Choice:
    """Choose the source of stars for the sky, for rigs that use stars down to a magnitude."""
    if isinstance(stars, StarSource):
        return Choice(stars)
    return choose_for_sky(stars or "auto", faintest_mag, store_at(store))
