"""Both cameras in focus at once: how long the guide side must be, and whether its focuser gets there."""

from __future__ import annotations

from collections.abc import Sequence

from guidestar.optics.spacing import guide_path_mm
from guidestar.rig import Part, Rig
from guidestar.train import pieces as pieces_of
from guidestar.train.result import FilterPlace, GuideFocus, Order, Piece, Spacing


def guide_focus(rig: Rig, ahead_mm: float, place: FilterPlace, *, ray_exact: bool) -> GuideFocus:
    """Return the guide side's focus for a prism `ahead_mm` before the main sensor."""
    train, prism = pieces_of.require_train(rig), rig.prism
    behind = place.place == "behind"
    shifts = [
        pieces_of.glass_shift(rig, thickness, index, ray_exact=ray_exact)
        for thickness, index in (
            (train.filter_thickness_mm if behind else 0.0, train.filter_index),
            (prism.glass_path_mm, prism.glass_index),
        )
    ]
    needed = guide_path_mm(ahead_mm, *shifts)
    extension = None
    if train.stalk_mm is not None and train.guide_flange_mm is not None:
        extension = needed - train.stalk_mm - train.guide_flange_mm
    travel = train.focuser_travel_mm
    known = extension is not None and travel is not None
    return GuideFocus(
        ahead_mm=ahead_mm,
        filter_shift_mm=shifts[0],
        prism_shift_mm=shifts[1],
        needed_mm=needed,
        focuser_mm=extension,
        travel_mm=travel,
        in_travel=_within(extension, travel),
        adapter_mm=max(0.0, extension - travel / 2) if known and extension > travel else 0.0,  # type: ignore[operator]
    )


def _within(extension_mm: float | None, travel_mm: float | None) -> bool | None:
    """Tell whether an extension lies in the travel; too far out already is known without the travel."""
    if extension_mm is None:
        return None
    if extension_mm < 0.0:
        return False
    return None if travel_mm is None else extension_mm <= travel_mm


def spacer_behind(rig: Rig, spacing: Spacing, focus: GuideFocus, place: FilterPlace) -> GuideFocus | None:
    """Return the guide focus with the missing spacer put behind the prism instead, None where that changes nothing."""
    spacer = next((piece for piece in spacing.pieces if piece.kind == "spacer"), None)
    if spacer is None or _stands_behind(spacing.pieces):
        return None
    return guide_focus(rig, focus.ahead_mm + spacer.length_mm, place, ray_exact=spacing.ray_exact)


def _stands_behind(pieces: Sequence[Piece]) -> bool:
    """Tell whether the spacer stands behind the piece that holds the prism."""
    kinds = [piece.kind for piece in pieces]
    prism = [i for i, piece in enumerate(pieces) if piece.prism_at_mm is not None]
    return bool(prism) and kinds.index("spacer") > prism[0]


def better_order(rig: Rig, spacing: Spacing) -> Order | None:
    """Return the order nearest to the present one in which the guide camera reaches focus, None if there is none.

    Looked for only among orders that keep the rules and the prism before the filter.
    """
    train = pieces_of.require_train(rig)
    if all(part.prism_at_mm is None for part in train.parts):
        return None
    for parts, place in pieces_of.possible_orders(train):
        tried = pieces_of.spacing(rig, parts, place, ray_exact=spacing.ray_exact)
        ahead = pieces_of.prism_ahead_mm(tried.pieces)
        if ahead is None or ahead >= rig.telescope.exit_pupil_mm:
            continue
        focus = guide_focus(rig, ahead, pieces_of.filter_place(train, parts), ray_exact=spacing.ray_exact)
        if focus.in_travel:
            return Order(_names(parts, place, tried), focus, moved=_moved(train.parts, parts))
    return None


def _names(parts: Sequence[Part], place: int, tried: Spacing) -> tuple[str, ...]:
    names = [part.name for part in parts]
    if any(piece.kind == "spacer" for piece in tried.pieces):
        names.insert(place, pieces_of.SPACER)
    return tuple(names)


def _moved(before: Sequence[Part], after: Sequence[Part]) -> int:
    return sum(one != other for one, other in zip(before, after, strict=True))
