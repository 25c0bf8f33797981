"""Which stars to use for a place: the local store where it helps, else the built-in catalogue."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from guidestar.errors import DataError, InputError
from guidestar.sky import regions
from guidestar.stars import gaia
from guidestar.stars.source import StarSource
from guidestar.stars.store import Store
from guidestar.stars.tycho2 import tycho2

Wish = Literal["auto", "tycho2", "store"]
WISHES: Final = ("auto", "tycho2", "store")

_EDGE_ORDER: Final = 10


@dataclass(frozen=True)
class Choice:
    """The stars to use, with sentences on what they miss (none where nothing is worth saying)."""

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
        raise InputError(f'"{wish}" is no choice of stars: use {", ".join(WISHES)}.')
    builtin = tycho2()
    if wish == "tycho2" or (wish == "auto" and not store.exists):
        return Choice(builtin)
    circle = regions.around(ra_deg, dec_deg, radius_deg, _EDGE_ORDER)
    try:
        depth = store.complete_to_mag(circle)
    except DataError as error:
        if wish == "store":
            raise
        return Choice(builtin, (f"The local star store is not used. {error}",))
    if depth is not None and (wish == "store" or depth > builtin.complete_to_mag):
        return Choice(gaia.gaia_store(store, depth), _too_shallow(depth, faintest_mag))
    if wish == "store":
        raise DataError(
            _not_covered(store, circle, depth) + ": fetch it with 'guidestar stars fetch', or leave out --stars store."
        )
    return Choice(builtin, (_not_covered(store, circle, depth) + f", so {builtin.name} is used.",))


def _too_shallow(depth: float, faintest_mag: float) -> tuple[str, ...]:
    if depth >= faintest_mag:
        return ()
    return (
        f"The local star store ends at G {depth:.4g} here, and this rig uses stars to G {faintest_mag:.1f}: those "
        "between are missing. 'guidestar stars fetch' with --rig brings them.",
    )


def _not_covered(store: Store, circle: regions.Region, depth: float | None) -> str:
    if depth is not None:
        return f"The local star store ends at G {depth:.4g} here, no deeper than the built-in catalogue"
    covered = regions.union(*(item.region for item in store.coverage_in(circle)))
    share = regions.area_deg2(covered) / regions.area_deg2(circle)
    return f"The local star store {store.path} covers {100 * share:.0f} % of the sky around the target"
