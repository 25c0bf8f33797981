"""`build_train` and `judge_flat`: the imaging train, and a flat frame of it, as objects."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from guidestar.api.arguments import judged
from guidestar.api.common import rig_of, values_of
from guidestar.flat.result import FlatResult, Sensor
from guidestar.rig import Rig
from guidestar.train.build import flat_sensor, train
from guidestar.train.result import TrainResult

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class TrainAnswer(TrainResult):
    """A `guidestar.train.result.TrainResult` that can show itself."""

    @property
    def problems(self) -> list[str]:
        """Return what has to be mended before the night, a sentence or two each, most basic first."""
        from guidestar.report.train_sentences import plain_text, problems

        return plain_text(problems(self))

    @property
    def cannot_be_built(self) -> str:
        """Return the sentence on parts that are too long, or on spacers that cannot reach it; "" if it can be built."""
        from guidestar.report.train_sentences import plain_text, spacing_problem

        return plain_text([spacing_problem(self)])[0]

    @property
    def steps(self) -> list[str]:
        """Return the order of building with this rig's numbers, a step each."""
        from guidestar.report.train_checklist import checklist
        from guidestar.report.train_sentences import plain_text

        return plain_text(checklist(self))

    def to_json(self, *, with_checklist: bool = False) -> dict[str, object]:
        """Return the answer as plain values, in the schema of `train --json`."""
        from guidestar.report.train_json import train_to_json

        return train_to_json(self, with_checklist=with_checklist)

    def to_text(self, *, checklist: bool = False, width: int | None = None, colour: bool = False) -> str:
        """Return the report that the command line prints, or the order of building."""
        from guidestar.report.train_text import render_checklist, render_train

        return (render_checklist if checklist else render_train)(self, width=width, colour=colour)

    def plot(self) -> Figure:
        """Draw the train from the side, from the end, and the shadow on the main picture."""
        from guidestar.report.train_figure import train_page

        return train_page(self)

    def __str__(self) -> str:
        """Return the report that the command line prints."""
        return self.to_text()


@dataclass(frozen=True)
class FlatAnswer(FlatResult):
    """A `guidestar.flat.result.FlatResult` that can show itself; `name` of the frame, `sensor` if the rig was known."""

    name: str = "flat"
    sensor: Sensor | None = None

    def to_json(self) -> dict[str, object]:
        """Return the answer as plain values, in the schema of `train --flat --json`."""
        from guidestar.report.flat_report import flat_to_json

        return flat_to_json(self, self.sensor, self.name)

    def to_text(self, *, width: int | None = None, colour: bool = False) -> str:
        """Return the report that the command line prints."""
        from guidestar.report.flat_report import render_flat

        return render_flat(self, self.sensor, self.name, width=width, colour=colour)

    def plot(self) -> Figure:
        """Draw the loss of light as measured, and as fitted."""
        from guidestar.report.flat_report import flat_page

        return flat_page(self, self.sensor)

    def __str__(self) -> str:
        """Return the report that the command line prints."""
        return self.to_text()


@judged
def build_train(
    rig: Rig | str | os.PathLike[str],
    *,
    order: str | None = None,
    ray_exact: bool = False,
    allowed_loss: float = 0.0,
    clear_share: float = 1.0,
) -> TrainAnswer:
    """Work out the imaging train: spacers, both cameras in focus at once, the prism's depth and its shadow.

    Parameters
    ----------
    rig : Rig or path
        The rig, or its TOML file, with its [train] section.
    order : str, optional
        Try the parts in this order: their names with commas, telescope side first, "spacer" among them to place it.
    ray_exact : bool
        Glass shifts for the beam's outermost ray, not for rays near the axis.
    allowed_loss : float
        Loss of light, 0 ≤ share < 1, that is accepted at any point of the main picture.
    clear_share : float
        Share of the picture's area, 0 < share ≤ 1, for which that holds.

    Returns
    -------
    TrainAnswer
        Also for parts that are too long, or spacers that cannot reach it: see `TrainAnswer.cannot_be_built`.

    Raises
    ------
    InputError
        The rig or an option cannot be used.
    """
    result = train(rig_of(rig), order=order, ray_exact=ray_exact, allowed_loss=allowed_loss, clear_share=clear_share)
    return TrainAnswer(**values_of(result))


@judged
def judge_flat(
    flat: str | os.PathLike[str] | NDArray[np.generic],
    rig: Rig | str | os.PathLike[str] | None = None,
    *,
    first_row: Literal["bottom", "top"] | None = None,
) -> FlatAnswer:
    """Look for the prism's shadow in a flat frame of the main camera (needs the extra `flats`).

    Parameters
    ----------
    flat : path or ndarray, shape (rows, columns)
        A FITS file, or linear counts with the displayed picture's top row first.
    rig : Rig or path, optional
        With it the answer says by how many millimetres to draw the prism out.
    first_row : "bottom" or "top", optional
        Where the first row of a file is displayed; by default what its header says, else at the bottom.

    Raises
    ------
    InputError
        The file cannot be read, or the frame is no flat of this camera.
    """
    sensor = None if rig is None else flat_sensor(rig_of(rig))
    name = "flat" if isinstance(flat, np.ndarray) else os.fspath(flat)
    from guidestar.flat.read import read_flat, require_libraries

    require_libraries(name)
    from guidestar.flat.analyse import analyse
    from guidestar.flat.frame import flat_frame

    if isinstance(flat, np.ndarray):
        frame = flat_frame(flat if first_row != "bottom" else flat[::-1], name=name, sensor=sensor)
    else:
        frame = read_flat(flat, sensor=sensor, first_row=first_row)
    result = analyse(frame, sensor)
    return FlatAnswer(**values_of(result), name=name, sensor=sensor)
