"""What `check` finds out, as plain frozen values: computed once, rendered many ways.

Angles in degrees. A set of camera angles is a tuple of `(start, end)` with 0 ≤ start < 360 and
start < end ≤ start + 360, merged and in order of start; the full circle is ``((0.0, 360.0),)``, nothing is ``()``.
Rig frame: mm in the focal plane, fixed to the hardware, x along the tangent, y radially outward through the prism.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from guidestar.rig import Rig
from guidestar.signal.centroid import combined_error

FloatArray = NDArray[np.float64]
Intervals = tuple[tuple[float, float], ...]
HintKind = Literal["fainter", "exposure", "offset", "shift", "fewer"]


@dataclass(frozen=True)
class Target:
    """Where the telescope points: ICRS degrees, and galactic longitude and latitude in degrees."""

    name: str
    ra_deg: float
    dec_deg: float
    l_deg: float
    b_deg: float


@dataclass(frozen=True)
class GuideField:
    """The guide field in the rig frame and on the sky.

    `outline_mm` is its polygon, shape (n, 2), counter-clockwise in (x, y); the ring it sweeps in a full turn lies
    between `inner_mm` and `outer_mm` from the axis.
    """

    model: Literal["geometric", "light"]
    centre_mm: float
    centre_arcmin: float
    width_arcmin: float
    height_arcmin: float
    scale_arcsec_per_mm: float
    outline_mm: FloatArray
    inner_mm: float
    outer_mm: float


@dataclass(frozen=True)
class StarsUsed:
    """Which stars were asked, how deep they are complete and how deep the rig needs them (magnitudes in `band`)."""

    source: str
    band: str
    complete_to_mag: float
    faintest_mag: float
    candidates: int


@dataclass(frozen=True)
class StarLight:
    """What the guide camera gets of a star in one exposure at one place (light model only).

    `transmission`: the prism's T there, 0 to 1, geometry alone. `peak_fill`: brightest pixel over the full well.
    `centroid_arcsec`: expected error of its position along one axis from the light alone, without seeing; None for a
    star that fills its brightest pixel, which no formula here covers. `unsaturated_exposure_s`: for such a star the
    longest usual exposure that does not fill the pixel and still makes it usable there, None where there is none.
    """

    transmission: float
    snr: float
    peak_fill: float
    centroid_arcsec: float | None
    unsaturated_exposure_s: float | None = None


@dataclass(frozen=True)
class Placement:
    """Where one star stands at one camera angle.

    `x_mm, y_mm` in the rig frame; `u_mm, v_mm` on the guide sensor from its centre; `u_px, v_px` pixels counted
    from the corner of smallest u and v (unbinned). `usable` is False for a star that is only there to recognise
    the pattern by (too faint).
    """

    star_id: str
    g_mag: float
    x_mm: float
    y_mm: float
    u_mm: float
    v_mm: float
    u_px: float
    v_px: float
    usable: bool
    light: StarLight | None = None


@dataclass(frozen=True)
class Together:
    """How well several stars tell a shift together, each weighed by its own error.

    `stars` of them; `centroid_arcsec` as in `StarLight`.
    """

    stars: int
    centroid_arcsec: float


def together(placements: Sequence[Placement]) -> Together | None:
    """Return what the usable stars give together; None for fewer than two, or where no light is reckoned.

    A star that fills its brightest pixel is left out: its error is not known.
    """
    lights = [item.light for item in placements if item.usable and item.light is not None]
    errors = [light.centroid_arcsec for light in lights if light.centroid_arcsec is not None]
    return Together(len(errors), float(combined_error(errors))) if len(errors) > 1 else None


@dataclass(frozen=True)
class Setting:
    """One camera angle worth dialling in.

    `margin_deg`: how far the camera may be off either way before the answer changes (180 on a full circle).
    `star_ids`: the usable stars there, clean ones first, then by brightness. `placements`: every catalogue star on
    the guide sensor. `twin_star_ids`: the usable stars half a turn away, where the setting was chosen for both.
    """

    angle_deg: float
    margin_deg: float
    star_ids: tuple[str, ...]
    sure: bool
    placements: tuple[Placement, ...]
    twin_star_ids: tuple[str, ...] = ()


@dataclass(frozen=True)
class GuideStar:
    """A star that is usable at some camera angle; `angles_deg` are its own camera angles.

    Position in ICRS degrees at the epoch of the answer; position angle as seen from the target, north through east.
    `light` is that of the best lit of its angles.
    """

    id: str
    ra_deg: float
    dec_deg: float
    g_mag: float
    v_mag: float
    separation_arcmin: float
    position_angle_deg: float
    radius_mm: float
    angles_deg: Intervals
    flags: tuple[str, ...]
    light: StarLight | None = None


@dataclass(frozen=True)
class UsableRange:
    """One run of usable camera angles.

    `sure_deg` degrees of it are sure; `flip_safe` is "all", "part", "none", or None where the mount has no flip;
    `settable` is False if the range is narrower than the user can set the camera.
    """

    start_deg: float
    end_deg: float
    sure_deg: float
    brightest_id: str
    brightest_mag: float
    star_count: int
    flip_safe: Literal["all", "part", "none"] | None
    settable: bool

    @property
    def width_deg(self) -> float:
        """Width of the range, degrees."""
        return self.end_deg - self.start_deg


@dataclass(frozen=True)
class Usable:
    """Shares of the circle (0 to 1) and the camera angles behind them.

    The flip-safe pair is None for mounts without a flip. `expected_fraction` adds the stars that the catalogue does not
    list, an estimate (see `Expected`); it equals `fraction` where none can be missing.
    """

    fraction: float
    angles_deg: Intervals
    sure_fraction: float
    sure_angles_deg: Intervals
    flip_safe_fraction: float | None
    flip_safe_angles_deg: Intervals | None
    expected_fraction: float | None = None


@dataclass(frozen=True)
class SideAnswer:
    """The asked framing with the prism at one side of the frame."""

    side: str
    side_deg: float
    usable: bool
    sure: bool
    star_ids: tuple[str, ...]


@dataclass(frozen=True)
class Asked:
    """The answer to "is this framing all right?".

    `usable` and `sure` hold for every camera angle within `tolerance_deg` of the asked one. `twin_usable` is the
    same question half a turn away, None where the mount has no flip. `star_ids` are the usable stars at exactly
    the asked angle. `sides` is empty unless every side was asked for.
    """

    angle_deg: float
    tolerance_deg: float
    usable: bool
    sure: bool
    twin_usable: bool | None
    star_ids: tuple[str, ...]
    placements: tuple[Placement, ...]
    sides: tuple[SideAnswer, ...]


@dataclass(frozen=True)
class Hint:
    """One change that would bring enough guide stars, where nothing is usable.

    kind "fainter": a reach of `amount` mag makes the star usable; "exposure": one of `amount` s does; "offset": the
    prism moved by `amount` mm (positive = outward); "shift": the telescope pointed about `amount` arcmin away from the
    target, towards `direction_deg` (PA, north through east); "fewer": no change but that `amount` stars at once are
    enough. `others`: where several stars are wanted, those beside `star_id`, with their G. `angle_deg` and `width_deg`:
    the camera angle in the middle of the widest range then, and how many degrees of camera angle these stars cover
    together (with "fewer" any stars).
    """

    kind: HintKind
    star_id: str
    g_mag: float
    amount: float
    direction_deg: float | None
    angle_deg: float
    width_deg: float
    others: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Surroundings:
    """Catalogue stars around the target, for pictures: mm in the focal plane, X east and Y north, shape (n,).

    `usable`: at some camera angle.
    """

    x_mm: FloatArray
    y_mm: FloatArray
    g_mag: FloatArray
    usable: NDArray[np.bool_]


@dataclass(frozen=True)
class ExpectedAtAngle:
    """Further stars to expect at one camera angle, and the chance that they are enough by themselves."""

    angle_deg: float
    stars: float
    chance: float


@dataclass(frozen=True)
class Expected:
    """Stars within reach that the catalogue does not list: an estimate from star counts, never confirmed.

    Attributes
    ----------
    stars, stars_error : float
        Mean number of them on the guide camera over all camera angles, and its standard error by that of the counts.
    listed : float
        Mean number of stars there between the catalogue's completeness and the reach that it lists all the same, by
        their density around the target: confirmed ones, not among `stars`.
    chance : float
        Chance, 0 to 1, that there are at least `guiding.min_stars` of them; mean over all camera angles.
    per_deg2 : float
        Stars per square degree of sky there down to the deepest reach, listed or not.
    fraction, fraction_low, fraction_high : float
        Share of the circle that is confirmed plus the mean chance of the rest, and the same with one standard error
        fewer and more further stars. Where some of the stars wanted are confirmed, only the rest has to be found.
    by_angle : tuple of ExpectedAtAngle
        The same at a few camera angles around the circle.
    counts : str
        What the star counts at the target are made from, in a few words.
    """

    stars: float
    stars_error: float
    listed: float
    chance: float
    per_deg2: float
    fraction: float
    fraction_low: float
    fraction_high: float
    by_angle: tuple[ExpectedAtAngle, ...]
    counts: str = ""

    @property
    def mostly_unlisted(self) -> bool:
        """Whether the catalogue lacks, by twice the estimate's error, more of these stars than it lists."""
        return self.stars - 2.0 * self.stars_error > self.listed


@dataclass(frozen=True)
class CheckResult:
    """The whole answer to `check` for one target and one rig.

    `exposure_s` is the guide exposure of the light model, None where a fixed limit was used; `exposure_chosen` if it
    was looked for instead of given. `expected` is None where the catalogue is complete as deep as the rig reaches.
    """

    target: Target
    epoch_year: float
    rig: Rig
    field: GuideField
    stars: StarsUsed
    usable: Usable
    ranges: tuple[UsableRange, ...]
    best: Setting | None
    best_sure: Setting | None
    best_flip_safe: Setting | None
    guide_stars: tuple[GuideStar, ...]
    asked: Asked | None
    hints: tuple[Hint, ...]
    warnings: tuple[str, ...]
    surroundings: Surroundings
    exposure_s: float | None = None
    exposure_chosen: bool = False
    expected: Expected | None = None
