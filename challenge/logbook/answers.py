"""What a client types, to values; what cannot be read is said in words, never guessed."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Iterable
from typing import Final

from challenge.diary.clocks import UnreadableError, read_clock
from challenge.diary.day import NIGHT_ENDS_H, diary_day
from challenge.terms import SCORE_MAX, SCORE_MIN

_AHEAD: Final = dt.timedelta(minutes=5)  # a clock may be a little off
_MOST: Final = 5000.0
_TEN: Final = "x"


class UnclearError(Exception):
    """An answer that cannot be used; its text says why and what would do."""


def read_score(text: str) -> int | None:
    """Read a score from 0 to 10; ``x`` is 10; nothing means that it is not given."""
    answer = text.strip().lower()
    if answer in {"", "-"}:
        return None
    if answer == _TEN:
        return SCORE_MAX
    if re.fullmatch(r"[0-9]{1,2}", answer) and SCORE_MIN <= int(answer) <= SCORE_MAX:
        return int(answer)
    raise UnclearError("A score is a whole number from 0 to 10 (x is 10).")


def read_stool(text: str) -> int | None:
    """Read a Bristol type from 1 to 7; nothing means none."""
    answer = text.strip().lower()
    if answer in {"", "-", "n", "no"}:
        return None
    if re.fullmatch(r"[1-7]", answer):
        return int(answer)
    raise UnclearError("A type from 1 to 7, or Enter for none. ? lists the types.")


def read_yes(text: str) -> bool:
    """Read yes or no."""
    answer = text.strip().lower()
    if answer in {"y", "yes"}:
        return True
    if answer in {"n", "no"}:
        return False
    raise UnclearError("Please answer y or n.")


def read_amount(text: str) -> float | None:
    """Read an amount in grams or millilitres; nothing means that it is not known."""
    answer = text.strip().lower().removesuffix("ml").removesuffix("g").strip().replace(",", ".")
    if answer in {"", "-"}:
        return None
    if re.fullmatch(r"[0-9]+(\.[0-9]+)?", answer) and 0 < float(answer) <= _MOST:
        return float(answer)
    raise UnclearError("The amount is a number above 0 and up to 5000, such as 150.")


def read_picked(text: str, names: tuple[str, ...]) -> tuple[str, ...]:
    """Read numbers, or names, out of a list."""
    picked = []
    for part in filter(None, re.split(r"[,;]\s*|\s+(?=\d)", text.strip().lower())):
        if part.isascii() and part.isdigit() and 1 <= int(part) <= len(names):
            picked.append(names[int(part) - 1])
        elif part in names:
            picked.append(part)
        elif part not in {"n", "no", "-"}:
            raise UnclearError(f"Numbers from 1 to {len(names)}, or Enter for nothing.")
    return tuple(dict.fromkeys(picked))


def read_time(text: str, date: dt.date, now: dt.datetime, zone: str = "") -> dt.datetime:
    """Read a time of day and find when it was.

    Parameters
    ----------
    text
        Such as ``8:10``, ``08.10``, ``8:10 pm``; or a whole date and time.
    date
        The diary's day: from four in the morning to four in the next.
    now
        The clock.
    zone
        Time zone, when it is known.

    Raises
    ------
    UnclearError
        If it is no time, is still to come, belongs to another day or never was.
    """
    answer = text.strip()
    if answer.lower() == "now":
        answer = f"{now:%H:%M}"
    time = _whole(answer) or _on(answer, date)
    if diary_day(time) != date:
        raise UnclearError(f"{time:%d %B, %H:%M} belongs to another day than {date:%A %d %B}.")
    if time > now + _AHEAD:
        early = time.date() > date
        told = (
            f"Before {NIGHT_ENDS_H:02d}:00 still counts to the day before: use --on yesterday."
            if early
            else "Write it down when it has happened."
        )
        raise UnclearError(f"{time:%H:%M} is still to come: it is {now:%H:%M}. {told}")
    if clock_change(time, zone) == "time-skipped":
        raise UnclearError(
            f"{time:%H:%M} did not exist: the clocks went forward that night. "
            "Give the time after the change."
        )
    return time


def clock_change(time: dt.datetime, zone: str) -> str:
    """Say what a change of the clocks did: ``time-skipped``, ``time-twice`` or nothing."""
    if not zone:
        return ""
    from challenge.diary.clock_changes import clock_changes

    stamp = f"{time:%Y-%m-%dT%H:%M}"
    return clock_changes([stamp], zone).get(stamp, "")


def _whole(answer: str) -> dt.datetime | None:
    if not re.fullmatch(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d", answer):
        return None
    try:
        return dt.datetime.fromisoformat(answer)
    except ValueError:
        raise UnclearError(f"{answer} is no date and time of the calendar.") from None


def _on(answer: str, date: dt.date) -> dt.datetime:
    try:
        hour, minute, _ = read_clock(re.sub(r"(?<=\d)\.(?=\d\d\b)", ":", answer), twelve=False)
    except UnreadableError:
        raise UnclearError("Write the time like 08:10.") from None
    day = date if hour >= NIGHT_ENDS_H else date + dt.timedelta(days=1)
    return dt.datetime.combine(day, dt.time(hour, minute))


def free_minute(
    time: dt.datetime, names: Iterable[str], taken: Collection[tuple[dt.datetime, str]]
) -> dt.datetime:
    """Return the first minute from a time on at which none of these has an entry.

    Two in one minute, or the hour that a clock change repeats, stay two that way.
    """
    wanted = tuple(names)
    while any((time, name) in taken for name in wanted):
        time += dt.timedelta(minutes=1)
    return time
