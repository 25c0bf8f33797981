"""`check`: one target and one rig, as an object."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

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
from guidestar.errors import InputError
from guidestar.field.asked import Question
from guidestar.field.check import check as check_place
from guidestar.field.check import check_at_shortest_exposure
from guidestar.field.result import CheckResult
from guidestar.nudge.result import Nudge
from guidestar.nudge.shift import nudge as nudge_check
from guidestar.nudge.wish import wish_of
from guidestar.rig import Rig
from guidestar.sky.place import Place
from guidestar.stars.source import StarSource

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes


@dataclass(frozen=True)
class Answer(CheckResult):
    """A `guidestar.field.result.CheckResult` that can show itself.

    `nudge`: the smallest shifts that bring a guide star, where they were asked for (`guidestar.nudge.result.Nudge`).
    """

    nudge: Nudge | None = None

    def to_frame(self) -> pd.DataFrame:
        """Return the guide stars as a table, one row a star, brightest first (needs pandas)."""
        from guidestar.report.json_output import to_json

        return frame_of(to_json(self)["guide_stars"])

    def to_json(self) -> dict[str, object]:
        """Return the answer as plain values, in the schema of `check --json`."""
        from guidestar.report.json_output import to_json

        return to_json(self, self.nudge)

    def plot_field(self, axes: Axes | None = None) -> Axes:
        """Draw the target's surroundings with the main frame and the guide field; return the axes."""
        from guidestar.report.figures import plot_field

        return plot_field(self, axes)

    def __str__(self) -> str:
        """Return the report that the command line prints."""
        from guidestar.report.text import render

        return render(self, nudge=self.nudge)


@judged
def check(
    target: str | tuple[float, float] | Place,
    rig: Rig | str | os.PathLike[str],
    *,
    stars: StarSource | str | None = None,
    store: str | os.PathLike[str] | None = None,
    epoch: float | str | None = None,
    angle: float | None = None,
    tolerance: float | None = None,
    any_side: bool = False,
    faintest_mag: float | None = None,
    min_stars: int | None = None,
    exposure: float | Literal["auto"] | None = None,
    airmass: float | None = None,
    sky: float | None = None,
    equinox: str = "J2000",
    online_names: bool = False,
    nudge: float | None = None,
    nudge_percent: float | None = None,
    turn_cost: float | None = None,
) -> Answer:
    """Find the camera angles at which the prism shows the guide camera a star.

    Parameters
    ----------
    target : str, (ra, dec) in degrees, or Place
        A catalogue name or coordinates as text ("22 37 04.1 +34 24 56"), ICRS unless `equinox` is "date".
    rig : Rig or path
        The rig, or its TOML file.
    stars : "auto", "tycho2", "store" or StarSource, optional
        Where stars come from. "auto", the default: the local store where it covers the surroundings deeper than the
        built-in Tycho-2, else that; the answer's warnings say what is missing.
    store : path, optional
        Folder of the local store, instead of GUIDESTAR_STORE or the person's data folder.
    epoch : float or str, optional
        Date of the answer: a Julian year or "2026-11-25"; today by default.
    angle, tolerance : float, optional
        A camera angle to judge, and how far it may be off either way, degrees (the rig's accuracy by default).
    any_side : bool
        With `angle`: try the prism at all four sides of the frame.
    faintest_mag, min_stars : optional
        Instead of the rig's own. A `faintest_mag` switches the light model off: that limit then holds everywhere.
    exposure : float or "auto", optional
        Guide exposure in seconds instead of the rig's; "auto": the shortest usual one that makes `angle`, or else any
        camera angle, usable.
    airmass, sky : float, optional
        Airmass (≥ 1) and sky brightness (V magnitudes a square arcsecond) instead of the rig's.
    equinox : "J2000" or "date"
        What coordinates in `target` refer to.
    online_names : bool
        Ask a name service on the network where the built-in list does not know the name.
    nudge, nudge_percent : float, optional
        How far the framing may be moved, arcminutes or per cent of the picture's shorter side: look for the smallest
        shift that brings a guide star, at `angle` or else at any camera angle. The answer's `nudge`.
    turn_cost : float, optional
        With a nudge and `angle`: what a degree of turn costs, per cent of the picture's shorter side (1 by default).

    Raises
    ------
    InputError
        The target, the rig or an option cannot be used.
    DataError
        The star catalogue or the name service failed.
    """
    known = with_options(
        rig_of(rig), faintest_mag=faintest_mag, min_stars=min_stars, exposure=exposure, airmass=airmass, sky=sky
    )
    year = year_of(epoch)
    ask = check_at_shortest_exposure if exposure == "auto" else check_place
    question = _question(known, angle, tolerance, any_side)
    wish = wish_of(known, nudge, nudge_percent, turn_cost, angle)
    there = place_of(target, year, equinox, online_names)
    further_deg = 0.0 if wish is None else wish.limit_arcmin / 60
    chosen = chosen_stars(stars, store, there, known, any_exposure=exposure == "auto", further_deg=further_deg)
    result = ask(there, known, chosen.source, epoch_year=year, question=question)
    moved = None if wish is None else nudge_check(result, chosen.source, wish)
    result = replace(result, warnings=(*result.warnings, *chosen.notes))
    return Answer(**values_of(result), nudge=moved)


def _question(rig: Rig, angle: float | None, tolerance: float | None, any_side: bool) -> Question | None:
    if angle is None:
        if any_side or tolerance is not None:
            raise InputError("--any-side and --tolerance judge one framing: give its camera angle with --angle.")
        return None
    return Question(turn_of("--angle", angle), tolerance_of(rig, tolerance), any_side)
