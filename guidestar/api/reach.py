"""`reach`: how faint the guide camera goes, as an object."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from guidestar.api.arguments import judged
from guidestar.api.common import changed, rig_of, values_of
from guidestar.errors import InputError
from guidestar.field.guidescope import USUAL_MAIN_EXPOSURE_S, GuideScopeComparison, compare_guide_scope
from guidestar.field.reach import ReachResult
from guidestar.field.reach import reach as reach_of_rig
from guidestar.rig import Rig

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class ReachAnswer(ReachResult):
    """A `guidestar.field.reach.ReachResult` that can show itself; `guide_scope` if one was to be compared."""

    guide_scope: GuideScopeComparison | None = None

    def to_json(self) -> dict[str, object]:
        """Return the answer as plain values, in the schema of `reach --json`."""
        from guidestar.report.reach_json import reach_to_json

        return reach_to_json(self, self.guide_scope)

    def to_text(self, *, width: int | None = None, colour: bool = False) -> str:
        """Return the report that the command line prints: with a guide scope, the comparison."""
        if self.guide_scope is not None:
            from guidestar.report.reach_scope_text import render_guide_scope

            return render_guide_scope(self.guide_scope, width=width, colour=colour)
        from guidestar.report.reach_text import render_reach

        return render_reach(self, width=width, colour=colour)

    def plot(self) -> Figure:
        """Draw light and reach across the field."""
        from guidestar.report.reach_figure import plot_reach

        return plot_reach(self)

    def __str__(self) -> str:
        """Return the report that the command line prints."""
        return self.to_text()


@judged
def reach(
    rig: Rig | str | os.PathLike[str],
    *,
    at: tuple[float, float] | None = None,
    exposure: float | None = None,
    airmass: float | None = None,
    sky: float | None = None,
    guide_scope: tuple[float, float] | None = None,
    main_exposure: float | None = None,
) -> ReachAnswer:
    """Tell how faint the guide camera goes across its field, what holds it back, and what would help.

    Parameters
    ----------
    rig : Rig or path
        The rig, or its TOML file. Its `guiding.faintest_mag` is passed over: the light alone counts.
    at : (x, y), optional
        One place instead of the usual nine, mm in the rig frame: along the frame's edge, and outward from the axis.
    exposure, airmass, sky : float, optional
        Guide exposure in seconds, airmass, sky brightness (V magnitudes a square arcsecond) instead of the rig's.
    guide_scope : (focal length, aperture), optional
        Compare with the same guide camera behind a guide scope, mm.
    main_exposure : float, optional
        With `guide_scope`: length of one exposure of the main camera, seconds; 300 by default.

    Raises
    ------
    InputError
        The rig or an option cannot be used, or no light reaches the guide camera.
    """
    if main_exposure is not None and guide_scope is None:
        raise InputError(
            f"--main-exposure {main_exposure:g} belongs to --guide-scope FOCAL,APERTURE: give both, or leave it out."
        )
    known = rig_of(rig)
    known = changed(known, {"--exposure": exposure, "--airmass": airmass, "--sky": sky})
    result = reach_of_rig(known, at)
    scope = None
    if guide_scope is not None:
        scope = compare_guide_scope(
            known,
            result.centre.point.throughput,
            focal_length_mm=guide_scope[0],
            aperture_mm=guide_scope[1],
            main_exposure_s=USUAL_MAIN_EXPOSURE_S if main_exposure is None else main_exposure,
        )
    return ReachAnswer(**values_of(result), guide_scope=scope)
