"""One target's way through one night: its windows, the moments looked at, and the cells between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.night import window
from guidestar.night.conditions import Conditions, conditions, zenith_angles_deg
from guidestar.night.result import Side
from guidestar.night.segments import Cells, Segments, segments, standing_cells, turning_cells, window_moments
from guidestar.rig import Rig, Site
from guidestar.sky.ephemeris import SkyTracks, Track

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_FINE_S: Final = 10.0
_LARGEST_TURN_DEG: Final = 0.5
"""An alt-azimuth mount's camera turns by no more than about this within a cell."""


@dataclass(frozen=True)
class Course:
    """One target through one night. `at` and `part_of` belong to the moments, `sides` to the segments."""

    track: Track
    at: Conditions
    parts: Segments
    cells: Cells
    sides: tuple[Side, ...]

    def part_of(self, moment: int) -> int:
        """Return the segment that begins at a moment, at the end of a window the one that ends there."""
        begins = np.flatnonzero(self.parts.first == moment)
        return int(begins[0]) if len(begins) else int(np.flatnonzero(self.parts.first == moment - 1)[0])

    def stretches(self) -> list[IntArray]:
        """Return the segments of each side of the flip, in order."""
        change = np.flatnonzero(self.parts.flipped[1:] != self.parts.flipped[:-1]) + 1
        return np.split(np.arange(len(self.parts)), change)

    def cells_of(self, stretch: IntArray) -> IntArray:
        """Return the cells of some segments."""
        return np.flatnonzero(np.isin(self.cells.segment, stretch))


def course(
    rig: Rig, site: Site, target_deg: tuple[float, float], track: Track, sky: SkyTracks, pairs: FloatArray
) -> Course:
    """Return a target's way through its windows (`pairs`, at least one, Unix seconds)."""
    flips = window.meridian(track, rig.mount, site.latitude_deg).flips
    marks = [window_moments(start, end, flips) for start, end in pairs]
    unix_s = np.concatenate(marks)
    number = np.repeat(np.arange(len(marks)), [len(one) for one in marks])
    at = conditions(rig, target_deg, track, sky, unix_s)
    middles = (unix_s[1:] + unix_s[:-1]) / 2.0
    flipped = window.flipped(track, rig.mount, site.latitude_deg, middles)
    parts = segments(unix_s, number, at.airmass, at.sky_v, flipped)
    if rig.mount.kind == "altaz":
        fine_s = np.arange(unix_s[0], unix_s[-1] + _FINE_S, _FINE_S).clip(max=unix_s[-1])
        angles = zenith_angles_deg(target_deg, sky.zenith, fine_s)
        cells = turning_cells(parts, fine_s, angles, _LARGEST_TURN_DEG)
    else:
        cells = standing_cells(parts)
    return Course(track, at, parts, cells, _sides(parts.flipped))


def _sides(flipped: BoolArray) -> tuple[Side, ...]:
    """Name each segment's side of the flip; where none falls into the windows there is only one."""
    if np.all(flipped == flipped[0]):
        whole: list[Side] = ["all night"] * len(flipped)
        return tuple(whole)
    sides: list[Side] = ["after flip" if after else "before flip" for after in flipped]
    return tuple(sides)
