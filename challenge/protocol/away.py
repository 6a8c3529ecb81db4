"""A client who comes back after a long time without an entry."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

from challenge.protocol.progress import Progress, reason_of
from challenge.protocol.record import Record

if TYPE_CHECKING:
    from challenge.protocol.settings import ProtocolSettings

_DAY: Final = dt.timedelta(days=1)
_LONG_AWAY_DAYS: Final = 14
"""So long without an entry, and days without a dose come first (own inference, no source)."""


def days_to_look(
    record: Record, first: dt.date, standing: Progress, protocol: ProtocolSettings
) -> int:
    """Days without a dose that come first after a long time of which nothing is known.

    Days of months ago do not tell how the client is now.

    Parameters
    ----------
    record
        The diary so far.
    first
        First day that may change.
    """
    away, quiet = days_away(record, first, standing, protocol)
    return max(protocol.baseline_days - quiet, 0) if away >= _LONG_AWAY_DAYS else 0


def days_away(
    record: Record, first: dt.date, standing: Progress, protocol: ProtocolSettings
) -> tuple[int, int]:
    """Latest days in a row without any entry, and days scored since, none with a dose.

    Closed dates and days of illness do not count, and do not end the row either.
    """
    held = (*protocol.closed, *standing.held)
    begun = min((*record.scores, *record.eaten), default=first)
    quiet = away = 0
    date = first - _DAY
    while date >= begun:
        if any(record.eaten.get(date, {}).values()) or (record.scores.get(date) and away):
            break
        if record.scores.get(date):
            quiet += 1
        elif reason_of(date, held) is None:
            away += 1
        date -= _DAY
    return away, quiet
