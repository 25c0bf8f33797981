"""What `train` finds out, as plain frozen values. Lengths in mm along the light unless a name says otherwise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from guidestar.rig import Rig

FloatArray = NDArray[np.float64]
RemedyKind = Literal["crop", "side", "ahead", "image circle", "clear aperture", "dim"]


@dataclass(frozen=True)
class Piece:
    """One piece of the train in place: where it begins, counted from the corrector's flange, and how long it is.

    `prism_at_mm` and `filter_at_mm` count from the piece's own telescope side; None where it holds neither.
    """

    name: str
    kind: Literal["part", "spacer", "camera"]
    start_mm: float
    length_mm: float
    prism_at_mm: float | None = None
    filter_at_mm: float | None = None


@dataclass(frozen=True)
class Spacing:
    """How long the train has to be and what is missing.

    `spacer_mm` is still needed; negative: the train is too long by that much. `wanted_mm` is back focus and glass
    shift together. `chosen_mm` are the owned spacers that come nearest (None without a list), `residual_mm` how much
    too long (positive) or too short the train is with them. `ray_exact` if the outermost ray decided the glass shift.
    """

    back_focus_mm: float
    glass_shift_mm: float
    ray_exact: bool
    wanted_mm: float
    parts_mm: float
    flange_mm: float
    spacer_mm: float
    pieces: tuple[Piece, ...]
    chosen_mm: tuple[float, ...] | None
    residual_mm: float | None


@dataclass(frozen=True)
class FilterPlace:
    """Where the filter stands, and what it would cost a guide star ahead of the prism (None: bandwidth not known).

    `stated` is False where no part says where it is; it then counts as behind the prism, the usual place.
    """

    place: Literal["behind", "ahead", "none"]
    stated: bool
    bandwidth_nm: float | None
    cost_mag: float | None


@dataclass(frozen=True)
class GuideFocus:
    """Whether the guide camera reaches focus with its prism `ahead_mm` before the main sensor.

    `needed_mm` from the prism's entrance face, round the reflection, to the guide sensor. `focuser_mm` is the
    extension that brings it there, negative where even the drawn-in camera stands too far out, None where stalk or
    flange are not known; `in_travel` None where it or the travel is not known. `adapter_mm` is a ring in front of the
    guide camera that puts the focus at mid-travel, 0 where none is needed.
    """

    ahead_mm: float
    filter_shift_mm: float
    prism_shift_mm: float
    needed_mm: float
    focuser_mm: float | None
    travel_mm: float | None
    in_travel: bool | None
    adapter_mm: float


@dataclass(frozen=True)
class Order:
    """An order of the pieces, telescope side first ("spacer" among them), with the guide focus that it gives."""

    names: tuple[str, ...]
    focus: GuideFocus
    moved: int


@dataclass(frozen=True)
class Remedy:
    """One thing that opens the prism's depth window, where there is none.

    `amount`: crop: mm of the picture to give up at the prism's edge; side: the window's width there, mm (`where` names
    the side); ahead: the `ahead_mm` that opens it; image circle and clear aperture: the diameter needed, mm (`where`
    is "together" if both are too narrow, so that neither helps alone); dim: the share of the light left to the guide
    field at the least clear offset.
    """

    kind: RemedyKind
    amount: float
    where: str = ""


@dataclass(frozen=True)
class Window:
    """The prism's depth window, `offset_mm` values in the plane of its entrance face.

    `min_offset_mm` leaves the main sensor its light (less `allowed_loss`, over `clear_share` of its area);
    `max_offset_mm` leaves the whole guide field fully lit, inf where nothing limits it; `limited_by` says what does.
    `best_offset_mm` is None where there is no window. `field_light_mm2` and `best_field_light_mm2`: lit area of the
    guide sensor, each point counted by the share of its light, at the rig's offset and at the best one.
    """

    min_offset_mm: float
    max_offset_mm: float
    best_offset_mm: float | None
    offset_mm: float
    in_window: bool
    allowed_loss: float
    clear_share: float
    limited_by: Literal["image circle", "clear aperture"] | None
    field_light_mm2: float
    best_field_light_mm2: float
    remedies: tuple[Remedy, ...]


@dataclass(frozen=True)
class Shadow:
    """The prism's shadow on the displayed main picture.

    `right_mm` (n,), `up_mm` (m,) from the picture's middle, `loss` (m, n), 0 … 1, row 0 at the top. `worst` is the
    largest loss anywhere, `corner` where it is ("top right", "top"), empty without a shadow; `area` the share of the
    picture that loses more than one per cent.
    """

    right_mm: FloatArray
    up_mm: FloatArray
    loss: FloatArray
    worst: float
    corner: str
    area: float


@dataclass(frozen=True)
class TrainResult:
    """The whole answer to `train` for one rig.

    `focus` is the guide side as things stand, `spacer_behind` with the missing spacer behind the prism instead (None
    where there is none to place), `better_order` an order that brings it into focus where it is not. `warnings`
    deserve a second look.
    """

    rig: Rig
    spacing: Spacing
    filter: FilterPlace
    focus: GuideFocus
    spacer_behind: GuideFocus | None
    better_order: Order | None
    window: Window
    shadow: Shadow
    warnings: tuple[str, ...]
