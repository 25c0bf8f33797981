"""Star counts at a place, as text for a person and as plain values (schema `guidestar.counts/1`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from guidestar.field.result import Target
from guidestar.report import wording as w
from guidestar.report.json_values import COORDINATE_DIGITS, direction, number
from guidestar.report.sheet import new_sheet
from guidestar.stars.counts import PIXEL_DEG2

SCHEMA = "guidestar.counts/1"


@dataclass(frozen=True)
class Count:
    """Stars per square degree brighter than a G magnitude, with the standard error in the same unit.

    `counted`: the exact number in the pixel of sky that holds the place, `PIXEL_DEG2` in size; None where it was not
    fetched.
    """

    g_mag: float
    per_deg2: float
    error: float
    counted: int | None = None


def counts_to_json(target: Target, counts: Sequence[Count], source: str) -> dict[str, Any]:
    """Return the counts, made from `source`, as values for `json.dumps`; densities to four figures or so."""
    return {
        "schema": SCHEMA,
        "target": {
            "name": target.name,
            "ra_deg": direction(target.ra_deg, COORDINATE_DIGITS),
            "dec_deg": number(target.dec_deg, COORDINATE_DIGITS),
            "l_deg": number(target.l_deg, 4),
            "b_deg": number(target.b_deg, 4),
        },
        "band": "G",
        "source": source,
        "estimate": True,
        "counted_deg2": PIXEL_DEG2 if _any_counted(counts) else None,
        "cumulative": [
            {
                "g_mag": number(count.g_mag, 2),
                "per_deg2": number(count.per_deg2, 3),
                "error": number(count.error, 3),
                "relative_error": number(count.error / count.per_deg2, 4),
                "counted": count.counted,
            }
            for count in counts
        ],
    }


def _any_counted(counts: Sequence[Count]) -> bool:
    return any(count.counted is not None for count in counts)


def render_counts(
    target: Target, counts: Sequence[Count], source: str, *, width: int | None = None, colour: bool = False
) -> str:
    """Write the counts as a table with what they mean and are made from."""
    sheet = new_sheet(width, colour)
    sheet.title(f"Stars to expect around {target.name}")
    where = f"RA {w.right_ascension(target.ra_deg)}, Dec {w.declination(target.dec_deg)}"
    sheet.prose([f"{where} (ICRS), {w.galactic_place(target.b_deg)}."])
    sheet.gap()
    shown = 5 if _any_counted(counts) else 4
    rows = [_row(count)[:shown] for count in counts]
    headings = ("brighter than", "stars in a square degree", "error", "one star in", "counted")[:shown]
    if not sheet.table(headings, rows, frozenset({0})):
        lines = (f"{g}: {stars} per square degree ({error})" for g, stars, error, *_ in rows)
        sheet.prose("; ".join(lines).split("\n"))
    sheet.gap()
    sheet.prose(_meaning(counts, source))
    return sheet.finished()


def _meaning(counts: Sequence[Count], source: str) -> list[str]:
    found = [
        "An estimate from star counts, not a list of stars: it follows the sky over about two degrees, so it knows the "
        "Milky Way and its large dark clouds, but no single cluster and no small dark cloud. The error is one standard "
        "error; the number of stars in a small field varies by chance besides.",
        "“One star in” is the patch of sky that holds one such star on average.",
    ]
    if _any_counted(counts):
        found.append(
            f"“Counted” is the exact number of stars in the {PIXEL_DEG2:.2f} square degrees of sky that hold the "
            f"place. Made from: {source}."
        )
    return found


def _row(count: Count) -> tuple[str, str, str, str, str]:
    percent = f"± {w.percent(count.error / count.per_deg2)}"
    side_arcmin = 60.0 / count.per_deg2**0.5
    side = w.plain(side_arcmin, 1 if side_arcmin < 10.0 else 0)
    counted = "–" if count.counted is None else f"{count.counted:,}"
    return f"G{w.NBSP}{count.g_mag:g}", _density(count.per_deg2), percent, f"{side}′{w.NBSP}×{w.NBSP}{side}′", counted


def _density(per_deg2: float) -> str:
    return f"{per_deg2:,.0f}" if per_deg2 >= 100.0 else f"{per_deg2:.1f}"
