"""Which stars to use for a place: the local store where it helps, else the built-in catalogue."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

from guidestar.errors import DataError, InputError
from guidestar.sky import regions
from guidestar.stars import counted_sky, gaia
from guidestar.stars.source import StarSource
from guidestar.stars.store import Coverage, Store, complete_to
from guidestar.stars.tycho2 import Tycho2, tycho2

Wish = Literal["auto", "tycho2", "store"]
WISHES: Final = ("auto", "tycho2", "store")

_EDGE_ORDER: Final = 10

_ALL: Final = 0.99999
_ONE_PERCENT: Final = 0.01


@dataclass(frozen=True)
class Choice:
    """The stars to use, with sentences on what they miss (none where nothing is worth saying).

    The source brings the store's star counts along, where there are any (`counts.counts_for`).
    """

    source: StarSource
    notes: tuple[str, ...] = ()


def choose(wish: str, ra_deg: float, dec_deg: float, radius_deg: float, faintest_mag: float, store: Store) -> Choice:
    """Choose the stars for a circle of sky.

    Parameters
    ----------
    wish : "auto", "tycho2" or "store"
        "auto" takes the store where it covers the whole circle, deeper than the built-in catalogue is complete; the
        store's stars then include that catalogue's bright ones.
    ra_deg, dec_deg, radius_deg : float
        The circle, ICRS degrees.
    faintest_mag : float
        How faint a star the rig can use (G).
    store : Store
        It need not exist.

    Raises
    ------
    InputError
        Another wish.
    DataError
        "store", but it does not cover the circle, is damaged or of a newer format; or no built-in catalogue.
    """
    if wish not in WISHES:
        raise _no_choice(wish)
    circle = regions.around(ra_deg, dec_deg, radius_deg, _EDGE_ORDER)
    return _with_counts(_for_circle(wish, circle, faintest_mag, store), store)


def _for_circle(wish: str, circle: regions.Region, faintest_mag: float, store: Store) -> Choice:
    builtin = tycho2()
    if wish == "tycho2" or (wish == "auto" and not store.exists):
        return Choice(builtin)
    try:
        depth = store.complete_to_mag(circle)
    except DataError as error:
        if wish == "store":
            raise
        return _unusable(builtin, error)
    if depth is not None and (wish == "store" or depth > builtin.complete_to_mag):
        return Choice(gaia.gaia_store(store, depth), _too_shallow(depth, faintest_mag))
    if wish == "store":
        raise DataError(
            _not_covered(store, circle, depth) + ": fetch it with 'guidestar stars fetch', or leave out --stars store."
        )
    if not store.pixels():
        return Choice(builtin)  # it holds counts only, or nothing any more
    return Choice(builtin, (_not_covered(store, circle, depth) + f", so {builtin.name} is used.",))


def _with_counts(choice: Choice, store: Store) -> Choice:
    """Return the choice with the store's star counts, or a sentence on why they cannot be used."""
    try:
        counts = counted_sky.counts_in(store)
    except DataError as error:
        if any(str(error) in note for note in choice.notes):
            return choice  # it was the whole store, and has been said
        return replace(choice, notes=(*choice.notes, f"The star counts of the local store are not used. {error}"))
    if counts is None or not isinstance(choice.source, (Tycho2, gaia.GaiaStore)):
        return choice
    return replace(choice, source=replace(choice.source, counts=counts))


def _unusable(builtin: StarSource, error: DataError) -> Choice:
    return Choice(builtin, (f"The local star store is not used. {error}",))


def _no_choice(wish: str) -> InputError:
    return InputError(f'"{wish}" is no choice of stars: use {", ".join(WISHES)}.')


def choose_for_sky(wish: str, faintest_mag: float, store: Store) -> Choice:
    """Choose the stars for a map of the sky: one source for all of it.

    "auto" takes the store only if it covers the whole sky deeper than the built-in catalogue is complete. "store" takes
    it wherever it is as deep as `faintest_mag`, or else as its deepest stars: the rest of the map has no data then
    (`wholesky.sky_coverage`).

    Raises
    ------
    InputError
        Another wish.
    DataError
        "store", but it is empty, damaged or of a newer format; or no built-in catalogue.
    """
    if wish not in WISHES:
        raise _no_choice(wish)
    return _with_counts(_for_sky(wish, faintest_mag, store), store)


def _for_sky(wish: str, faintest_mag: float, store: Store) -> Choice:
    builtin = tycho2()
    if wish == "tycho2" or (wish == "auto" and not store.exists):
        return Choice(builtin)
    try:
        items = store.coverage_in(regions.whole_sky())
    except DataError as error:
        if wish == "store":
            raise
        return _unusable(builtin, error)
    depths = sorted({item.faintest_mag for item in items})
    if wish == "store":
        if not depths:
            raise DataError(f"The local star store {store.path} is empty: fill it with 'guidestar stars fetch --sky'.")
        depth = next((depth for depth in depths if depth >= faintest_mag), depths[-1])
        return Choice(gaia.gaia_store(store, depth), (*_share(items, depth), *_too_shallow(depth, faintest_mag, "")))
    whole = [depth for depth in depths if regions.is_within(regions.whole_sky(), complete_to(items, depth))]
    if whole and whole[-1] > builtin.complete_to_mag:
        depth = next((depth for depth in whole if depth >= faintest_mag), whole[-1])
        return Choice(gaia.gaia_store(store, depth), _too_shallow(depth, faintest_mag, ""))
    return Choice(builtin)


def _share(items: tuple[Coverage, ...], depth: float) -> tuple[str, ...]:
    share = regions.area_deg2(complete_to(items, depth)) / regions.SKY_DEG2
    if share >= _ALL:
        return ()
    percent = f"{100 * share:.0f}" if share >= _ONE_PERCENT else "less than 1"
    return (f"The local star store covers {percent} % of the sky to G {depth:.4g}; elsewhere the map has no data.",)


def _too_shallow(depth: float, faintest_mag: float, where: str = " here") -> tuple[str, ...]:
    if depth >= faintest_mag:
        return ()
    return (
        f"The local star store ends at G {depth:.4g}{where}, and this rig uses stars to G {faintest_mag:.1f}: those "
        "between are missing. 'guidestar stars fetch' with --rig brings them.",
    )


def _not_covered(store: Store, circle: regions.Region, depth: float | None) -> str:
    if depth is not None:
        return f"The local star store ends at G {depth:.4g} here, no deeper than the built-in catalogue"
    covered = regions.union(*(item.region for item in store.coverage_in(circle)))
    share = regions.area_deg2(covered) / regions.area_deg2(circle)
    return f"The local star store {store.path} covers {100 * share:.0f} % of the sky around the target"
