"""A client who comes back long after the plan has ended."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from challenge.protocol.plan import PlanDay
from challenge.protocol.progress import Progress, reason_of

if TYPE_CHECKING:
    from challenge.protocol.settings import ProtocolSettings

_LONG_AWAY_DAYS: Final = 14
"""So long without a plan, and days without a dose come first (own inference, no source)."""


def days_to_look(before: Sequence[PlanDay], standing: Progress, protocol: ProtocolSettings) -> int:
    """Days without a dose that come first after a long time in which nothing was planned.

    Days of months ago do not tell how the client is now.
    """
    away, quiet = days_away(before, standing, protocol)
    return max(protocol.baseline_days - quiet, 0) if away >= _LONG_AWAY_DAYS else 0


def days_away(
    before: Sequence[PlanDay], standing: Progress, protocol: ProtocolSettings
) -> tuple[int, int]:
    """Latest days in a row for which nothing was planned, and washout days since.

    Closed dates and days of illness do not count, and do not end the row either.
    """
    held = (*protocol.closed, *standing.held)
    quiet = away = 0
    for day in reversed(before):
        if day.phase == "rest":
            away += reason_of(day.date, held) is None
        elif day.phase == "washout" and not away:
            quiet += 1
        else:
            break
    return away, quiet
