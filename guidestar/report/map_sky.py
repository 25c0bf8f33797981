"""The whole sky on paper: an equal-area drawing (Mollweide's projection) on which sky maps are laid.

Seen from inside, so that longitude grows to the left. A map's pixels become a picture by looking up, for each point
of the drawing, the pixel that lies there: the time does not grow with the map's resolution.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from guidestar.report import palette
from guidestar.sky import frames, healpix

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.image import AxesImage
    from matplotlib.patches import Ellipse

FloatArray = NDArray[np.float64]
Frame = Literal["galactic", "equatorial"]

HALF_WIDTH: Final = 2.0 * np.sqrt(2.0)
HALF_HEIGHT: Final = np.sqrt(2.0)
"""Half axes of the ellipse that holds the sky, in the projection's own measure."""

_DOTS_ACROSS: Final = 1434
"""A dot of the raster to each of the page's own at 200 to the inch."""
COARSE_DOTS: Final = 600
"""For what has no fine detail, such as outlines and hatching."""
_LATITUDES_DEG: Final = (-60, -30, 0, 30, 60)
_LINE_STEPS: Final = 361


@dataclass(frozen=True)
class Drawing:
    """Points of the drawing, a raster from its lower left corner: ICRS degrees, NaN outside of the ellipse."""

    ra_deg: FloatArray
    dec_deg: FloatArray

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Which points are sky, shape (rows, columns)."""
        return ~np.isnan(self.ra_deg)


@cache
def drawing(frame: Frame, dots_across: int = _DOTS_ACROSS) -> Drawing:
    """Return the raster of a drawing in a frame."""
    import erfa
    from matplotlib.projections.geo import MollweideAxes

    x = ((np.arange(dots_across) + 0.5) / dots_across * 2.0 - 1.0) * HALF_WIDTH
    y = ((np.arange(dots_across // 2) + 0.5) / (dots_across // 2) * 2.0 - 1.0) * HALF_HEIGHT
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    inside = (grid[..., 0] / HALF_WIDTH) ** 2 + (grid[..., 1] / HALF_HEIGHT) ** 2 < 1.0
    lon, lat = np.full(inside.shape, np.nan), np.full(inside.shape, np.nan)
    minus_lon, lat[inside] = MollweideAxes.InvertedMollweideTransform(1).transform(grid[inside]).T
    lon[inside] = -minus_lon
    if frame == "galactic":
        lon[inside], lat[inside] = erfa.ufunc.g2icrs(lon[inside], lat[inside])
    return Drawing(np.degrees(lon) % 360.0, np.degrees(lat))


def to_drawing(lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return where longitudes and latitudes of the drawing's own frame lie on it; longitude 0 in the middle."""
    from matplotlib.projections.geo import MollweideAxes

    lon = -((np.asarray(lon_deg, dtype=np.float64) + 180.0) % 360.0 - 180.0)
    where = np.stack(np.broadcast_arrays(np.radians(lon), np.radians(lat_deg)), axis=-1).reshape(-1, 2)
    x, y = MollweideAxes.MollweideTransform(1).transform(where).T
    return x, y


def place_on(frame: Frame, ra_deg: ArrayLike, dec_deg: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return where ICRS places lie on a drawing."""
    if frame == "galactic":
        return to_drawing(*frames.icrs_to_galactic(ra_deg, dec_deg))
    return to_drawing(ra_deg, dec_deg)


def prepare(axes: Axes) -> Ellipse:
    """Make axes a drawing of the sky; return its outline, to which pictures are clipped."""
    from matplotlib.patches import Ellipse

    axes.set_xlim(-HALF_WIDTH * 1.005, HALF_WIDTH * 1.005)
    axes.set_ylim(-HALF_HEIGHT * 1.01, HALF_HEIGHT * 1.01)
    axes.set_aspect("equal")
    axes.set_axis_off()
    size = (2.0 * HALF_WIDTH, 2.0 * HALF_HEIGHT)
    outline = Ellipse((0.0, 0.0), *size, fill=False, edgecolor=palette.INK, linewidth=palette.MEDIUM, zorder=8)
    axes.add_patch(outline)
    axes.apply_aspect()
    return outline


def lay(
    axes: Axes,
    outline: Ellipse,
    frame: Frame,
    pixels: FloatArray,
    order: int,
    ramp: Colormap,
    limits: tuple[float, float],
) -> AxesImage:
    """Draw one value a pixel of the whole sky (NESTED, NaN for none) and return the picture, for a scale beside it."""
    values = on_raster(frame, pixels, order)
    extent = (-HALF_WIDTH, HALF_WIDTH, -HALF_HEIGHT, HALF_HEIGHT)
    picture = axes.imshow(
        values, cmap=ramp, vmin=limits[0], vmax=limits[1], extent=extent, origin="lower", zorder=1, gid="map",
        interpolation="nearest", aspect="equal",
    )  # fmt: skip
    picture.set_clip_path(outline)
    return picture


def on_raster(frame: Frame, pixels: FloatArray, order: int, dots_across: int = _DOTS_ACROSS) -> FloatArray:
    """Return the values of the pixels under a drawing's raster; NaN outside of the ellipse."""
    raster = drawing(frame, dots_across)
    values = np.full(raster.inside.shape, np.nan)
    values[raster.inside] = pixels[healpix.pixel_of(raster.ra_deg[raster.inside], raster.dec_deg[raster.inside], order)]
    return values


def hatched(axes: Axes, frame: Frame, pixels: NDArray[np.bool_], order: int, hatch: str, gid: str) -> None:
    """Hatch some pixels of the whole sky."""
    if not pixels.any():
        return
    where = on_raster(frame, pixels.astype(np.float64), order, COARSE_DOTS) > 0.5
    x, y = _raster_axes(where.shape)
    filled = axes.contourf(x, y, where.astype(np.float64), [0.5, 1.5], colors="none", hatches=[hatch], zorder=3)
    filled.set(edgecolor=palette.SHADE, linewidth=0.0, gid=gid)


def outlined(axes: Axes, values: FloatArray, level: float, gid: str) -> None:
    """Draw the line along which values on the raster, NaN for none, pass a level: white below, ink above."""
    x, y = _raster_axes(values.shape)
    shown = np.ma.masked_invalid(values)
    for colour, width in ((palette.PAPER, 2.6), (palette.INK, palette.MEDIUM)):
        axes.contour(x, y, shown, [level], colors=colour, linewidths=width, zorder=4).set_gid(gid)


def _raster_axes(shape: tuple[int, ...]) -> tuple[FloatArray, FloatArray]:
    rows, columns = shape
    x = ((np.arange(columns) + 0.5) / columns * 2.0 - 1.0) * HALF_WIDTH
    y = ((np.arange(rows) + 0.5) / rows * 2.0 - 1.0) * HALF_HEIGHT
    return x, y


def graticule(axes: Axes, frame: Frame) -> None:
    """Draw the frame's own lines, 30° and 60° apart, and name them along the middle and the edge."""
    for latitude in _LATITUDES_DEG:
        x, y = to_drawing((-179.999, 179.999), float(latitude))
        axes.plot(x, y, color=palette.INK, linewidth=palette.THIN * 0.6, alpha=0.55, zorder=5)
    up = np.linspace(-90.0, 90.0, _LINE_STEPS)
    for longitude in (-120, -60, 0, 60, 120):
        axes.plot(
            *to_drawing(np.full(_LINE_STEPS, longitude), up),
            color=palette.INK, linewidth=palette.THIN * 0.6, alpha=0.55, zorder=5,
        )  # fmt: skip
    _names(axes, frame)


def _names(axes: Axes, frame: Frame) -> None:
    """Name the lines: longitudes along the middle, latitudes at the left edge."""
    turns = (120, 60, 0, 300, 240)
    words = [f"{turn}°" if frame == "galactic" else f"{turn // 15} h" for turn in turns]
    sign = "b" if frame == "galactic" else "δ"
    for turn, word in zip(turns, words, strict=True):
        x, y = to_drawing(turn, 0.0)
        _word(axes, x[0], y[0], word, "center", "bottom")
    for latitude in _LATITUDES_DEG:
        x, y = to_drawing(179.999, latitude)
        text = f"{sign} {latitude:+d}°".replace("-", "−") if latitude else f"{sign} 0°"
        axes.annotate(
            text, (-abs(x[0]), y[0]), (-6.0, 0.0), textcoords="offset points", ha="right", va="center",
            fontsize=palette.SMALL, color=palette.INK, zorder=9,
        )  # fmt: skip


def _word(axes: Axes, x: float, y: float, words: str, across: str, along: str) -> None:
    axes.text(
        x, y, words, ha=across, va=along, fontsize=palette.SMALL, color=palette.INK, zorder=7,
        bbox={"boxstyle": "square,pad=0.1", "facecolor": palette.PAPER, "edgecolor": "none", "alpha": 0.75},
    )  # fmt: skip


def milky_way(axes: Axes, frame: Frame, latitudes_deg: tuple[int, ...] = (-30, 0, 30)) -> None:
    """Draw lines of galactic latitude, the Milky Way's plane heaviest."""
    import erfa

    around = np.linspace(-179.999, 179.999, 721)
    for latitude in latitudes_deg:
        lon, lat = around, np.full(len(around), float(latitude))
        if frame == "equatorial":
            lon, lat = (np.degrees(angle) for angle in erfa.ufunc.g2icrs(np.radians(lon), np.radians(lat)))
        x, y = to_drawing(lon, lat)
        jumps = np.flatnonzero(np.abs(np.diff(x)) > HALF_WIDTH / 4.0) + 1
        pen = _PLANE_PEN if latitude == 0 else _BESIDE_PEN
        axes.plot(np.insert(x, jumps, np.nan), np.insert(y, jumps, np.nan), zorder=6, gid=f"b {latitude}", **pen)


_PLANE_PEN: Final[dict[str, Any]] = {"color": palette.INK, "linewidth": 1.4}
_BESIDE_PEN: Final[dict[str, Any]] = {"color": palette.INK, "linewidth": palette.MEDIUM, "linestyle": palette.DASHED}


def softened(values: FloatArray, dots: int) -> FloatArray:
    """Return a raster with each value replaced by the mean of a square about it, twice over; NaN stays NaN.

    The drawing is of equal area: a mean over dots is a mean over sky.
    """
    known = ~np.isnan(values)
    weight, total = known.astype(np.float64), np.where(known, values, 0.0)
    for axis in (0, 1, 0, 1):
        weight, total = _running_sum(weight, dots, axis), _running_sum(total, dots, axis)
    return np.where(known, total / np.maximum(weight, 1e-9), np.nan)


def _running_sum(values: FloatArray, half: int, axis: int) -> FloatArray:
    """Return the sum over 2·half + 1 neighbours along an axis; nothing lies beyond the edges."""
    pad = [(0, 0), (0, 0)]
    pad[axis] = (half + 1, half)
    summed = np.cumsum(np.pad(values, pad), axis=axis)
    size = values.shape[axis]
    window = 2 * half + 1
    late, early = (np.take(summed, np.arange(start, start + size), axis=axis) for start in (window, 0))
    return np.asarray(late - early)
