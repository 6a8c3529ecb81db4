"""The only place that reads the clock."""

from __future__ import annotations

import datetime as dt
import os

from challenge.errors import ChallengeError


def now() -> dt.datetime:
    """Return the local wall-clock time to the minute, without a zone.

    ``CHALLENGE_NOW`` (ISO 8601) replaces it, for demonstrations and tests.

    Raises
    ------
    ChallengeError
        If ``CHALLENGE_NOW`` is set to something that is no time.
    """
    fixed = os.environ.get("CHALLENGE_NOW")
    if fixed:
        try:
            return dt.datetime.fromisoformat(fixed)
        except ValueError as error:
            raise ChallengeError(
                f"CHALLENGE_NOW is {fixed!r}; write it like 2026-03-01T08:30 or unset it."
            ) from error
    return dt.datetime.now().replace(second=0, microsecond=0)


def today() -> dt.date:
    """Return today's date, by the same clock."""
    return now().date()
