"""The questions of the daily log as data, and what is known before the first of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from challenge.diary.day import diary_day
from challenge.logbook.answers import UnclearError, free_minute, read_time
from challenge.logbook.kinds import STOOL_FORMS

if TYPE_CHECKING:
    from challenge.logbook.entries import Dose
    from challenge.logbook.written import Written
    from challenge.protocol.plan import PlanDay

Taken = set[tuple[dt.datetime, str]]
"""Times with symptom, or with food, at which there is an entry."""

STOOL_TYPES: Final = "; ".join(f"{i} {words}" for i, words in enumerate(STOOL_FORMS, 1)) + "."


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """One question.

    Attributes
    ----------
    text
        The question.
    read
        Makes a value of an answer, or raises `UnclearError`.
    enter
        What an empty answer means, in words.
    before
        Lines to be said before it.
    help
        What ``?`` tells.
    one_key
        A single key is answer enough.
    begun
        What is given up if the conversation stops here; empty between entries.
    """

    text: str
    read: Callable[[str], Any]
    enter: str = ""
    before: tuple[str, ...] = ()
    help: str = ""
    one_key: bool = False
    begun: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Today:
    """What the plan says of the day: lines for the client, and the food if any is to be eaten."""

    lines: tuple[str, ...] = ()
    dose: Dose | None = None


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known before the first question.

    Attributes
    ----------
    date, now
        The day that is written about, and the clock.
    symptoms
        0-10 symptoms scored.
    wanted
        Ratings that the day asks for.
    written
        What is written down of the day.
    today
        Tells what the plan says; asked only once the scores are given.
    plan
        All days of the plan, as it stands on file.
    zone
        Time zone, when it is known.
    one_key
        Keys can be read one by one.
    """

    date: dt.date
    now: dt.datetime
    symptoms: Sequence[str]
    wanted: int
    written: Written
    today: Callable[[], Today]
    plan: Sequence[PlanDay] = ()
    zone: str = ""
    one_key: bool = False

    @property
    def on_the_day(self) -> bool:
        """The clock still stands on the day that is written about."""
        return diary_day(self.now) == self.date


Script = Generator[Question, Any, None]
"""Questions in their order; each is sent the value of its answer."""


def when_question(
    known: Known, names: Sequence[str], taken: Taken, begun: str, *, by_date: bool = False
) -> Question:
    """Ask when it was; two in one minute stay two.

    Parameters
    ----------
    known, names, taken
        What is known, what has happened, which minutes have an entry.
    begun
        What is given up if the conversation stops here.
    by_date
        It counts for its date, as a dose does: after midnight "now" would be another day.
    """
    here = known.on_the_day and not (by_date and known.now.date() != known.date)
    now = known.now if here else None

    def read(text: str) -> dt.datetime:
        if not text.strip():
            if now is None:
                raise UnclearError("Write the time like 08:10.")
            return free_minute(now, names, taken)
        time = read_time(text, known.date, known.now, known.zone)
        if any((time, name) in taken for name in names):
            raise UnclearError(
                f"There is such an entry at {time:%H:%M} already. Choose another minute."
            )
        return time

    return Question(
        text="When",
        enter=f"now, {now:%H:%M}" if now is not None else "",
        read=read,
        help="A time such as 08:10.",
        begun=begun,
    )
