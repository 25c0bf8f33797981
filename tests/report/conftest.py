"""Invented results to render: made-up stars round a made-up target, worked out by sampling every 0.1°.

Nothing here is the project's own computation; it only has to be consistent enough to be drawn.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from support import rigs

from guidestar.field.result import (
    Asked,
    CheckResult,
    GuideField,
    GuideStar,
    Hint,
    Placement,
    Setting,
    SideAnswer,
    StarsUsed,
    Surroundings,
    Target,
    Usable,
    UsableRange,
)

STEP_DEG = 0.1
PHI_DEG = np.arange(0.0, 360.0, STEP_DEG)


def invented_rig(**changes: Any) -> Any:
    """Return a rig with `section__key=value` changes, read by the project's own reader."""
    own = {"name": "invented long rig", "guiding": {"faintest_mag": 11.0}, "mount": {"kind": "german"}}
    return rigs.rig(rigs.COMPOUND | own, **changes)


def runs(mask: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Circular runs of True on the grid, as intervals."""
    if mask.all():
        return ((0.0, 360.0),)
    starts = np.flatnonzero(mask & ~np.roll(mask, 1))
    found = []
    for start in starts:
        length = int(np.argmin(np.roll(mask, -start)))
        found.append((float(PHI_DEG[start]), float(PHI_DEG[start] + length * STEP_DEG)))
    return tuple(found)


class Invention:
    """One invented field: stars, the guide field and which star stands in it at which angle."""

    def __init__(self, rig: Any, *, seed: int, count: int) -> None:
        self.rig = rig
        prism, guide = rig.prism, rig.guide_camera
        self.face_scale = 1.0 - prism.ahead_mm / rig.telescope.exit_pupil_mm
        self.centre_mm = prism.offset_mm / self.face_scale
        self.half_u = guide.width_mm / 2.0 - rig.guiding.edge_margin_mm
        self.half_v = guide.height_mm / 2.0 - rig.guiding.edge_margin_mm
        self.sense = -1.0 if rig.camera.mirrored else 1.0
        rng = np.random.default_rng(seed)
        reach = 1.45 * (self.centre_mm + self.half_v)
        self.rho_mm = reach * np.sqrt(rng.random(count))
        self.theta_deg = 360.0 * rng.random(count)
        self.g_mag = 12.3 + np.log10(np.maximum(rng.random(count), 1e-4)) / 0.42
        order = np.argsort(self.g_mag)
        self.rho_mm, self.theta_deg, self.g_mag = self.rho_mm[order], self.theta_deg[order], self.g_mag[order]
        self.bright = self.g_mag <= 11.0
        self.ids = tuple(f"TYC {1000 + 7 * i}-{(311 * i) % 2900 + 1}-{i % 3 + 1}" for i in range(count))

    def rig_frame(self, phi_deg: Any, beta_deg: float | None = None) -> tuple[np.ndarray, np.ndarray]:
        """x, y of every star (rows) at the camera angles (columns), as DESIGN §3 has it."""
        beta = self.rig.prism.side_deg if beta_deg is None else beta_deg
        psi = np.atleast_1d(phi_deg) + self.sense * beta
        turn = np.radians(self.theta_deg[:, None] - psi[None, :])
        return self.sense * self.rho_mm[:, None] * np.sin(turn), self.rho_mm[:, None] * np.cos(turn)

    def sensor_frame(self, x_mm: np.ndarray, y_mm: np.ndarray, shift_mm: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
        turned = np.radians(self.rig.guide_camera.turned_deg)
        dy = y_mm - self.centre_mm - shift_mm
        return x_mm * np.cos(turned) - dy * np.sin(turned), x_mm * np.sin(turned) + dy * np.cos(turned)

    def inside(self, phi_deg: Any, shift_mm: float = 0.0, beta_deg: float | None = None) -> np.ndarray:
        u_mm, v_mm = self.sensor_frame(*self.rig_frame(phi_deg, beta_deg), shift_mm)
        return (np.abs(u_mm) <= self.half_u) & (np.abs(v_mm) <= self.half_v)

    def usable(self, shift_mm: float = 0.0, beta_deg: float | None = None, phi_deg: Any = PHI_DEG) -> np.ndarray:
        enough = self.inside(phi_deg, shift_mm, beta_deg).sum(axis=0, where=self.bright[:, None])
        return enough >= self.rig.guiding.min_stars

    def sure(self, beta_deg: float | None = None, phi_deg: Any = PHI_DEG) -> np.ndarray:
        accuracy = self.rig.prism.offset_accuracy_mm
        shifts = np.linspace(-accuracy, accuracy, 9)
        return np.logical_and.reduce([self.usable(shift, beta_deg, phi_deg) for shift in shifts])

    def outline_mm(self) -> np.ndarray:
        turned = np.radians(self.rig.guide_camera.turned_deg)
        u_mm = np.array([-1.0, 1.0, 1.0, -1.0]) * self.half_u
        v_mm = np.array([-1.0, -1.0, 1.0, 1.0]) * self.half_v
        x_mm = u_mm * np.cos(turned) + v_mm * np.sin(turned)
        y_mm = self.centre_mm - u_mm * np.sin(turned) + v_mm * np.cos(turned)
        return np.column_stack([x_mm, y_mm])

    def placements(self, phi_deg: float) -> tuple[Placement, ...]:
        x_mm, y_mm = (values[:, 0] for values in self.rig_frame(phi_deg))
        u_mm, v_mm = self.sensor_frame(x_mm, y_mm)
        guide = self.rig.guide_camera
        on_sensor = (np.abs(u_mm) <= guide.width_mm / 2.0) & (np.abs(v_mm) <= guide.height_mm / 2.0)
        usable = self.inside(phi_deg)[:, 0] & self.bright
        pixel_mm = guide.pixel_um / 1000.0
        return tuple(
            Placement(
                self.ids[i],
                float(self.g_mag[i]),
                float(x_mm[i]),
                float(y_mm[i]),
                float(u_mm[i]),
                float(v_mm[i]),
                float((u_mm[i] + guide.width_mm / 2.0) / pixel_mm),
                float((v_mm[i] + guide.height_mm / 2.0) / pixel_mm),
                bool(usable[i]),
            )
            for i in np.flatnonzero(on_sensor)
        )

    def star_ids(self, phi_deg: float, beta_deg: float | None = None) -> tuple[str, ...]:
        there = self.inside(phi_deg, beta_deg=beta_deg)[:, 0] & self.bright
        return tuple(self.ids[i] for i in np.flatnonzero(there))

    def setting(self, mask: np.ndarray, sure: bool) -> Setting | None:
        found = runs(mask)
        if not found:
            return None
        start, end = max(found, key=lambda item: item[1] - item[0])
        angle = (start + end) / 2.0 % 360.0
        margin = 180.0 if end - start >= 360.0 else (end - start) / 2.0
        twins = self.star_ids((angle + 180.0) % 360.0)
        return Setting(angle, margin, self.star_ids(angle), sure, self.placements(angle), twins)


def invented_result(
    *, seed: int = 3, count: int = 120, asked_deg: float | None = None, sides: bool = False, **changes: Any
) -> CheckResult:
    """A whole invented result; `changes` go to the rig."""
    rig = invented_rig(**changes)
    field = Invention(rig, seed=seed, count=count)
    usable, sure = field.usable(), field.sure()
    twin = np.roll(usable, len(PHI_DEG) // 2)
    flips = rig.mount.flips
    outline = field.outline_mm()
    radii = np.hypot(*outline.T)
    scale = 206264.806 / rig.telescope.focal_length_mm
    inside = field.inside(PHI_DEG)
    guide_rows = [i for i in np.flatnonzero(field.bright) if (inside[i] & usable).any()]
    best_sure = field.setting(sure, True)
    best = field.setting(usable, False)
    if best is not None and best_sure is not None and sure[int(best.angle_deg / STEP_DEG) % len(sure)]:
        best = dataclasses.replace(best, sure=True)
    theta = np.radians(field.theta_deg)
    can_guide = np.isin(np.arange(field.g_mag.size), guide_rows)
    return CheckResult(
        target=Target("NGC 0000 (invented)", 339.2671, 34.4156, 93.7219, -20.7238),
        epoch_year=2026.9,
        rig=rig,
        field=GuideField(
            "geometric",
            field.centre_mm,
            field.centre_mm * scale / 60.0,
            2.0 * field.half_u * scale / 60.0,
            2.0 * field.half_v * scale / 60.0,
            scale,
            outline,
            field.centre_mm - field.half_v,
            float(radii.max()),
        ),
        stars=StarsUsed("Tycho-2 (invented)", "G", 10.9, 11.0, len(guide_rows)),
        usable=Usable(
            float(usable.mean()),
            runs(usable),
            float(sure.mean()),
            runs(sure),
            float((usable & twin).mean()) if flips else None,
            runs(usable & twin) if flips else None,
        ),
        ranges=tuple(_range(field, item, usable, sure, twin, flips) for item in runs(usable)),
        best=best,
        best_sure=best_sure,
        best_flip_safe=field.setting(usable & twin, False) if flips else None,
        guide_stars=tuple(
            GuideStar(
                field.ids[i],
                339.2671,
                34.4156,
                float(field.g_mag[i]),
                float(field.g_mag[i]) + 0.3,
                float(field.rho_mm[i]) * scale / 60.0,
                float(field.theta_deg[i]),
                float(field.rho_mm[i]),
                runs(inside[i]),
                ("derived_g", "close_neighbour") if i % 4 == 1 else ("derived_g",),
            )
            for i in guide_rows
        ),
        asked=None if asked_deg is None else _asked(field, asked_deg, sides),
        hints=() if usable.any() else _HINTS,
        warnings=(),
        surroundings=Surroundings(field.rho_mm * np.sin(theta), field.rho_mm * np.cos(theta), field.g_mag, can_guide),
    )


_HINTS = (
    Hint("fainter", "TYC 2743-1234-1", 11.62, 11.62, None, 123.4, 12.3),
    Hint("offset", "TYC 2743-99-1", 10.15, -1.25, None, 211.0, 25.7),
    Hint("shift", "TYC 2743-1733-2", 9.87, 3.24, 47.0, 301.9, 0.0),
)


def _range(field: Invention, item: Any, usable: Any, sure: Any, twin: Any, flips: bool) -> UsableRange:
    rows = np.arange(round(item[0] / STEP_DEG), round(item[1] / STEP_DEG)) % len(PHI_DEG)
    stars = np.flatnonzero(field.inside(PHI_DEG[rows]).any(axis=1) & field.bright)
    survives = twin[rows]
    word = "all" if survives.all() else "part" if survives.any() else "none"
    return UsableRange(
        item[0],
        item[1],
        float(sure[rows].sum() * STEP_DEG),
        field.ids[stars[0]],
        float(field.g_mag[stars[0]]),
        len(stars),
        word if flips else None,
        item[1] - item[0] >= 2.0 * field.rig.guiding.rotation_accuracy_deg,
    )


def _asked(field: Invention, angle_deg: float, sides: bool) -> Asked:
    around = angle_deg + np.linspace(-1.0, 1.0, 41)
    names = (("top", 0.0), ("left", 90.0), ("bottom", 180.0), ("right", 270.0))
    answers = tuple(
        SideAnswer(
            name,
            beta,
            bool(field.usable(beta_deg=beta, phi_deg=around).all()),
            bool(field.sure(beta_deg=beta, phi_deg=around).all()),
            field.star_ids(angle_deg, beta),
        )
        for name, beta in names
    )
    return Asked(
        angle_deg,
        1.0,
        bool(field.usable(phi_deg=around).all()),
        bool(field.sure(phi_deg=around).all()),
        bool(field.usable(phi_deg=around + 180.0).all()) if field.rig.mount.flips else None,
        field.star_ids(angle_deg),
        field.placements(angle_deg),
        answers if sides else (),
    )


_MAKERS: dict[str, Callable[[], CheckResult]] = {
    "many ranges": lambda: invented_result(count=140),
    "full circle": lambda: invented_result(
        count=1200, seed=5, guide_camera__width_mm=11.2, guide_camera__height_mm=7.0, guide_camera__pixel_um=4.6
    ),
    "nothing usable": lambda: invented_result(count=3, seed=1),
    "fork mount": lambda: invented_result(mount__kind="fork", seed=8),
    "asked with sides": lambda: invented_result(asked_deg=113.0, sides=True, seed=11, count=90),
    "asked in vain": lambda: invented_result(asked_deg=95.0, seed=11, count=90),
    "two stars at once": lambda: invented_result(guiding__min_stars=2, seed=12, count=260),
    "mirrored and turned": lambda: invented_result(
        seed=4, camera__mirrored=True, prism__side="left", guide_camera__turned_deg=20.0
    ),
    "one range": lambda: invented_result(count=8, seed=6),
}


# A result is frozen, so each is made once.
SAMPLES = {name: functools.cache(maker) for name, maker in _MAKERS.items()}


@pytest.fixture(params=sorted(SAMPLES))
def result(request: pytest.FixtureRequest) -> CheckResult:
    """Each invented result in turn."""
    return SAMPLES[request.param]()


@pytest.fixture
def samples() -> dict[str, Callable[[], CheckResult]]:
    """Invented results by name."""
    return SAMPLES


@pytest.fixture
def invent() -> SimpleNamespace:
    """The makers of invented results: `result(**changes)`, `rig(**changes)`."""
    return SimpleNamespace(result=invented_result, rig=invented_rig)
