"""Rigs side by side as curves: by distance from the Milky Way, or along a number that was varied."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from guidestar.maps.compare import Compared, Comparison
from guidestar.report import compare_sentences as sentences
from guidestar.report import palette

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Measure = Callable[[Compared], float | None]

MARKERS: Final = ("o", "s", "^", "D", "v", "P", "X", "<", ">", "h")
_STYLES: Final[tuple[Any, ...]] = ("solid", palette.DASHED, "dotted", (0.0, (5.0, 2.0, 1.0, 2.0)))
_MOST_CURVES: Final = 10
_HIGH_ENOUGH: Final = 50.0
"""Where no curve comes below this, the axis begins just below them instead of at nothing, per cent."""
_NAME_GAP: Final = 0.055
"""Least distance of two curves' names, as a share of the axes' height."""


@dataclass(frozen=True)
class Curve:
    """Shares (0 to 1, None where unknown) at places along the axis, and the name that stands at the curve's end."""

    name: str
    x: tuple[float, ...]
    shares: tuple[float | None, ...]
    crossed: tuple[bool, ...] = ()


def by_latitude(found: Comparison) -> list[Curve]:
    """Return each rig's mean usable share by band of galactic latitude, at the bands' middles."""
    bands = found.rigs[0].summary.bands
    middles = tuple((band.from_deg + band.to_deg) / 2.0 for band in bands)
    return [
        Curve(str(at), middles, tuple(band.usable.mean for band in rig.summary.bands))
        for at, rig in enumerate(found.rigs[:_MOST_CURVES], start=1)
    ]


def along(found: Comparison, measure: Measure, name: str) -> list[Curve]:
    """Return a measure along the first varied key: one curve for each rig and each combination of the other keys."""
    families: dict[tuple[Any, ...], list[Compared]] = {}
    for rig in found.rigs:
        families.setdefault((rig.variant.base, *rig.variant.values[1:]), []).append(rig)
    places = dict(zip(found.varied[0].values, positions(found), strict=True))
    bases = {rig.variant.base for rig in found.rigs}
    return [
        Curve(
            name=_family(found, family, len(bases) > 1) or name,
            x=tuple(places[rig.variant.values[0]] for rig in members),
            shares=tuple(measure(rig) for rig in members),
            crossed=tuple(rig.shadows for rig in members),
        )
        for family, members in list(families.items())[:_MOST_CURVES]
    ]


def _family(found: Comparison, family: tuple[Any, ...], several: bool) -> str:
    """Name a curve by what sets it apart from the others: the rig, and the values of all keys but the first."""
    words = [str(family[0])] if several else []
    words += [sentences.value_of(item.key, value) for item, value in zip(found.varied[1:], family[1:], strict=True)]
    return ", ".join(words)


def positions(found: Comparison) -> list[float]:
    """Return where the first key's values stand along the axis: at themselves, or evenly if one is infinite."""
    values = found.varied[0].values
    if any(math.isinf(value) for value in values):
        return [float(at) for at in range(len(values))]
    return [float(value) for value in values]


def draw(axes: Axes, curves: Sequence[Curve], *, top: float | None = None) -> None:
    """Draw curves with a marker shape and a line style each, and their names at their ends.

    Points where the prism shadows the main sensor are crossed out. `top` is the axis's end, in per cent.
    """
    for at, curve in enumerate(curves):
        shares = [math.nan if value is None else 100.0 * value for value in curve.shares]
        order = np.argsort(curve.x)
        x, y = np.array(curve.x)[order], np.array(shares)[order]
        axes.plot(
            x, y, color=palette.ACCENT, linewidth=palette.MEDIUM, linestyle=_STYLES[at % len(_STYLES)],
            marker=MARKERS[at % len(MARKERS)], markersize=5.0, markeredgewidth=palette.MEDIUM,
            markerfacecolor=palette.ACCENT if at % 2 == 0 else palette.PAPER, zorder=3, gid=curve.name,
        )  # fmt: skip
        crossed = np.array(curve.crossed or (False,) * len(x))[order]
        axes.plot(
            x[crossed], y[crossed], "x", color=palette.INK, markersize=11.0, markeredgewidth=1.4, zorder=4, gid="shadow"
        )
    _limits(axes, curves, top)
    _names(axes, curves)


def _limits(axes: Axes, curves: Sequence[Curve], top: float | None) -> None:
    known = [100.0 * value for curve in curves for value in curve.shares if value is not None]
    highest, lowest = max(known, default=100.0), min(known, default=0.0)
    bottom = 10.0 * math.floor(lowest / 10.0) if lowest > _HIGH_ENOUGH else 0.0
    axes.set_ylim(bottom, min(max(10.0 * math.ceil(highest / 10.0 + 0.3), 10.0), 104.0) if top is None else top)
    across = [value for curve in curves for value in curve.x]
    spare = 0.06 * (max(across) - min(across) or 1.0)
    axes.set_xlim(min(across) - spare, max(across) + spare)


def _names(axes: Axes, curves: Sequence[Curve]) -> None:
    """Write each curve's name beside its last point, moved up or down where names would meet."""
    low, high = axes.get_ylim()
    right = axes.get_xlim()[1]
    ends = [(100.0 * _last(curve) - low) / (high - low) for curve in curves]
    for curve, end in zip(curves, spread_out(ends, _NAME_GAP), strict=True):
        axes.annotate(
            curve.name, (right, low + end * (high - low)), (3.0, 0.0), textcoords="offset points", va="center",
            fontsize=palette.SMALL, color=palette.INK, annotation_clip=False,
        )  # fmt: skip


def _last(curve: Curve) -> float:
    """Return the share at the last point that is known."""
    return max(
        ((x, value) for x, value in zip(curve.x, curve.shares, strict=True) if value is not None), default=(0, 0.0)
    )[1]


def spread_out(places: Sequence[float], gap: float) -> list[float]:
    """Return places, 0 to 1, moved as little as it takes to keep a gap between them, in their order; none above 1."""
    order = sorted(range(len(places)), key=lambda at: places[at])
    moved = list(places)
    for _ in range(200):
        settled = True
        for lower, upper in pairwise(order):
            lacking = gap - (moved[upper] - moved[lower])
            if lacking > 1e-6:
                moved[lower] -= lacking / 2.0
                moved[upper] += lacking / 2.0
                settled = False
        if settled:
            break
    overshoot = max(max(moved, default=0.0) - 1.0, 0.0)
    return [place - overshoot for place in moved]


def dress(axes: Axes, title: str, across: str, upward: str) -> None:
    """Set a panel's title, words along the axes, ticks and frame."""
    axes.set_title(title, fontsize=palette.NORMAL, weight="bold", color=palette.INK, loc="left")
    axes.set_xlabel(across, fontsize=palette.SMALL, color=palette.INK)
    axes.set_ylabel(upward, fontsize=palette.SMALL, color=palette.INK)
    axes.tick_params(labelsize=palette.SMALL, colors=palette.INK, width=palette.THIN, length=2.5)
    axes.grid(axis="y", color=palette.TINT, linewidth=palette.THIN)
    axes.set_axisbelow(True)
    for side, spine in axes.spines.items():
        spine.set(linewidth=palette.THIN, color=palette.INK, visible=side in ("left", "bottom"))
