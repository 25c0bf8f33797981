"""`check --panels`: a mosaic of several framings, as an object."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from guidestar.api.arguments import judged
from guidestar.api.common import (
    chosen_stars,
    frame_of,
    place_of,
    rig_of,
    tolerance_of,
    turn_of,
    values_of,
    with_options,
    year_of,
)
from guidestar.nudge.grid import Grid, grid_of
from guidestar.nudge.mosaic import MosaicQuestion
from guidestar.nudge.mosaic import mosaic as mosaic_of
from guidestar.nudge.result import Mosaic
from guidestar.nudge.shift import ground_of
from guidestar.nudge.wish import wish_of
from guidestar.rig import Rig
from guidestar.sky.place import Place
from guidestar.stars.source import StarSource

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class MosaicAnswer(Mosaic):
    """A `guidestar.nudge.result.Mosaic` that can show itself."""

    def to_frame(self) -> pd.DataFrame:
        """Return the panels as a table, one row a panel (needs pandas)."""
        from guidestar.report.mosaic_json import to_json

        return frame_of(to_json(self)["panels"])

    def to_json(self) -> dict[str, object]:
        """Return the answer as plain values, in the schema of `check --panels --json`."""
        from guidestar.report.mosaic_json import to_json

        return to_json(self)

    def to_text(self, width: int | None = None, colour: bool = False) -> str:
        """Return the report that the command line prints."""
        from guidestar.report.mosaic_text import render

        return render(self, width=width, colour=colour)

    def __str__(self) -> str:
        """Return the report that the command line prints."""
        return self.to_text()


@judged
def mosaic(
    target: str | tuple[float, float] | Place,
    rig: Rig | str | os.PathLike[str],
    panels: str,
    *,
    overlap: float | None = None,
    grid_angle: float | None = None,
    angle: float | None = None,
    tolerance: float | None = None,
    nudge: float | None = None,
    nudge_percent: float | None = None,
    stars: StarSource | str | None = None,
    store: str | os.PathLike[str] | None = None,
    epoch: float | str | None = None,
    faintest_mag: float | None = None,
    min_stars: int | None = None,
    exposure: float | None = None,
    airmass: float | None = None,
    sky: float | None = None,
    equinox: str = "J2000",
    online_names: bool = False,
) -> MosaicAnswer:
    """Find the camera angles at which every panel of a mosaic has a guide star.

    Parameters
    ----------
    target : str, (ra, dec) in degrees, or Place
        The mosaic's centre, as for `check`.
    rig : Rig or path
        The rig, or its TOML file.
    panels : str
        Columns and rows, as in "3x2".
    overlap : float, optional
        What neighbours share, per cent of a frame's width and height, 0 to 90; 10 by default.
    grid_angle : float, optional
        Position angle of the grid's upward direction, degrees, for a grid that stays put while the camera turns;
        without it the grid turns with the camera.
    angle : float, optional
        The camera angle at which to show the panels; by default the best.
    tolerance : float, optional
        How far that may be off either way, degrees (the rig's accuracy by default).
    nudge, nudge_percent : float, optional
        How far a panel without a star may be moved, arcminutes or per cent of the picture's shorter side; by default as
        far as the overlap.
    stars, store, epoch, faintest_mag, min_stars, exposure, airmass, sky, equinox, online_names
        As for `check`.

    Raises
    ------
    InputError
        The target, the rig, the grid or an option cannot be used.
    DataError
        The star catalogue or the name service failed.
    """
    known = with_options(
        rig_of(rig), faintest_mag=faintest_mag, min_stars=min_stars, exposure=exposure, airmass=airmass, sky=sky
    )
    year = year_of(epoch)
    there = place_of(target, year, equinox, online_names)
    grid = grid_of(known, there.ra_deg, there.dec_deg, panels, overlap)
    wish = wish_of(known, nudge, nudge_percent, None, angle)
    limit = None if wish is None else wish.limit_arcmin
    question = MosaicQuestion(
        None if angle is None else turn_of("--angle", angle),
        tolerance_of(known, tolerance),
        None if grid_angle is None else turn_of("--grid-angle", grid_angle),
        limit,
    )
    chosen = chosen_stars(stars, store, there, known, further_deg=_reach_deg(grid))
    found = mosaic_of(there, ground_of(known, chosen.source, year), grid, question)
    found = replace(found, warnings=(*found.warnings, *chosen.notes))
    return MosaicAnswer(**values_of(found))


def _reach_deg(grid: Grid) -> float:
    """Return how far the outermost panel's centre lies from the mosaic's, degrees."""
    furthest = float(np.max(np.hypot(*grid.offsets_mm().T)))
    return float(np.degrees(np.arctan(furthest / grid.focal_length_mm)))
