"""Times of one column as typed to stamps of the contract, with the code of what is wrong."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from challenge.diary import clocks, dates


class StampReader:
    """Reads times under one decision about the order of day and month.

    Every method gives the text read and a code: an empty text with the code of the error, or a
    text with the code of a doubt, or a text and no code.

    Parameters
    ----------
    parts
        Every time of the column as day and clock.
    decision
        The order decided on.

    Attributes
    ----------
    pointed
        Times with a point that were read as hours and minutes, as typed -> as read.
    """

    def __init__(self, parts: Sequence[tuple[str, str]], decision: dates.Order) -> None:
        # a large file has many times and few days and clocks
        self.read_day = cache(self._day)
        self.read_clock = cache(self._clock)
        self.known_days: dict[str, str] = {}
        self.known_clocks: dict[str, str] = {}
        written = {clock for _, clock in parts}
        self.twelve = any(map(clocks.has_half_day, written))
        self.point = clocks.point_means(written)
        self.pointed: dict[str, str] = {}
        self.order = decision.order
        self.undecided = decision.code

    def read(self, text: str, parts: tuple[str, str]) -> tuple[str, str]:
        """Read a time given as a whole and as day and clock."""
        day, clock = parts
        if day in self.known_days and clock in self.known_clocks:
            return f"{self.known_days[day]}T{self.known_clocks[clock]}", ""
        if dates.is_serial(text):
            return self._serial(text)
        if dates.zone_of(text):
            return "", "time-with-zone"
        if clocks.is_fraction(clock):
            # no spreadsheet writes a date with a fraction behind it
            return "", "time-unreadable"
        value, code = self.read_parts(day, clock)
        if value and not code:
            self.known_days[day], _, self.known_clocks[clock] = value.partition("T")
        return value, code

    def _serial(self, text: str) -> tuple[str, str]:
        try:
            moment = dates.read_serial(text)
        except clocks.UnreadableError as error:
            return "", error.code
        if moment.time() == moment.min.time() and not ("." in text or "," in text):
            return "", "time-missing"
        clock = (moment.hour, moment.minute, moment.second)
        return dates.stamp(moment.date(), clock), "date-serial"

    def _day(self, text: str) -> tuple[str, str]:
        try:
            if dates.is_serial(text):
                return dates.read_serial(text).date().isoformat(), "date-serial"
            return dates.read_date(text, self.order).isoformat(), ""
        except clocks.UnreadableError as error:
            undecided = error.code == "date-order-unknown" and self.undecided
            return "", self.undecided if undecided else error.code

    def read_parts(self, day: str, clock: str) -> tuple[str, str]:
        """Read a time given as day and clock alone."""
        if not day:
            return "", "date-missing"
        date, code = self.read_day(day)
        if not date:
            return "", code
        if not clock:
            return "", "time-missing"
        time, doubt = self.read_clock(clock)
        if not time:
            return "", doubt
        return f"{date}T{time}", doubt or code

    def _clock(self, text: str) -> tuple[str, str]:
        if dates.zone_of(text):
            return "", "time-with-zone"
        pointed = clocks.has_point(text)
        if pointed and self.point == "unclear":
            return "", "time-point-unclear"
        try:
            if clocks.is_fraction(text):
                return _time_text(*clocks.read_fraction(text)), "date-serial"
            typed = text.replace(".", ":") if pointed else text
            time = _time_text(*clocks.read_clock(typed, twelve=self.twelve))
        except clocks.UnreadableError as error:
            return "", error.code
        if pointed:
            self.pointed[text] = time
        return time, ""


def _time_text(hour: int, minute: int, second: int) -> str:
    time = f"{hour:02d}:{minute:02d}"
    return f"{time}:{second:02d}" if second else time
