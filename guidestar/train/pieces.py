"""The train piece by piece: what is there, what is missing, and the orders in which it may be built."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import permutations

from guidestar.errors import InputError
from guidestar.optics import spacing as formulas
from guidestar.rig import Part, Rig, Train
from guidestar.train.result import FilterPlace, Piece, Spacing
from guidestar.train.spacers import nearest_combination

SPACER = "spacer"
OPEN_BANDWIDTH_NM = 500.0
"""What an unfiltered silicon guide camera uses, 400 to 900 nm: the band that its quantum efficiency is given for."""
_MOST_PIECES = 7
_SHORTEST_MM = 0.005
"""A spacer shorter than this is none: nobody can measure it."""


def require_train(rig: Rig) -> Train:
    """Return the rig's train; `InputError` if it has none."""
    if rig.train is None:
        raise InputError(
            f"{rig.name}: the rig file has no [train] section; add it with back_focus_mm, camera_flange_mm and the "
            "parts between telescope and camera ('guidestar rig new' writes one to fill in)."
        )
    return rig.train


def ordered_parts(train: Train, order: str | None) -> tuple[tuple[Part, ...], int]:
    """Return the parts in an order, and before which of them the missing spacer goes (their number: behind all).

    Parameters
    ----------
    train : Train
    order : str, optional
        Names of all parts, telescope side first, with commas; "spacer" among them places the missing spacer. Default:
        the rig file's order, the spacer in front of all, where it leaves the prism's distance as it is.

    Raises
    ------
    InputError
        A name that is no part's, or not exactly every part once.
    """
    if order is None:
        return train.parts, 0
    words = [word.strip() for word in order.split(",")]
    wanted = [word for word in words if word.lower() != SPACER]
    left = list(train.parts)
    chosen = []
    for word in wanted:
        part = next((item for item in left if item.name.lower() == word.lower()), None)
        if part is None:
            raise InputError(f'--order: there is no part "{word}" left; the parts are {_quoted(train)}, each once.')
        left.remove(part)
        chosen.append(part)
    if left:
        missing = ", ".join(f'"{part.name}"' for part in left)
        raise InputError(f"--order: {missing} is missing; name every part once: {_quoted(train)}.")
    lowered = [word.lower() for word in words]
    return tuple(chosen), lowered.index(SPACER) if SPACER in lowered else 0


def _quoted(train: Train) -> str:
    return ", ".join(f'"{part.name}"' for part in train.parts) or "none"


def glass_shift(rig: Rig, thickness_mm: float, index: float, *, ray_exact: bool) -> float:
    """Return the focus shift of a plate in the rig's beam, mm."""
    return formulas.glass_shift_mm(thickness_mm, index, rig.telescope.f_ratio if ray_exact else None)


def spacing(rig: Rig, parts: Sequence[Part], spacer_place: int, *, ray_exact: bool) -> Spacing:
    """Return the train's length budget, with the missing spacer at its place among the pieces."""
    train = require_train(rig)
    shift = glass_shift(rig, train.filter_thickness_mm, train.filter_index, ray_exact=ray_exact)
    there = sum(part.length_mm for part in parts)
    missing = formulas.spacer_mm(train.back_focus_mm, shift, there, train.camera_flange_mm)
    nearest = nearest_combination(train.spacers_mm, missing) if train.spacers_mm else None
    return Spacing(
        back_focus_mm=train.back_focus_mm,
        glass_shift_mm=shift,
        ray_exact=ray_exact,
        wanted_mm=train.back_focus_mm + shift,
        parts_mm=there,
        flange_mm=train.camera_flange_mm,
        spacer_mm=missing,
        pieces=tuple(_pieces(train, parts, spacer_place, missing)),
        chosen_mm=None if nearest is None else nearest.lengths_mm,
        residual_mm=None if nearest is None else nearest.residual_mm,
    )


def _pieces(train: Train, parts: Sequence[Part], spacer_place: int, missing: float) -> Iterator[Piece]:
    """Yield the pieces from the corrector's flange to the sensor."""
    pieces = [Piece(p.name, "part", 0.0, p.length_mm, p.prism_at_mm, p.filter_at_mm) for p in parts]
    if missing > _SHORTEST_MM:
        pieces.insert(spacer_place, Piece("spacer still needed", "spacer", 0.0, missing))
    pieces.append(Piece("main camera", "camera", 0.0, train.camera_flange_mm))
    start = 0.0
    for piece in pieces:
        yield replace(piece, start_mm=start)
        start += piece.length_mm


def prism_ahead_mm(pieces: Sequence[Piece]) -> float | None:
    """Return how far the prism's entrance face stands before the main sensor, mm; None if no piece holds it."""
    end = pieces[-1].start_mm + pieces[-1].length_mm
    return next((end - p.start_mm - p.prism_at_mm for p in pieces if p.prism_at_mm is not None), None)


def filter_place(train: Train, parts: Sequence[Part]) -> FilterPlace:
    """Tell where the filter stands to the prism, and what it costs a guide star ahead of it."""
    bandwidth = train.filter_bandwidth_nm
    cost = None if bandwidth is None else formulas.filter_cost_mag(bandwidth, OPEN_BANDWIDTH_NM)
    if train.filter_thickness_mm <= 0.0:
        return FilterPlace("none", True, bandwidth, None)
    places = [_places(parts, key) for key in ("prism_at_mm", "filter_at_mm")]
    prism, glass = places
    if prism is None or glass is None:
        return FilterPlace("behind", False, bandwidth, cost)
    return FilterPlace("ahead" if glass < prism else "behind", True, bandwidth, cost)


def _places(parts: Sequence[Part], key: str) -> tuple[int, float] | None:
    """Return which part holds the prism or the filter, and where in it; None if none does."""
    found = [(i, getattr(part, key)) for i, part in enumerate(parts) if getattr(part, key) is not None]
    return found[0] if found else None


def broken_order_rules(train: Train, parts: Sequence[Part]) -> list[str]:
    """Return a sentence for each rule "A before B" that an order breaks, and for each that names no part.

    "prism" and "filter" stand for the part that holds it, unless a part has that very name.
    """
    sentences = []
    for rule in train.order_rules:
        unknown = [word for word in _names_in(rule) if _place_of(word, parts) is None]
        if unknown:
            sentences.append(f'train.order_rules: "{rule}" names "{unknown[0]}", which is no part; it has no effect')
        elif _breaks(parts, rule):
            sentences.append(f'train.order_rules: this order breaks "{rule}"')
    return sentences


def _breaks(parts: Sequence[Part], rule: str) -> bool:
    """Tell whether an order breaks a rule; one that names no part has no effect."""
    first, second = (_place_of(word, parts) for word in _names_in(rule))
    return first is not None and second is not None and first > second


def _names_in(rule: str) -> list[str]:
    return [word.strip().lower() for word in rule.split(" before ", 1)]


def _place_of(word: str, parts: Sequence[Part]) -> int | None:
    """Return the number of the part that a word names; None if it names none."""
    named = [i for i, part in enumerate(parts) if part.name.lower() == word]
    if named:
        return named[0]
    key = {"prism": "prism_at_mm", "filter": "filter_at_mm"}.get(word)
    held = None if key is None else _places(parts, key)
    return None if held is None else held[0]


def possible_orders(train: Train) -> Iterator[tuple[tuple[Part, ...], int]]:
    """Yield every order of parts and missing spacer that keeps the rules and the prism before the filter.

    In order of how many pieces leave their place; nothing for more pieces than can be tried one by one.
    """
    if len(train.parts) + 1 > _MOST_PIECES:
        return
    pieces = range(len(train.parts) + 1)  # the last stands for the spacer
    spacer = len(train.parts)
    home = (spacer, *range(spacer))
    ranked = sorted(permutations(pieces), key=lambda p: (sum(a != b for a, b in zip(p, home, strict=True)), p))
    for permutation in ranked:
        parts = tuple(train.parts[i] for i in permutation if i != spacer)
        if not any(_breaks(parts, rule) for rule in train.order_rules) and filter_place(train, parts).place != "ahead":
            yield parts, permutation.index(spacer)
