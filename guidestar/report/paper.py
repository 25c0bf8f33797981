"""The paper that every figure is drawn on: size, type, formats, and writing a picture whole or not at all.

Figures are made without pyplot, so that nothing global is changed and no window opens. The same result gives the
same bytes: no dates, a fixed salt for SVG names, a fixed type.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from guidestar.errors import InputError
from guidestar.report import palette
from guidestar.report import wording as w
from guidestar.report.writing import write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure

A4_LANDSCAPE_IN = (297.0 / 25.4, 210.0 / 25.4)
FORMATS = ("png", "svg", "pdf")

_DPI = 200
_METADATA: dict[str, dict[str, None]] = {
    "png": {},
    "svg": {"Date": None},
    "pdf": {"CreationDate": None},
}
_ENCODING: dict[str, dict[str, Any]] = {"png": {"pil_kwargs": {"compress_level": 3}}}
"""Half the time of the usual level, 6, and a page of a sky map gets no larger."""
_STYLE: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "svg.hashsalt": "guidestar",
    "hatch.linewidth": 0.8,
    "text.usetex": False,
}


def save_page(path: Path, draw: Callable[[], Figure]) -> Path:
    """Draw a page and write it, whole or not at all; the path's suffix chooses the format: png, svg or pdf.

    Raises
    ------
    InputError
        For another suffix, or where the file cannot be written; a file that stood there stays as it was.
    """
    suffix = format_of(path)
    with style():
        picture = io.BytesIO()
        draw().savefig(picture, format=suffix, dpi=_DPI, metadata=_METADATA[suffix], **_ENCODING.get(suffix, {}))
    write_whole(path, picture.getvalue(), "figure")
    return path


def format_of(path: Path) -> str:
    """Return "png", "svg" or "pdf" from a path's suffix; `InputError` for any other."""
    suffix = path.suffix.lower().removeprefix(".")
    if suffix not in FORMATS:
        found = f"“.{suffix}”" if suffix else "no suffix"
        raise InputError(
            f"A figure's file name must end in .png, .svg or .pdf; “{path}” has {found}: try “{path.stem}.png”."
        )
    return suffix


def new_figure(size_in: tuple[float, float]) -> Figure:
    """Return an empty figure of a size in inches."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=size_in, dpi=_DPI, facecolor=palette.PAPER)
    FigureCanvasAgg(figure)
    return figure


def box_on(page_mm: tuple[float, float]) -> Callable[[float, float, float, float], tuple[float, float, float, float]]:
    """Return what turns (left, top, width, height) in mm on a page of this size into shares of the figure."""
    page_width, page_height = page_mm

    def box(left: float, top: float, width: float, height: float) -> tuple[float, float, float, float]:
        return left / page_width, 1.0 - (top + height) / page_height, width / page_width, height / page_height

    return box


@contextlib.contextmanager
def style() -> Iterator[None]:
    """Draw with the figures' own settings, whatever the person's are; theirs come back afterwards."""
    import matplotlib as mpl

    with mpl.rc_context(_STYLE):
        yield


def text(
    figure: Figure,
    x: float,
    y: float,
    words: str,
    *,
    size: float = palette.SMALL,
    bold: bool = False,
    mono: bool = False,
) -> None:
    """Write words at a place of the figure (shares of its width and height), top left corner first."""
    figure.text(
        x,
        y,
        words.replace(w.NBSP, " "),
        fontsize=size,
        weight="bold" if bold else "normal",
        family="DejaVu Sans Mono" if mono else "DejaVu Sans",
        va="top",
        color=palette.INK,
        linespacing=1.35,
        parse_math=False,  # a dollar sign in a target's or rig's name is a dollar sign
    )
