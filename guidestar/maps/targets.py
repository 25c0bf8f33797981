"""The person's own targets: the same columns as the sky map at these places, and the angle to set there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from guidestar.errors import InputError
from guidestar.field.check import check, target_of
from guidestar.field.result import Setting, Target
from guidestar.maps.result import COLUMNS
from guidestar.maps.sweep import at_places
from guidestar.rig import Rig
from guidestar.sky.place import Place, place
from guidestar.sky.targetlist import read_targets
from guidestar.stars.source import StarSource


@dataclass(frozen=True)
class Wished:
    """A row of a person's list: where it is, or why that is not known. `number` is its line in the file, from 1."""

    number: int
    text: str
    place: Place | None
    error: str | None = None


@dataclass(frozen=True)
class At:
    """The sky map's columns at one place, each None where it has no value.

    `usable_fraction` None: the star source holds nothing there.
    """

    usable_fraction: float | None
    flip_safe_fraction: float | None
    sure_fraction: float | None
    mean_stars: float | None
    longest_blind_deg: float | None
    expected_fraction: float | None


@dataclass(frozen=True)
class TargetHere:
    """One target on the sky map.

    `target` and `at` are None where `error` says why; `best` is the best sure camera angle or, where none is sure, the
    best usable one.
    """

    number: int
    text: str
    target: Target | None = None
    at: At | None = None
    best: Setting | None = None
    error: str | None = None


def wished(path: str | Path) -> tuple[Wished, ...]:
    """Read a list of targets and find them; rows that are none are kept with the reason.

    Raises
    ------
    InputError
        The file cannot be used, or not one of its rows.
    """
    rows = []
    for row in read_targets(path):
        try:
            found = place(row.require_text())
        except InputError as error:
            rows.append(Wished(row.number, row.text, None, str(error)))
        else:
            label = row.label or found.name
            rows.append(Wished(row.number, row.text, Place(label, found.ra_deg, found.dec_deg, found.kind)))
    if not any(row.place for row in rows):
        raise InputError(f'No row of "{path}" is a target. Row {rows[0].number}: {rows[0].error}')
    return tuple(rows)


def targets_at(rows: Sequence[Wished], rig: Rig, source: StarSource, *, epoch_year: float) -> tuple[At | None, ...]:
    """Work out the sky map's columns at each row's place; None for a row that is no target."""
    places = [row.place for row in rows if row.place is not None]
    if not places:
        return (None,) * len(rows)
    sweep = at_places(rig, source, [p.ra_deg for p in places], [p.dec_deg for p in places], epoch_year=epoch_year)
    table = np.stack([getattr(sweep.coverage, name) for name in COLUMNS], axis=1)
    found = (At(*(None if np.isnan(value) else float(value) for value in row)) for row in table)
    return tuple(None if row.place is None else next(found) for row in rows)


def targets_here(rows: Sequence[Wished], rig: Rig, source: StarSource, *, epoch_year: float) -> tuple[TargetHere, ...]:
    """Work out each row's columns and its best camera angle."""
    at = targets_at(rows, rig, source, epoch_year=epoch_year)
    return tuple(_here(row, found, rig, source, epoch_year) for row, found in zip(rows, at, strict=True))


def _here(row: Wished, at: At | None, rig: Rig, source: StarSource, epoch_year: float) -> TargetHere:
    if row.place is None or at is None:
        return TargetHere(row.number, row.text, error=row.error)
    best = None
    if at.usable_fraction:
        result = check(row.place, rig, source, epoch_year=epoch_year)
        best = result.best_sure or result.best
    return TargetHere(row.number, row.text, target_of(row.place), at, best)
