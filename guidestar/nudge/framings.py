"""Many framings of one neighbourhood at once: where its stars then stand in the rig, and whether they are enough.

A *framing* is where the frame's centre points (ICRS) and a camera angle φ as a plate solution gives it there, against
north at the frame's own centre. That is what an equatorial mount keeps while it moves and the camera is left alone.
Every framing is reckoned on the sphere: the stars are projected anew about its centre.

A test of framings may be given *slack*, mm for each star: with slack above 0 a star counts if it might be usable when
it stood up to so far elsewhere (so "not enough" is then proved for a whole neighbourhood of framings), with slack below
0 only if it would still be usable then.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from guidestar.field.acceptance import Acceptance, LightAcceptance
from guidestar.field.light import RigLight
from guidestar.field.result import GuideField
from guidestar.optics.guidefield import half_planes
from guidestar.rig import Rig
from guidestar.signal import snr
from guidestar.sky import plane
from guidestar.stars.table import StarTable

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_WIDEST_RAD: Final = np.radians(80.0)
"""Distances from the frame's centre are taken as no larger than this where the plane's stretching is bounded."""


@dataclass(frozen=True)
class Looks:
    """What a framing has to stand: the camera turned by each of `turns_deg`, the prism moved out by each of `moves_mm`.

    Enough stars are wanted at each pair; which ones may differ from pair to pair.
    """

    turns_deg: FloatArray
    moves_mm: FloatArray

    @cached_property
    def pairs(self) -> tuple[FloatArray, FloatArray]:
        """Turns in radians and moves in mm of every look, shape (k,) each."""
        turns, moves = np.meshgrid(np.radians(self.turns_deg), self.moves_mm, indexing="ij")
        return turns.ravel(), moves.ravel()

    @property
    def furthest_rad(self) -> float:
        """The largest turn either way, radians."""
        return float(np.radians(np.max(np.abs(self.turns_deg))))

    @property
    def furthest_mm(self) -> float:
        """The largest move either way, mm."""
        return float(np.max(np.abs(self.moves_mm)))


def looks(tolerance_deg: float, accuracy_mm: float, turns: int, moves: int) -> Looks:
    """Return evenly spread looks within ± tolerance and ± accuracy, both ends among them (odd numbers of looks)."""
    return Looks(
        np.linspace(-tolerance_deg, tolerance_deg, turns) if tolerance_deg > 0 else np.zeros(1),
        np.linspace(-accuracy_mm, accuracy_mm, moves) if accuracy_mm > 0 else np.zeros(1),
    )


@dataclass(frozen=True)
class Framings:
    """The stars that may serve a rig around a place, and what the rig asks of them.

    `planes` (m, 3) bound the guide field; `throughput` (n,) is the least τ each star needs, None where a fixed limit
    is used (then only stars within it are here).
    """

    rig: Rig
    table: StarTable
    planes: FloatArray
    light: RigLight | None
    throughput: FloatArray | None

    def __len__(self) -> int:
        """Return the number of stars."""
        return len(self.table)

    def take(self, chosen: BoolArray) -> Framings:
        """Return the same with only the chosen stars."""
        needed = None if self.throughput is None else self.throughput[chosen]
        return replace(self, table=self.table.take(chosen), throughput=needed)

    def places(self, ra_deg: FloatArray, dec_deg: FloatArray, angle_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return x, y (mm, rig frame) of every star in framings of shape (n,): shape (n, stars); far ones are inf."""
        xi, eta = plane.to_plane(self.table.ra_deg, self.table.dec_deg, ra_deg[:, None], dec_deg[:, None])
        mirrored, side_deg = self.rig.camera.mirrored, self.rig.prism.side_deg
        psi = np.radians(angle_deg + (-side_deg if mirrored else side_deg))[:, None]
        focal = self.rig.telescope.focal_length_mm
        across = focal * (xi * np.cos(psi) - eta * np.sin(psi))
        outward = focal * (xi * np.sin(psi) + eta * np.cos(psi))
        x = -across if mirrored else across
        return np.where(np.isnan(x), np.inf, x), np.where(np.isnan(outward), np.inf, outward)

    def displaced_mm(
        self, x_mm: FloatArray, y_mm: FloatArray, dec_deg: FloatArray, pointing_rad: FloatArray, north_turns: bool
    ) -> FloatArray:
        """Return how far stars can stand elsewhere, mm, in framings pointing near those given: shape (n, stars).

        `x_mm, y_mm` (n, stars) as from `places`; each framing's centre may lie up to `pointing_rad` (n,) away, with the
        same camera angle against north there or, unless `north_turns`, against one north for all.

        Notes
        -----
        Moving the tangent point by h moves a star r from it by at most f·h·sec²r. North there turns against north here
        by at most h·tan|δ|, δ the highest declination on the way; at the pole by anything.
        """
        slack = self.stretched_mm(x_mm, y_mm, pointing_rad)
        if north_turns:
            slack = slack + np.hypot(x_mm, y_mm) * np.minimum(north_turn_rad(dec_deg, pointing_rad), 2.0)[:, None]
        return np.where(np.isfinite(x_mm), slack, 0.0)

    def stretched_mm(self, x_mm: FloatArray, y_mm: FloatArray, pointing_rad: FloatArray) -> FloatArray:
        """Return f·h·sec²r of `displaced_mm`: of this, f·h is every star's, the rest each one's own."""
        focal, moved = self.rig.telescope.focal_length_mm, pointing_rad[:, None]
        away = np.minimum(np.arctan(np.hypot(x_mm, y_mm) / focal) + moved, _WIDEST_RAD)
        return np.asarray(focal * moved / np.cos(away) ** 2)

    def enough(
        self,
        x_mm: FloatArray,
        y_mm: FloatArray,
        slack_mm: FloatArray,
        seen: Looks,
        turn_rad: FloatArray | None = None,
        *,
        same_stars: bool = False,
    ) -> BoolArray:
        """Return, for framings with stars at `x_mm, y_mm` (n, stars), whether every look has enough stars.

        `slack_mm` (n, stars): see the module. `turn_rad` (n,): so far the camera may be turned either way besides, with
        slack above 0 only. With `same_stars` they have to be the same ones at every look.
        """
        radius = np.hypot(x_mm, y_mm)
        turn = np.zeros(len(x_mm)) if turn_rad is None else turn_rad
        framing, star = np.nonzero(
            self.may_be_seen(x_mm, y_mm, slack_mm + radius * turn[:, None], seen.furthest_mm, seen.furthest_rad)
        )
        chosen = (framing, star)
        stars = _Stars(x_mm[chosen], y_mm[chosen], slack_mm[chosen], turn[framing])
        good = self._inside(stars, seen)
        if self.light is not None and self.throughput is not None:
            self._keep_lit(self.light, self.throughput[star], stars, seen, good)
        if same_stars:
            good = np.all(good, axis=1, keepdims=True)
        counts = np.zeros((len(x_mm), good.shape[1]), dtype=np.int64)
        np.add.at(counts, framing, good)
        return np.asarray(np.all(counts >= self.rig.guiding.min_stars, axis=1))

    def may_be_seen(
        self, x_mm: FloatArray, y_mm: FloatArray, slack_mm: FloatArray, moves_mm: float, turns_rad: float = 0.0
    ) -> BoolArray:
        """Return which stars some move and turn within ± these may bring into the field; others need no look."""
        radius = np.hypot(x_mm, y_mm)
        near = np.isfinite(radius)
        with np.errstate(invalid="ignore"):
            reach = np.maximum(slack_mm, 0.0) + radius * turns_rad + moves_mm
            for a, b, c in self.planes:
                near &= a * x_mm + b * y_mm - c <= reach
        return near

    def _inside(self, stars: _Stars, seen: Looks) -> BoolArray:
        """Return which stars stand in the guide field at which look: shape (k, looks).

        Along an edge's normal a star of direction α stands at ρ·cos(α − α_n); turned by up to w it comes down to
        ρ·cos(|α − α_n| + w) at least.
        """
        turns, moves = seen.pairs
        good = np.ones((len(stars.x_mm), len(turns)), dtype=np.bool_)
        still = not np.any(stars.turn_rad)
        x, y = stars.turned(turns)
        radius, direction = np.hypot(x, y), np.arctan2(x, y) if not still else x
        for a, b, c in self.planes:
            if still:
                along = a * x + b * y
            else:
                off = np.abs(np.mod(direction - np.arctan2(a, b) + np.pi, 2 * np.pi) - np.pi)
                along = radius * np.cos(np.minimum(off + stars.turn_rad[:, None], np.pi))
            good &= along - b * moves <= c + stars.slack_mm[:, None]
        return good

    def _keep_lit(self, light: RigLight, throughput: FloatArray, stars: _Stars, seen: Looks, good: BoolArray) -> None:
        """Take out of `good` (k, looks), in place, the stars that do not get enough light where they stand."""
        radius = np.hypot(stars.x_mm, stars.y_mm)
        needed = self.needed(light, throughput, radius - stars.slack_mm)
        good &= (needed <= 1.0)[:, None]
        # Stars that the worst lit point of the sensor serves need no look; with slack they may stand off the sensor.
        row, look = np.nonzero(good & (needed > light.fully_lit)[:, None])
        if not len(row):
            return
        turns, moves = seen.pairs
        x, y = stars.turned(turns)
        lit = light.transmission(x[row, look], y[row, look] - moves[look])
        play = stars.slack_mm[row] + radius[row] * stars.turn_rad[row]
        # Along x and y at once T changes at most √2 times as fast as along one of them.
        good[row, look] = lit + np.sqrt(2.0) * light.steepest_per_mm * play >= needed[row]

    @staticmethod
    def needed(light: RigLight, throughput: FloatArray, radius_mm: FloatArray) -> FloatArray:
        """Return the least T that stars need where the telescope's own edge takes light from them too."""
        vignetted = light.vignetting(np.maximum(radius_mm, 0.0))
        nowhere = np.full(throughput.shape, np.inf)
        return np.asarray(np.divide(throughput, vignetted, out=nowhere, where=vignetted > 0))


def north_turn_rad(dec_deg: FloatArray, pointing_rad: FloatArray) -> FloatArray:
    """Return the most that north turns between a place and one up to `pointing_rad` away."""
    highest = np.minimum(np.radians(np.abs(dec_deg)) + pointing_rad, np.pi / 2 - 1e-9)
    return np.asarray(pointing_rad * np.tan(highest))


@dataclass(frozen=True)
class _Stars:
    """Some stars, each in one framing: place, slack (mm), and how far the camera may be turned besides; shape (k,)."""

    x_mm: FloatArray
    y_mm: FloatArray
    slack_mm: FloatArray
    turn_rad: FloatArray

    def turned(self, turns_rad: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the places at every turn of the camera: shape (k, turns)."""
        x, y = self.x_mm[:, None], self.y_mm[:, None]
        cosine, sine = np.cos(turns_rad), np.sin(turns_rad)
        return x * cosine + y * sine, y * cosine - x * sine


def framings(rig: Rig, field: GuideField, accepts: Acceptance, table: StarTable) -> Framings:
    """Return the stars of a table that are bright enough somewhere in the guide field, ready to be asked."""
    planes = half_planes(field.outline_mm)
    if not isinstance(accepts, LightAcceptance):
        return Framings(rig, table.take(table.g_mag <= accepts.faintest_mag), planes, None, None)
    needed = np.asarray(snr.needed_throughput(table.g_mag, accepts.light.setup))
    return Framings(rig, table, planes, accepts.light, needed).take(needed <= 1.0)
