"""Times of day that a change of the clocks leaves out or gives twice, in a client's time zone.

Zones are those of the IANA database, which comes with Python or the package tzdata.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from functools import cache
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

SKIPPED: Final = "time-skipped"
TWICE: Final = "time-twice"


def zone_named(name: str) -> ZoneInfo | None:
    """Return the time zone of an IANA name such as ``Europe/London``, or None."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def zones_like(name: str) -> list[str]:
    """Return names of zones that a mistyped name, or that of a city, may mean; at most three."""
    import difflib

    zones = sorted(zone for zone in available_timezones() if "/" in zone)
    asked = name.strip().replace(" ", "_").casefold()
    cities = [
        zone for zone in zones if zone.rpartition("/")[2].casefold() == asked.rpartition("/")[2]
    ]
    near = {zone.casefold(): zone for zone in zones}
    return (cities or [near[z] for z in difflib.get_close_matches(asked, near, n=3)])[:3]


def clock_changes(stamps: Iterable[str], zone: str) -> dict[str, str]:
    """Return which local times do not exist, or exist twice.

    Parameters
    ----------
    stamps
        Times in the contract's form, ``2026-03-29T01:30``; empty texts are passed over.
    zone
        IANA name of the time zone; an empty or unknown one has no changes.

    Returns
    -------
    dict
        Time -> ``time-skipped`` or ``time-twice``; all other times are not in it.
    """
    if zone in ("", "UTC"):
        return {}
    distinct = set(stamps)
    days: set[str] = set()
    for year in {stamp[:4] for stamp in distinct if stamp}:
        days |= _days_of_change(zone, int(year))
    told = ((stamp, _told(stamp, zone)) for stamp in distinct if stamp[:10] in days)
    return {stamp: code for stamp, code in told if code}


@cache
def _days_of_change(zone: str, year: int) -> frozenset[str]:
    where = zone_named(zone)
    if where is None:
        return frozenset()
    day = dt.datetime(year, 1, 1)
    found = set()
    while day.year == year:
        after = day + dt.timedelta(days=1)
        if day.replace(tzinfo=where).utcoffset() != after.replace(tzinfo=where).utcoffset():
            found.add(day.date().isoformat())
        day = after
    return frozenset(found)


def _told(stamp: str, zone: str) -> str:
    # PEP 495: before a gap the offset of fold 0 is the smaller one, before a repeat the larger
    local = dt.datetime.fromisoformat(stamp).replace(tzinfo=ZoneInfo(zone))
    first, second = local.utcoffset(), local.replace(fold=1).utcoffset()
    if first is None or second is None or first == second:
        return ""
    return TWICE if first > second else SKIPPED
