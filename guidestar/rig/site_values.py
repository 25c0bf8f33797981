"""Values of a rig file that are neither numbers nor switches: a name, a time zone, a horizon, lists.

Each function takes the value as read and returns it checked; a `ValueError` carries what would be allowed.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Any

from guidestar.rig.limits import (
    HORIZON_HIGH_DEG,
    HORIZON_LOW_DEG,
    MOST_SPACERS,
    SPACER_HIGH_MM,
    SPACER_LOW_MM,
)

_HORIZON = (
    f"must be one altitude from {HORIZON_LOW_DEG:g} to {HORIZON_HIGH_DEG:g}°, or [[azimuth, altitude], …] "
    "with azimuths from 0 to 360° in ascending order"
)
_LONGEST_NAME = 200
_SPACERS = f"must be a list of at most {MOST_SPACERS} lengths from {SPACER_LOW_MM:g} to {SPACER_HIGH_MM:g} mm"
_ORDER_RULES = 'must be a list of rules such as "pick-off body before filter drawer"'


def one_line(text: Any) -> str:
    """Return a name of one printable line; `ValueError` otherwise."""
    if not isinstance(text, str) or not text.strip() or not text.isprintable() or len(text) > _LONGEST_NAME:
        raise ValueError(f"must be text of one line, 1 to {_LONGEST_NAME} characters")
    return text


def known_time_zone(name: str) -> str:
    """Return a time zone's name if the tz database holds it; `ValueError` otherwise, with the nearest name."""
    from zoneinfo import ZoneInfo, available_timezones  # only a rig with a site pays for it

    try:
        ZoneInfo(name)
    except (OSError, ValueError, KeyError) as error:
        near = _near_zone(name, available_timezones())
        raise ValueError(f"must be a name of the tz database such as Europe/Paris or Etc/UTC{near}") from error
    return name


def _near_zone(name: str, known: Iterable[str]) -> str:
    """Return "; did you mean Europe/Paris?" for the nearest zone, by its whole name or its city; capitals aside."""
    zones = {zone.lower(): zone for zone in sorted(known)}
    cities = {zone.rpartition("/")[2]: name for zone, name in zones.items()}
    wanted = name[:100].lower().replace(" ", "_")
    for names in (zones, cities):
        near = difflib.get_close_matches(wanted, list(names), n=1, cutoff=0.75)
        if near:
            return f"; did you mean {names[near[0]]}?"
    return ""


def plain_horizon(value: Any) -> float | tuple[tuple[float, float], ...]:
    """Return a horizon as one altitude or as (azimuth, altitude) pairs, degrees; `ValueError` otherwise."""
    if _is_number(value) and HORIZON_LOW_DEG <= value <= HORIZON_HIGH_DEG:
        return float(value)
    if not isinstance(value, list | tuple) or not value or not all(_is_pair(item) for item in value):
        raise ValueError(_HORIZON)
    pairs = tuple((float(azimuth), float(altitude)) for azimuth, altitude in value)
    if any(later[0] <= earlier[0] for earlier, later in pairwise(pairs)):
        raise ValueError(_HORIZON)
    return pairs


def plain_spacers(value: Any) -> tuple[float, ...]:
    """Return the lengths of the spacers that a user owns, mm; `ValueError` otherwise."""
    if not isinstance(value, list | tuple) or len(value) > MOST_SPACERS:
        raise ValueError(_SPACERS)
    if not all(_is_number(length) and SPACER_LOW_MM <= length <= SPACER_HIGH_MM for length in value):
        raise ValueError(_SPACERS)
    return tuple(float(length) for length in value)


def plain_order_rules(value: Any) -> tuple[str, ...]:
    """Return rules "A before B" on the order of the train's parts; `ValueError` if one does not read like that."""
    if not isinstance(value, list | tuple) or not all(_is_order_rule(rule) for rule in value):
        raise ValueError(_ORDER_RULES)
    return tuple(value)


def _is_order_rule(rule: Any) -> bool:
    if not isinstance(rule, str) or not rule.isprintable():
        return False
    first, word, second = rule.partition(" before ")
    return bool(first.strip() and word and second.strip())


def _is_pair(item: Any) -> bool:
    if not isinstance(item, Sequence) or len(item) != 2 or not all(_is_number(number) for number in item):
        return False
    azimuth, altitude = item
    return bool(0 <= azimuth <= 360 and HORIZON_LOW_DEG <= altitude <= HORIZON_HIGH_DEG)


def _is_number(value: Any) -> bool:
    """Tell whether this is a number: true and false are not; nan is, but never compares as within a range."""
    return isinstance(value, int | float) and not isinstance(value, bool)
