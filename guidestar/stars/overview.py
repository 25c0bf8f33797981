"""What star data there is: the built-in catalogue and what the local store covers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime

from guidestar.sky import regions
from guidestar.stars import counted
from guidestar.stars.store import Coverage, Store
from guidestar.stars.store_files import read_entries
from guidestar.stars.tycho2 import COMPLETE_TO_G_MAG, LIMIT_G_MAG


@dataclass(frozen=True)
class Part:
    """Stars, or counts, of one depth, origin and date in the store: area in square degrees and share of the sky."""

    faintest_mag: float
    area_deg2: float
    sky_fraction: float
    release: str
    origin: str
    date: str
    moc: str


@dataclass(frozen=True)
class Overview:
    """The star data at hand; `parts` is empty where there are no fetched stars, `counts` where no fetched counts."""

    path: str
    stars: int
    size_bytes: int
    parts: tuple[Part, ...]
    notes: tuple[str, ...]
    counts: tuple[Part, ...] = ()
    builtin_name: str = "Tycho-2"
    builtin_band: str = "G"
    builtin_to_mag: float = COMPLETE_TO_G_MAG
    builtin_limit_mag: float = LIMIT_G_MAG

    def to_dict(self) -> dict[str, object]:
        """Return it as plain values, in the schema guidestar.stars-list/1."""
        return {"schema": "guidestar.stars-list/1"} | asdict(self)


def overview(store: Store) -> Overview:
    """Return what star data there is.

    Raises
    ------
    DataError
        The store's description is damaged, or of a newer format.
    """
    store.require_readable()
    entries = read_entries(store)
    parts = _parts([item for entry in entries.values() for item in entry.coverage])
    table = counted.read_counts(store)
    counts = () if table is None else _parts(table.parts)
    today = datetime.now(UTC).date().isoformat()
    late = dict.fromkeys(part.date for part in (*parts, *counts) if part.date > today)
    notes = tuple(f"{date} has not come yet: this computer's clock is wrong, or was." for date in late)
    size = sum(store.file_of(pixel).stat().st_size for pixel in entries if store.file_of(pixel).exists())
    return Overview(str(store.path), sum(entry.rows for entry in entries.values()), size, parts, notes, counts)


def _parts(items: Sequence[Coverage]) -> tuple[Part, ...]:
    kinds = sorted({item.kind for item in items})
    return tuple(_part([item for item in items if item.kind == kind]) for kind in kinds)


def _part(items: list[Coverage]) -> Part:
    region = regions.union(*(item.region for item in items))
    depth, release, origin, date = items[0].kind
    area = regions.area_deg2(region)
    return Part(depth, area, area / regions.SKY_DEG2, release, origin, date, regions.to_text(region))
