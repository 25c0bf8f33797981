"""Stars for framings that may be moved: a circle wider than the target's own."""

from __future__ import annotations

import os

from guidestar.field.light import USUAL_EXPOSURES_S
from guidestar.field.needs import star_needs
from guidestar.rig import Rig
from guidestar.sky.place import Place
from guidestar.stars.choose import Choice, choose
from guidestar.stars.source import StarSource
from guidestar.stars.store import store_at


def chosen_for_nudge(
    stars: StarSource | str | None,
    store: str | os.PathLike[str] | None,
    there: Place,
    rig: Rig,
    any_exposure: bool,
    further_deg: float,
) -> Choice:
    """Choose the source of stars for framings up to `further_deg` from a place; see `guidestar.api.common`."""
    if isinstance(stars, StarSource):
        return Choice(stars)
    longest = {"guiding.exposure_s": USUAL_EXPOSURES_S[-1]}
    needs = star_needs(rig.with_values(longest) if any_exposure else rig)
    where = (there.ra_deg, there.dec_deg, needs.radius_deg + further_deg)
    return choose(stars or "auto", *where, needs.faintest_mag, store_at(store))
