"""`plan_night`: one evening, one rig, one target or a list, as an object."""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, cast

from guidestar.api.arguments import judged
from guidestar.api.common import chosen_stars, frame_of, place_of, rig_of, turn_of, values_of, with_options
from guidestar.errors import InputError
from guidestar.night.clock import parse_evening, this_evening
from guidestar.night.place import site_of
from guidestar.night.plan import Wanted, plan
from guidestar.night.result import BadRow, NightResult
from guidestar.rig import Rig, Site
from guidestar.sky.dates import parse_epoch
from guidestar.sky.place import Place
from guidestar.sky.plane import separation_deg
from guidestar.sky.targetlist import TargetRow
from guidestar.stars.source import StarSource

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

Asked = str | tuple[float, float] | Place

_OVERHEAD = {"guiding.airmass": 1.0}
"""Where the reach is deepest, and the stars have to be complete."""

_SAME_PLACE_DEG = 1.0 / 3600.0
"""Two rows of a list this near to each other are the same target."""


@dataclass(frozen=True)
class NightAnswer(NightResult):
    """A `guidestar.night.result.NightResult` that can show itself."""

    def with_empty_rows(self, numbers: Iterable[int]) -> NightAnswer:
        """Return the answer with rows of its list that hold nothing among those left out."""
        empty = [BadRow(number, "", "This row is empty; it is passed over.") for number in numbers]
        return replace(self, bad_rows=tuple(sorted((*self.bad_rows, *empty), key=lambda row: row.row)))

    def to_json(self) -> dict[str, object]:
        """Return the answer as plain values, in the schema of `night --json`."""
        from guidestar.report.night_json import night_to_json

        return night_to_json(self)

    def to_text(self, *, width: int | None = None, colour: bool = False) -> str:
        """Return the report that the command line prints."""
        from guidestar.report.night_text import render_night

        return render_night(self, width=width, colour=colour)

    def to_csv(self) -> str:
        """Return the targets as a table in CSV, the best of the night first."""
        from guidestar.report.night_csv import night_to_csv

        return night_to_csv(self)

    def to_frame(self) -> pd.DataFrame:
        """Return the targets as a table, the best of the night first (needs pandas)."""
        from guidestar.report.night_csv import HEADINGS, rows

        return frame_of(rows(self), columns=list(HEADINGS))

    def save_csv(self, path: str | os.PathLike[str]) -> Path:
        """Write `to_csv` to a file, whole or not at all."""
        from guidestar.report.night_csv import save_night_csv

        return save_night_csv(self, Path(path))

    def save_figure(self, path: str | os.PathLike[str]) -> Path:
        """Draw the night and write it; the path's suffix chooses the format: png, svg or pdf."""
        from guidestar.report.night_figure import save_night

        return save_night(self, Path(path))

    def save_cards(self, path: str | os.PathLike[str], *, paper: str = "a4") -> tuple[Path, ...]:
        """Write one page a target to take outside, with the numbers of the rig's imaging train if it has one."""
        from guidestar.report.card import save_cards
        from guidestar.train.build import train

        trains = () if self.rig.train is None else (train(self.rig),)
        return save_cards([self], path, trains=trains, paper=paper)

    def plot(self) -> Figure:
        """Draw the night, one strip a target."""
        from guidestar.report.night_figure import plot_night

        return plot_night(self)

    def __str__(self) -> str:
        """Return the report that the command line prints."""
        return self.to_text()


@judged
def plan_night(
    target: Asked | Iterable[Asked | TargetRow],
    rig: Rig | str | os.PathLike[str],
    *,
    date: str | datetime.date | None = None,
    site: str | Site | None = None,
    horizon: str | None = None,
    time_zone: str | None = None,
    least_altitude: float | None = None,
    angle: float | None = None,
    exposure: float | None = None,
    sky: float | None = None,
    min_stars: int | None = None,
    faintest_mag: float | None = None,
    stars: StarSource | str | None = None,
    store: str | os.PathLike[str] | None = None,
    equinox: str = "J2000",
    online_names: bool = False,
) -> NightAnswer:
    """Plan an evening: when a target can be imaged, at which camera angle, on which star, before and after the flip.

    Parameters
    ----------
    target : str, (ra, dec) in degrees, Place, or several of these
        As for `check`; rows of `guidestar.sky.targetlist.read_targets` will do too. Of several, one that cannot be
        used is told in the answer's `bad_rows`.
    rig : Rig or path
        The rig, or its TOML file.
    date : str or datetime.date, optional
        The evening's date by the site's clocks ("2026-11-25"); the night going on or the next by default.
    site : str or Site, optional
        "LATITUDE LONGITUDE [ELEVATION]", degrees and metres, instead of the rig's [site].
    horizon : str, optional
        One altitude or azimuth:altitude pairs ("0:20,90:35,180:15") instead of the site's.
    time_zone : str, optional
        A name of the tz database instead of the site's.
    least_altitude : float, optional
        Degrees, besides the horizon line.
    angle : float, optional
        Plan for this camera angle, as it stands when the target's hours begin, instead of the best.
    exposure, sky, min_stars, faintest_mag, stars, store, equinox, online_names
        As for `check`; `sky` is that at the zenith without a Moon.

    Raises
    ------
    InputError
        A target (of several: every one), the rig, the site, the date or an option cannot be used.
    DataError
        The star catalogue or the name service failed.
    """
    single = isinstance(target, str | tuple | Place)
    listed = cast("list[Asked | TargetRow]", [target] if single else list(cast("Iterable[Asked]", target)))
    rows = [_row(number, asked) for number, asked in enumerate(listed, 1)]
    if not rows:
        raise InputError("The list of targets is empty: give at least one name or pair of coordinates.")
    known = with_options(rig_of(rig), faintest_mag=faintest_mag, min_stars=min_stars, exposure=exposure, sky=sky)
    there = site_of(known, site, horizon, time_zone)
    _require_sensible(least_altitude, angle)
    evening = _evening(date, there)
    year = parse_epoch(evening.isoformat())
    asking = _Asking(known, year, stars, store, equinox, online_names)
    wanted, bad = ([asking.wanted(rows[0], None)], []) if single else asking.all_wanted(rows)
    result = plan(
        wanted,
        known,
        there,
        evening,
        epoch_year=year,
        least_altitude_deg=0.0 if least_altitude is None else least_altitude,
        asked_deg=angle,
    )
    result = replace(result, bad_rows=tuple(bad), is_list=not single)
    return NightAnswer(**values_of(result))


@dataclass(frozen=True)
class _Row:
    """One target as asked for; `error` says why it cannot be used at all."""

    number: int
    asked: Asked
    text: str
    label: str = ""
    error: str | None = None


def _row(number: int, asked: Asked | TargetRow) -> _Row:
    if isinstance(asked, TargetRow):
        return _Row(asked.number, asked.text, asked.text, asked.label, asked.error)
    return _Row(number, asked, asked.name if isinstance(asked, Place) else str(asked))


@dataclass(frozen=True)
class _Asking:
    """How targets are looked up and where their stars come from."""

    rig: Rig
    year: float
    stars: StarSource | str | None
    store: str | os.PathLike[str] | None
    equinox: str
    online_names: bool

    def wanted(self, row: _Row, number: int | None) -> Wanted:
        """Return one target with its stars."""
        if row.error is not None:
            raise InputError(row.error)
        there = place_of(row.asked, self.year, self.equinox, self.online_names)
        if row.label:
            there = replace(there, name=row.label)
        overhead = self.rig if self.rig.guiding.faintest_mag is not None else self.rig.with_values(_OVERHEAD)
        chosen = chosen_stars(self.stars, self.store, there, overhead, any_exposure=False)
        return Wanted(there, chosen.source, number, tuple(chosen.notes))

    def all_wanted(self, rows: Sequence[_Row]) -> tuple[list[Wanted], list[BadRow]]:
        """Return the targets of a list, each once, and the rows that are left out, with reasons."""
        good: list[Wanted] = []
        bad: list[BadRow] = []
        for row in rows:
            try:
                item = self.wanted(row, row.number)
            except InputError as error:
                bad.append(BadRow(row.number, row.text, str(error)))
                continue
            twin = next((other for other in good if _same(other.place, item.place)), None)
            if twin is None:
                good.append(item)
            else:
                reason = f"This is the target of row {twin.row} again ({twin.place.name}); it is planned once."
                bad.append(BadRow(row.number, row.text, reason))
        if not good:
            raise InputError("\n".join(f"Row {row.row}, “{row.text}”: {row.reason}" for row in bad))
        return good, bad


def _same(one: Place, other: Place) -> bool:
    return bool(separation_deg(one.ra_deg, one.dec_deg, other.ra_deg, other.dec_deg) <= _SAME_PLACE_DEG)


def _require_sensible(least_altitude: float | None, angle: float | None) -> None:
    if least_altitude is not None and not 0.0 <= least_altitude < 90.0:
        raise InputError(f"--least-altitude {least_altitude:g}: must be from 0 to less than 90 degrees.")
    if angle is not None:
        turn_of("--angle", angle)


def _evening(date: str | datetime.date | None, site: Site) -> datetime.date:
    if date is None:
        return this_evening(site)
    return parse_evening(date if isinstance(date, str) else date.isoformat()[:10])
