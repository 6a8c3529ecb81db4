"""Times of day as people and spreadsheets write them: a closed list, never a guess."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

_HALF: Final = r"(?P<half>[aApP])\.?\s?[mM]\.?"
_UHR: Final = "(?:[uU]hr|UHR)"
_FORMS: Final = (
    # 8:05, 08:05:00, 8:05 PM, 20h05, 20:05 Uhr, 20:05 h
    re.compile(
        r"(?P<hour>\d{1,2})(?::| ?[hH] ?)(?P<minute>\d{2})"
        r"(?::(?P<second>\d{2})(?:[.,](?P<part>\d{1,6}))?)?"
        rf"(?:\s*{_HALF}|\s*{_UHR}|\s*[hH])?"
    ),
    # 9 pm, 9.15 pm, 21 Uhr, 21.15 Uhr
    re.compile(rf"(?P<hour>\d{{1,2}})(?:\.(?P<minute>\d{{2}}))?\s*(?:{_HALF}|{_UHR})"),
    # 21h
    re.compile(r"(?P<hour>\d{1,2}) ?[hH]"),
)
_POINTED: Final = re.compile(r"(\d{1,2})\.(\d{2})")
_WITH_POINT: Final = re.compile(r"\d{0,2}\.\d+")
_FRACTION: Final = re.compile(r"0?[.,]\d+|0|1(?:[.,]0+)?")


class UnreadableError(Exception):
    """A cell that is no date or time; carries the problem's code."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


def is_clock(text: str) -> bool:
    """Say whether a text looks like a time of day and like nothing else."""
    return _match(text) is not None


def _match(text: str) -> re.Match[str] | None:
    return next(filter(None, (form.fullmatch(text) for form in _FORMS)), None)


def read_clock(text: str, *, twelve: bool) -> tuple[int, int, int]:
    """Read a time of day as hour, minute, second.

    Parameters
    ----------
    text
        For example ``8:05``, ``08:05:00``, ``8:05 PM``, ``9pm``, ``20h05``.
    twelve
        Other times of the file carry AM or PM; then every hour from 1 to 12 must.

    Raises
    ------
    UnreadableError
        ``time-unreadable``, ``time-impossible`` (13:05 PM, 25:00), ``time-half-day-missing``,
        ``time-noon-or-midnight`` (12 am without minutes, which people use for either).
    """
    match = _match(text)
    if match is None:
        raise UnreadableError("time-unreadable")
    parts = match.groupdict()
    hour, minute = int(parts["hour"]), int(parts.get("minute") or 0)
    second, part, half = int(parts.get("second") or 0), parts.get("part"), parts.get("half")
    if part and int(part.ljust(6, "0")) >= 500_000 and second < 59:
        second += 1
    if half:
        if not 1 <= hour <= 12:
            raise UnreadableError("time-impossible")
        if hour == 12 and not parts.get("minute"):
            raise UnreadableError("time-noon-or-midnight")
        hour = hour % 12 + (12 if half in "pP" else 0)
    elif twelve and 1 <= hour <= 12:
        raise UnreadableError("time-half-day-missing")
    if hour > 23 or minute > 59 or second > 59:
        raise UnreadableError("time-impossible")
    return hour, minute, second


def has_half_day(text: str) -> bool:
    """Say whether a time carries AM or PM."""
    match = _match(text)
    return match is not None and bool(match.groupdict().get("half"))


def is_fraction(text: str) -> bool:
    """Say whether a cell is a spreadsheet's fraction of a day rather than a time."""
    return _FRACTION.fullmatch(text) is not None


def read_fraction(text: str) -> tuple[int, int, int]:
    """Read a spreadsheet's fraction of a day as hour, minute, second."""
    seconds = round(float(text.replace(",", ".")) * 86_400)
    if seconds >= 86_400:
        raise UnreadableError("time-impossible")
    return seconds // 3600, seconds // 60 % 60, seconds % 60


# -- times with a point ---------------------------------------------------------------------------


def has_point(text: str) -> bool:
    """Say whether a cell is digits with a point: hours and minutes, or a number."""
    return _WITH_POINT.fullmatch(text) is not None


def point_means(texts: Iterable[str]) -> str:
    """Say what a point stands for among the times of one column.

    ``12.45`` is a quarter to one where all of the column can be meant so. Beside ``9.5``, ``12.75``
    or a spreadsheet's ``0.375`` it may be hours with decimals, or a text that lost a zero; and
    ``0.25`` is 00:25 or a quarter of a day, unless others show that the column holds fractions.

    Returns
    -------
    str
        ``minutes``, ``fraction`` of a day, or ``unclear``; empty where nothing has a point.
    """
    meanings = {_meaning(text) for text in texts if has_point(text)}
    if not meanings:
        return ""
    if meanings == {"minutes"}:
        return "minutes"
    return "fraction" if meanings in ({"fraction"}, {"fraction", "open"}) else "unclear"


def _meaning(text: str) -> str:
    match = _POINTED.fullmatch(text)
    minutes = match is not None and int(match[2]) <= 59
    if is_fraction(text):
        return "open" if minutes else "fraction"
    return "minutes" if minutes else "unclear"
