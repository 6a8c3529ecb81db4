"""The day of a diary: where it begins and ends, and its parts. The only place for these limits.

Morning, midday and evening are the slots by which scores are matched; the limits are common
practice, no source.
"""

from __future__ import annotations

import datetime as dt
from typing import Final, Literal

Part = Literal["morning", "midday", "evening"]

PARTS_OF_DAY: Final[tuple[Part, ...]] = ("morning", "midday", "evening")

PARTS_START_H: Final = (11.0, 16.5)
"""Midday begins at 11:00, evening at 16:30 [h]."""

NIGHT_ENDS_H: Final = 4
"""What is written before 04:00 closes the day before [h]."""

_NIGHT: Final = dt.timedelta(hours=NIGHT_ENDS_H)


def diary_day(time: dt.datetime) -> dt.date:
    """Return the day to which an entry belongs."""
    return (time - _NIGHT).date()


def part_of_day(time: dt.datetime) -> Part:
    """Return the part of its day in which a time lies."""
    hour = time.hour + time.minute / 60
    if hour < NIGHT_ENDS_H or hour >= PARTS_START_H[1]:
        return "evening"
    return "morning" if hour < PARTS_START_H[0] else "midday"
