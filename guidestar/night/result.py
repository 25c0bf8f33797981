"""What `night` finds out, as plain frozen values: worked out once, rendered many ways.

Moments are `datetime` values in UTC; the site's time zone is `NightResult.site.time_zone`, and only words and figures
use it. Altitudes are geometric: refraction, 3′ at 20° of altitude, is left out, except where a field says otherwise.
Azimuth is counted from north through east. Sets of camera angles are as in `guidestar.field.result`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from guidestar.field.result import CheckResult, Intervals, Target
from guidestar.rig import Rig, Site

FloatArray = NDArray[np.float64]
Darkness = Literal["astronomical", "nautical", "none"]
SunDay = Literal["rises and sets", "never sets", "never rises"]
Bound = Literal["dusk", "dawn", "rises", "sets", "night begins", "night ends"]
"""Why a window begins or ends: darkness, the target's altitude, or where the 24 hours looked at begin and end."""
Side = Literal["before flip", "after flip", "all night"]


@dataclass(frozen=True)
class Span:
    """From one moment to a later one."""

    start: datetime
    end: datetime

    @property
    def hours(self) -> float:
        """Length, hours."""
        return (self.end - self.start).total_seconds() / 3600.0


@dataclass(frozen=True)
class Window(Span):
    """Hours in which a target stands above the horizon line and the least altitude while it is dark."""

    begins: Bound
    ends: Bound


@dataclass(frozen=True)
class Curve:
    """Where a body stands through the 24 hours looked at; arrays of shape (n,), Unix seconds and degrees."""

    unix_s: FloatArray
    altitude_deg: FloatArray
    azimuth_deg: FloatArray


@dataclass(frozen=True)
class Moon:
    """The Moon of the night.

    `illuminated` 0 to 1 and `phase_deg` (0 full, 180 new: the angle Sun, Moon, Earth) at the middle of the night;
    `rises`, `sets`: its upper edge with 34′ of refraction, None if not within the 24 hours; `up_while_dark_hours`.
    """

    illuminated: float
    phase_deg: float
    waxing: bool
    rises: datetime | None
    sets: datetime | None
    up_while_dark_hours: float
    curve: Curve


@dataclass(frozen=True)
class Dark:
    """The dark hours of one evening at one site.

    `whole`: the 24 hours looked at, from the Sun's mean noon to the next. `sunset`, `sunrise`: the Sun's upper edge
    with 34′ of refraction. `nautical`, `astronomical`: Sun at least 12° and 18° below the horizon.
    `spans` are those that count as dark: astronomical, or nautical where there are none (`kind` says which).
    `notes`: what the person should know, as sentences.
    """

    evening: date
    whole: Span
    sun: SunDay
    sunset: datetime | None
    sunrise: datetime | None
    lowest_sun_deg: float
    nautical: tuple[Span, ...]
    astronomical: tuple[Span, ...]
    spans: tuple[Span, ...]
    kind: Darkness
    moon: Moon
    notes: tuple[str, ...] = ()

    @property
    def hours(self) -> float:
        """How long it is dark, hours."""
        return sum(span.hours for span in self.spans)


@dataclass(frozen=True)
class Moment:
    """A target and its sky at one moment, every quarter hour of its windows and at their ends.

    `airmass` with refraction; `extinction_mag` and `fwhm_arcsec`: what the air takes from a star, and a star's size
    on the guide camera there; `parallactic_deg`: position angle of the zenith seen from the target; `sky_v_mag_arcsec2`
    at the target, moonlight included, of which `moonlight_mag` says how much brighter it makes the sky;
    `faintest_mag`: reach at the best lit place of the guide field with the rig's exposure (Gaia G).
    `usable_fraction`: share of all camera angles that find a star then. `flipped`: after the meridian flip.
    """

    time: datetime
    altitude_deg: float
    azimuth_deg: float
    airmass: float
    extinction_mag: float
    fwhm_arcsec: float
    parallactic_deg: float
    moon_altitude_deg: float
    moon_separation_deg: float
    sky_v_mag_arcsec2: float
    moonlight_mag: float
    faintest_mag: float
    usable_fraction: float
    flipped: bool


@dataclass(frozen=True)
class Run(Span):
    """One stretch of the night at the chosen angle: one star serves, or none does.

    `star_id` None: no star; then `exposure_s` is the shortest usual exposure that would bring one (`would_be_id`), None
    if none would. Else `exposure_s` is the shortest usual exposure that holds for the whole stretch (the rig's own if
    no usual one is shorter; None where a fixed magnitude limit is used). `camera_angle_deg` at its start and
    `camera_angle_end_deg` at its end differ for an alt-azimuth mount only. `peak_fill`: how full the star's brightest
    pixel gets with `exposure_s`, share of the full well, at the worst of the stretch; 1 = saturated.
    """

    side: Side
    camera_angle_deg: float
    camera_angle_end_deg: float
    star_id: str | None
    g_mag: float | None
    exposure_s: float | None
    would_be_id: str | None = None
    peak_fill: float | None = None

    @property
    def saturated(self) -> bool:
        """Whether the star fills its brightest pixel even with that exposure."""
        return self.peak_fill is not None and self.peak_fill >= 1.0


@dataclass(frozen=True)
class SideOfNight(Span):
    """One side of the meridian flip (or the whole night): what to dial, and the full answer at its hardest moment.

    `check` is the answer to `check` under the poorest conditions of the side, with `camera_angle_deg` as the framing
    asked about: `check.asked` has the stars on the guide camera with their places (`placements`), for the pictures.
    `usable`, `sure`: camera angles of this side that hold through all of it, as they are dialled on this side;
    `own_angle_deg` the best of them, for whoever turns the camera at the flip (None if there are none).
    """

    side: Side
    camera_angle_deg: float
    hardest: Moment
    check: CheckResult
    usable: Intervals
    sure: Intervals
    own_angle_deg: float | None


@dataclass(frozen=True)
class Choice:
    """The camera angle that the plan is made for, as it stands when the first window begins.

    After the flip it is 180° on; for an alt-azimuth mount it turns with the sky, and `roll_deg` says how far the
    picture's upper edge is turned from the zenith, counted like a position angle. `holds`: "sure" or "usable" at
    every quarter hour of every window, "partly", or "never" (then, unless asked for, the angle means nothing).
    `margin_deg`: how far it may be off either way (0 unless it holds).
    """

    angle_deg: float
    asked: bool
    holds: Literal["sure", "usable", "partly", "never"]
    margin_deg: float
    roll_deg: float | None = None


@dataclass(frozen=True)
class Turning:
    """How the field turns on an alt-azimuth mount without a rotator through the windows, degrees and degrees an hour.

    `exposure_limit_s`: the longest main exposure whose corners smear by less than a main pixel at the fastest moment.
    """

    total_deg: float
    fastest_deg_per_hour: float
    fastest_at: datetime
    exposure_limit_s: float


@dataclass(frozen=True)
class TargetNight:
    """One target through one night.

    `transit`: upper transit nearest to the middle of the night, `transit_altitude_deg` then. `flip`: when a German
    mount turns over, None if it does not within the windows. `usable`, `sure`: camera angles (as they stand when the
    first window begins) that hold in every window. `runs`: the chosen angle, stretch by stretch. `sides`: one or two.
    `warnings`: safety, to be shown before everything else. `notes`: further sentences. `no_window`: why there is none.
    """

    target: Target
    row: int | None
    curve: Curve
    windows: tuple[Window, ...]
    no_window: str | None
    transit: datetime | None
    transit_altitude_deg: float | None
    flip: datetime | None
    moon_least_separation_deg: float | None
    sun_separation_deg: float
    moments: tuple[Moment, ...]
    usable: Intervals
    sure: Intervals
    choice: Choice | None
    runs: tuple[Run, ...]
    sides: tuple[SideOfNight, ...]
    turning: Turning | None
    warnings: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def hours(self) -> float:
        """How long it is up while dark, hours."""
        return sum(window.hours for window in self.windows)

    @property
    def guidable_hours(self) -> float:
        """How long a star serves at the chosen angle, hours."""
        return sum(run.hours for run in self.runs if run.star_id is not None)

    @property
    def star_changes(self) -> int:
        """How often another star has to take over (the flip's own change included)."""
        served = [run.star_id for run in self.runs if run.star_id is not None]
        return sum(one != other for one, other in pairwise(served))

    @property
    def longest_run_hours(self) -> float:
        """The longest time with a star without a break within one window, star changes not counted as breaks, hours."""
        longest = current = 0.0
        previous: Run | None = None
        for run in self.runs:
            joins = previous is not None and previous.end == run.start and previous.star_id is not None
            current = 0.0 if run.star_id is None else run.hours + (current if joins else 0.0)
            longest, previous = max(longest, current), run
        return longest


@dataclass(frozen=True)
class BadRow:
    """A row of a list that could not be planned, and why; or one left out because it repeats another."""

    row: int
    text: str
    reason: str


@dataclass(frozen=True)
class NightResult:
    """The whole answer to `night`: one night, one rig, one or more targets, the best of the night first."""

    dark: Dark
    site: Site
    rig: Rig
    least_altitude_deg: float
    targets: tuple[TargetNight, ...]
    bad_rows: tuple[BadRow, ...] = ()
    is_list: bool = False

    @property
    def warnings(self) -> tuple[str, ...]:
        """What makes the plan doubtful, each said once: the rig's warnings, then those of checks, in a list by name."""
        own = [
            f"{night.target.name}: {text}" if self.is_list else text
            for night in self.targets
            for side in night.sides
            for text in side.check.warnings
            if text not in self.rig.warnings
        ]
        return tuple(dict.fromkeys((*self.rig.warnings, *own)))
