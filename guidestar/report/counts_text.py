"""Star counts at a place, as text for a person and as plain values (schema `guidestar.counts/1`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from guidestar.field.result import Target
from guidestar.report import wording as w
from guidestar.report.json_output import number
from guidestar.report.sheet import new_sheet

SCHEMA = "guidestar.counts/1"
SOURCE = "model fitted to Gaia DR3 counts and Tycho-2"


@dataclass(frozen=True)
class Count:
    """Stars per square degree brighter than a G magnitude, with the model's standard error in the same unit."""

    g_mag: float
    per_deg2: float
    error: float


def counts_to_json(target: Target, counts: Sequence[Count]) -> dict[str, Any]:
    """Return the counts as values for `json.dumps`; densities to four figures or so."""
    return {
        "schema": SCHEMA,
        "target": {
            "name": target.name,
            "ra_deg": number(target.ra_deg, 7),
            "dec_deg": number(target.dec_deg, 7),
            "l_deg": number(target.l_deg, 4),
            "b_deg": number(target.b_deg, 4),
        },
        "band": "G",
        "source": SOURCE,
        "estimate": True,
        "cumulative": [
            {
                "g_mag": number(count.g_mag, 2),
                "per_deg2": number(count.per_deg2, 3),
                "error": number(count.error, 3),
                "relative_error": number(count.error / count.per_deg2, 4),
            }
            for count in counts
        ],
    }


def render_counts(target: Target, counts: Sequence[Count], *, width: int | None = None, colour: bool = False) -> str:
    """Write the counts as a table with what they mean."""
    sheet = new_sheet(width, colour)
    sheet.title(f"Stars to expect around {target.name}")
    where = f"RA {w.right_ascension(target.ra_deg)}, Dec {w.declination(target.dec_deg)}"
    sheet.prose([f"{where} (J2000), {w.galactic_place(target.b_deg)}."])
    sheet.gap()
    rows = [_row(count) for count in counts]
    headings = ("brighter than", "stars in a square degree", "error", "one star in")
    if not sheet.table(headings, rows, frozenset({0})):
        sheet.prose("; ".join(f"{g}: {stars} per square degree ({error})" for g, stars, error, _ in rows).split("\n"))
    sheet.gap()
    sheet.prose(
        [
            "An estimate from star counts, not a list of stars: it follows the sky over about two degrees, so it knows "
            "the Milky Way and its large dark clouds, but no single cluster and no small dark cloud. The error is one "
            "standard error of the model; the number of stars in a small field varies by chance besides.",
            "“One star in” is the patch of sky that holds one such star on average.",
        ]
    )
    return sheet.finished()


def _row(count: Count) -> tuple[str, str, str, str]:
    percent = f"± {w.percent(count.error / count.per_deg2)}"
    side_arcmin = 60.0 / count.per_deg2**0.5
    side = w.plain(side_arcmin, 1 if side_arcmin < 10.0 else 0)
    return f"G{w.NBSP}{count.g_mag:g}", _density(count.per_deg2), percent, f"{side}′{w.NBSP}×{w.NBSP}{side}′"


def _density(per_deg2: float) -> str:
    return f"{per_deg2:,.0f}" if per_deg2 >= 100.0 else f"{per_deg2:.1f}"
