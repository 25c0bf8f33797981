"""Stars beyond the catalogue, in words: always an estimate, always beside the confirmed share, never merged with it."""

from __future__ import annotations

from guidestar.field.result import CheckResult, Expected
from guidestar.report import wording as w
from guidestar.stars.counts import MODEL

_NEARLY_ALL = 0.99
_HARDLY_ANY = 0.01

_FETCH = "'guidestar stars fetch' brings the stars themselves, to be sure."


def further(result: CheckResult) -> list[str]:
    """Say what the stars that the catalogue does not list may add; nothing where none can be missing."""
    found = result.expected
    if found is None:
        return []
    confirmed = result.usable.fraction
    if confirmed >= 1.0:
        return [f"EXPECTED  {_how_many(found)} Confirmed stars serve the whole circle without them."]
    served = f"{w.share(confirmed)} of the circle" if confirmed else "no part of the circle"
    start = f"EXPECTED  Confirmed stars serve {served}; with fainter ones besides {_probably(found)}."
    return [f"{start} {_how_many(found)} {_FETCH}"]


def estimated_share(found: Expected | None) -> str:
    """Write the estimated share for a table, "~", < or > before it; a dash where none was made."""
    if found is None:
        return "–"
    text = w.short_share(found.fraction)
    return text if text[0] in "<>" else f"~{text}"


def _probably(found: Expected) -> str:
    """Write the estimated share in whole per cent with its range, as far as that says anything."""
    if found.fraction >= _NEARLY_ALL:
        return "probably all of it, or nearly so"
    if found.fraction < _HARDLY_ANY:
        return "probably still hardly any of it"
    low, high = (w.percent(share) for share in (found.fraction_low, found.fraction_high))
    about = f"probably about {w.percent(found.fraction)}"
    return about if low == high else f"{about} ({low} to {high}, by the error of the star counts)"


def _how_many(found: Expected) -> str:
    stars = _number(found.stars)
    error = w.plain(found.stars_error, 0 if found.stars >= 10.0 else 1 if found.stars >= 1.0 else 2)
    counted = "" if found.counts in ("", MODEL) else f" ({found.counts})"
    return (
        f"By star counts{counted}, an estimate, the guide camera shows on average {stars} (±{w.NBSP}{error}) stars "
        "that it can use and the catalogue does not list."
    )


def _number(stars: float) -> str:
    if stars < 0.01:
        return "under" + w.NBSP + "0.01"
    return w.plain(stars, 0 if stars >= 10.0 else 1 if stars >= 1.0 else 2)
