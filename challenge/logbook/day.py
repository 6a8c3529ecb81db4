"""The day as a client writes it: to which day an entry belongs, which part, how many ratings."""

from __future__ import annotations

import datetime as dt
from typing import Final, Literal

from challenge.protocol.plan import PlanDay

Part = Literal["morning", "midday", "evening"]

PARTS: Final[tuple[Part, ...]] = ("morning", "midday", "evening")
PARTS_START_H: Final = (11.0, 16.5)
"""Midday begins at 11:00, evening at 16:30: the slots by which the analysis compares scores."""
NIGHT_ENDS_H: Final = 4
"""What is written before 04:00 closes the day before, as in the analysis."""


def diary_day(time: dt.datetime) -> dt.date:
    """Return the day to which an entry belongs."""
    return (time - dt.timedelta(hours=NIGHT_ENDS_H)).date()


def part_of_day(time: dt.datetime) -> Part:
    """Return the part of the day in which a score was given."""
    hour = time.hour + time.minute / 60
    if hour < NIGHT_ENDS_H or hour >= PARTS_START_H[1]:
        return "evening"
    return "morning" if hour < PARTS_START_H[0] else "midday"


def ratings_wanted(day: PlanDay | None, usual: int, challenge: int | None) -> int:
    """Return how many ratings a day of the plan asks for.

    Parameters
    ----------
    day
        The day of the plan, None outside it.
    usual, challenge
        Ratings on ordinary days and on challenge days (None: as on ordinary days).
    """
    if day is not None and day.phase == "challenge" and challenge is not None:
        return challenge
    return usual
