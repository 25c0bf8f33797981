"""What a nudge and a mosaic find out, as plain frozen values.

Angles in degrees, [0, 360) unless said otherwise; sets of camera angles as in `guidestar.field.result`. A place in the
main picture is counted from its middle, as displayed: right and up positive.
"""

from __future__ import annotations

from dataclasses import dataclass

from guidestar.field.result import Asked, Intervals, Placement, Target
from guidestar.rig import Rig


@dataclass(frozen=True)
class InPicture:
    """Where something stands in the main picture: mm and pixels from its middle, and per cent of its width and height.

    At ±50 % it stands on an edge.
    """

    right_mm: float
    up_mm: float
    right_px: float
    up_px: float
    right_percent: float
    up_percent: float


@dataclass(frozen=True)
class Shift:
    """A framing that holds, verified by asking it like any other.

    Attributes
    ----------
    shift_arcmin, direction_deg : float
        How far the frame's centre moves from the target, and in which position angle seen from the target (0 without a
        shift).
    ra_deg, dec_deg : float
        Where the frame's centre then points, ICRS.
    angle_deg, turn_deg : float
        The camera angle there, and how far it is turned from the one asked about, −180 to 180; 0 where none was asked.
    cost_arcmin : float
        The shift, and for a turn what that costs besides.
    target : InPicture
        Where the target then stands.
    star_ids : tuple of str
        The usable stars there, clean ones first, then by brightness.
    placements : tuple of Placement
        Every catalogue star then on the guide sensor.
    sure : bool
        It also holds wherever the prism truly is; otherwise only if it is where it was measured.
    proved : bool
        No cheaper framing exists, to within the accuracy of the search. (False only where the search gave up proving.)
    """

    shift_arcmin: float
    direction_deg: float
    ra_deg: float
    dec_deg: float
    angle_deg: float
    turn_deg: float
    cost_arcmin: float
    target: InPicture
    star_ids: tuple[str, ...]
    placements: tuple[Placement, ...]
    sure: bool
    proved: bool


@dataclass(frozen=True)
class Nudge:
    """The smallest shifts of a framing that give it enough guide stars.

    Attributes
    ----------
    limit_arcmin : float
        How far the person is willing to go.
    furthest_arcmin : float
        How far the target may go at all: to the nearer edges of the picture.
    angle_deg : float or None
        The camera angle asked about; None where any will do.
    tolerance_deg : float
        Every framing holds for all camera angles within so much of its own.
    sure : Shift or None
        The smallest shift within the limit that makes the framing sure.
    usable : Shift or None
        The smallest that makes it usable; `sure` itself where nothing shorter does.
    beyond : Shift or None
        Where there is none within the limit (of a sure one, if there is a usable one): the nearest beyond.
    turned : Shift or None
        A shift and a turn together that cost clearly less than the shift alone; only with a camera angle.
    turn_cost_percent, turn_cost_arcmin : float
        What a degree of turn counts as: a share of the frame's shorter side, and the same as a shift.
    """

    limit_arcmin: float
    furthest_arcmin: float
    angle_deg: float | None
    tolerance_deg: float
    sure: Shift | None
    usable: Shift | None
    beyond: Shift | None
    turned: Shift | None
    turn_cost_percent: float
    turn_cost_arcmin: float

    @property
    def best(self) -> Shift | None:
        """The sure shift, or else the usable one."""
        return self.sure or self.usable


@dataclass(frozen=True)
class Panel:
    """One panel of a mosaic at the mosaic's camera angle.

    Attributes
    ----------
    row, column : int
        Counted from 1, from the top left of the mosaic as the picture shows it at that angle (of a fixed grid: at the
        grid's angle).
    ra_deg, dec_deg : float
        Where its centre points, ICRS.
    leaning_deg : float
        How far its picture leans against the grid, positive towards increasing position angle: the camera angle is kept
        against north, and north at the panel is not north at the mosaic's centre.
    asked : Asked
        The framing judged there like any other.
    nudge : Nudge or None
        Where it has no star: the smallest shift of this panel that brings one.
    """

    row: int
    column: int
    ra_deg: float
    dec_deg: float
    leaning_deg: float
    asked: Asked
    nudge: Nudge | None


@dataclass(frozen=True)
class Mosaic:
    """Which camera angles serve every panel of a mosaic, and how the panels fare at one of them.

    Attributes
    ----------
    columns, rows, overlap_percent
        The grid; neighbours share so much of a frame's width or height.
    grid_angle_deg : float or None
        Position angle of the grid's upward direction where the grid stays put; None where it turns with the camera.
    usable_angles_deg, sure_angles_deg : Intervals
        Camera angles, against north at each panel's own centre, at which every panel is usable, or sure.
    flip_safe_angles_deg : Intervals or None
        Those usable here and half a turn away; None for a mount without a flip.
    angle_deg : float
        The camera angle of `panels`: the one asked for, or else the best.
    margin_deg : float or None
        How far the best angle may be missed either way before a panel changes; None where an angle was asked for, or
        where no panel has a star at any.
    asked_for : bool
        Whether that angle was asked for.
    tolerance_deg : float
        Panels are judged for all camera angles within so much of it.
    panels : tuple of Panel
        Row by row.
    nudge_limit_arcmin : float
        How far a panel without a star may be moved.
    gaps : bool
        Whether neighbours lean against each other so much that sky may be missed between them.
    complete_to_mag, faintest_mag : float
        How deep the stars are complete, and how deep the rig reaches.
    """

    target: Target
    epoch_year: float
    rig: Rig
    source: str
    columns: int
    rows: int
    overlap_percent: float
    grid_angle_deg: float | None
    usable_angles_deg: Intervals
    sure_angles_deg: Intervals
    flip_safe_angles_deg: Intervals | None
    angle_deg: float
    margin_deg: float | None
    asked_for: bool
    tolerance_deg: float
    panels: tuple[Panel, ...]
    nudge_limit_arcmin: float
    gaps: bool
    complete_to_mag: float
    faintest_mag: float
    exposure_s: float | None = None
    warnings: tuple[str, ...] = ()

    @property
    def usable_panels(self) -> int:
        """How many panels are usable at the angle, within the tolerance."""
        return sum(panel.asked.usable for panel in self.panels)

    @property
    def sure_panels(self) -> int:
        """How many of them are sure."""
        return sum(panel.asked.sure for panel in self.panels)
