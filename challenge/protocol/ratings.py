"""How often a client scores on a day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from challenge.protocol.plan import PlanDay

RATINGS_PER_DAY: Final = 3
"""What is asked where the settings say nothing: one rating in each part of the day."""


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
