"""Dates as people and spreadsheets write them: a closed list, never a guess.

Whether day or month comes first is decided once for a whole file, by values that can be read in
one way only; where both readings fit every value the person is asked.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Final

from challenge.diary.clocks import UnreadableError, is_clock
from challenge.diary.headers import plain
from challenge.diary.options import DateOrder

# English, German, French, Spanish, Polish; three letters or more stand for the whole where they
# are listed
_MONTHS: Final = (
    "jan january januar janvier janv enero ene styczen stycznia sty jaenner",
    "feb february februar fevrier fevr fev febrero luty lutego lut",
    "mar march maerz mrz mars marzo marzec marca",
    "apr april avril avr abril abr kwiecien kwietnia kwi",
    "may mai mayo maj maja",
    "jun june juni juin junio czerwiec czerwca cze",
    "jul july juli juillet juil julio lipiec lipca lip",
    "aug august aout agosto ago sierpien sierpnia sie",
    "sep sept september septembre septiembre setiembre wrzesien wrzesnia wrz",
    "oct october oktober okt octobre octubre pazdziernik pazdziernika paz",
    "nov november novembre noviembre listopad listopada lis",
    "dec december dezember dez decembre diciembre dic grudzien grudnia gru",
)
_WEEKDAYS: Final = (
    "mon monday mo montag lun lundi lunes pon poniedzialek pn",
    "tue tues tuesday di dienstag mar mardi martes wt wto wtorek",
    "wed wednesday mi mittwoch mer mercredi mie miercoles sr sro sroda",
    "thu thur thurs thursday do donnerstag jeu jeudi jue jueves czw czwartek",
    "fri friday fr freitag ven vendredi vie viernes pt pia piatek",
    "sat saturday sa samstag sonnabend sam samedi sab sabado so sobota sob",
    "sun sunday so sonntag dim dimanche dom domingo nd nie niedz niedziela",
)
_YEAR_FIRST: Final = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})")
_COMPACT: Final = re.compile(r"((?:19|20)\d\d)(\d\d)(\d\d)")
_TRIPLE: Final = re.compile(r"(\d{1,2})\s*([-/.])\s*(\d{1,2})\s*\2\s*(\d{4}|\d{2})")
_NAMED: Final = re.compile(
    r"(?:(\d{1,2})(?:st|nd|rd|th|er|\.)?[ \-/.]+(?:de |of )?([^\W\d_]{3,12})\.?,?"
    r"[ \-/]+(?:de |del )?(\d{4}|\d{2}))"
    r"|(?:([^\W\d_]{3,12})\.?[ \-](\d{1,2})(?:st|nd|rd|th)?,?[ \-](\d{4}))"
)
_WEEKDAY: Final = re.compile(r"([^\W\d_]{2,12})\.?,?\s+(?=\S)")
_ZONE: Final = re.compile(
    r":\d{2}(?:[.,]\d+)?(?:\s*[aApP]\.?\s?[mM]\.?)?\s*"
    r"(Z|[+-]\d{2}:?\d{2}|(?:GMT|UTC)(?:[+-]\d{1,2}(?::?\d{2})?)?)$"
)
_SPLIT: Final = re.compile(
    r"(?:[tT]|,?\s+(?:um |at |à |a las |o )?)"
    r"(?=\d{1,2}(?:[:hH]| ?h|(?:\.\d+)?\s*(?:[aApP]\.?\s?[mM]\.?|[uU]hr|UHR)$|\.\d+$))"
)
_SERIAL: Final = re.compile(r"\d{5}(?:[.,]\d+)?")
_CANONICAL: Final = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d)?")
_EPOCH: Final = dt.datetime(1899, 12, 30)
_FIRST_YEAR: Final = 2000
_LAST_YEAR: Final = 2079


@dataclass(frozen=True, kw_only=True, slots=True)
class Order:
    """What was decided about a file's dates.

    Attributes
    ----------
    order
        Order of the numbers; None where no value needs one or where it cannot be told.
    code
        Problem with the decision: ``date-order-unknown``, ``date-order-mixed`` or ``date-dotted``
        (day first was taken because dots stand between).
    first, second
        Values that show it.
    """

    order: DateOrder | None
    code: str = ""
    first: str = ""
    second: str = ""


def split_stamp(text: str) -> tuple[str, str]:
    """Split a date with a time of day into the two; either may be empty."""
    match = _SPLIT.search(text)
    # the end of 13. 03.26 looks like a time with a point
    if match and _TRIPLE.fullmatch(_without_weekday(text)[0]) is None:
        return text[: match.start()].strip(), text[match.end() :].strip()
    if is_clock(text):
        return "", text
    return text.strip(), ""


def decide_order(dates: Iterable[str], told: DateOrder | None) -> Order:
    """Decide once for a file whether day or month comes first.

    Parameters
    ----------
    dates
        Distinct texts of dates, without the time of day.
    told
        What the person said; then only that is used.
    """
    if told is not None:
        return Order(order=told)
    evidence: dict[DateOrder, str] = {}
    open_value = open_dotted = ""
    dotted = True
    for text in sorted(set(dates)):
        match = _TRIPLE.fullmatch(_without_weekday(text)[0])
        if match is None:
            continue
        fits = [order for order in _orders(match) if _in_order(match, order) is not None]
        if len(fits) == 1:
            evidence.setdefault(fits[0], text)
        elif fits and not _same_either_way(match, fits):
            open_value = open_value or text
            dotted = dotted and match[2] == "."
            if match[2] == ".":
                open_dotted = open_dotted or text
    if set(evidence) == {"month-first"} and open_dotted and "." not in evidence["month-first"]:
        # a spreadsheet that writes dots has the day first, and 3/13/2026 was text to it
        first = evidence["month-first"]
        return Order(order=None, code="date-order-mixed", first=first, second=open_dotted)
    if len(evidence) > 1:
        shown = list(evidence.values())
        return Order(order=None, code="date-order-mixed", first=shown[0], second=shown[1])
    if evidence:
        return Order(order=next(iter(evidence)))
    if not open_value:
        return Order(order="day-first")
    if dotted:
        return Order(order="day-first", code="date-dotted", first=open_value)
    return Order(order=None, code="date-order-unknown", first=open_value)


def exchanged(dated: Iterable[str], texts: Iterable[str], order: DateOrder | None) -> str:
    """Return values which show that a spreadsheet exchanged day and month of some dates.

    A spreadsheet set to the other order takes ``04/03/2026`` for a date of the wrong month and
    leaves ``13/03/2026`` as text, because there is no month 13. Then every true date has a day up
    to 12, and a text has a day after 12. Return the empty text where nothing points to that.

    Parameters
    ----------
    dated
        True dates of a workbook's column, in ISO form.
    texts
        Dates of the same column that are text.
    order
        Order decided for these.
    """
    days = sorted({text[:10] for text in dated})
    if order is None or not days or any(int(day[8:10]) > 12 for day in days):
        return ""
    if all(day[5:7] == day[8:10] for day in days):
        return ""
    for text in sorted(set(texts)):
        match = _TRIPLE.fullmatch(_without_weekday(text)[0])
        date = _in_order(match, order) if match else None
        if date is not None and date.day > 12:
            return f"{text} and {days[0]}"
    return ""


def _orders(match: re.Match[str]) -> tuple[DateOrder, ...]:
    if match[2] == "-" and len(match[4]) == 2:
        return ("day-first", "month-first", "year-first")
    return ("day-first", "month-first")


def _same_either_way(match: re.Match[str], fits: list[DateOrder]) -> bool:
    return len({_in_order(match, order) for order in fits}) == 1


def _in_order(match: re.Match[str], order: DateOrder) -> dt.date | None:
    first, second, last = int(match[1]), int(match[3]), match[4]
    year = int(last) if len(last) == 4 else 2000 + int(last)
    if order == "day-first":
        return _date(year, second, first)
    if order == "month-first":
        return _date(year, first, second)
    if len(last) == 4 or first < 20:
        return None
    return _date(2000 + first, second, int(last))


def _date(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def read_date(text: str, order: DateOrder | None) -> dt.date:
    """Read one date.

    Raises
    ------
    UnreadableError
        ``date-unreadable``, ``date-impossible`` (31 April), ``date-order-unknown``,
        ``date-implausible`` (year outside 2000-2079), ``weekday-differs``.
    """
    rest, weekday = _without_weekday(text)
    date = _parse_date(rest, order)
    if not _FIRST_YEAR <= date.year <= _LAST_YEAR:
        raise UnreadableError("date-implausible")
    if weekday and date.weekday() not in weekday:
        raise UnreadableError("weekday-differs")
    return date


def _parse_date(text: str, order: DateOrder | None) -> dt.date:
    date: dt.date | None
    if match := _YEAR_FIRST.fullmatch(text):
        date = _date(int(match[1]), int(match[3]), int(match[4]))
    elif match := _COMPACT.fullmatch(text):
        date = _date(int(match[1]), int(match[2]), int(match[3]))
    elif match := _TRIPLE.fullmatch(text):
        if order is None:
            raise UnreadableError("date-order-unknown")
        date = _in_order(match, order)
    elif match := _NAMED.fullmatch(text):
        day, name, year = match[1] or match[5], match[2] or match[4], match[3] or match[6]
        month = _months().get(plain(name))
        if month is None:
            raise UnreadableError("date-unreadable")
        date = _date(int(year) if len(year) == 4 else 2000 + int(year), month, int(day))
    else:
        raise UnreadableError("date-unreadable")
    if date is None:
        raise UnreadableError("date-impossible")
    return date


def _without_weekday(text: str) -> tuple[str, frozenset[int]]:
    """Take a leading day of the week off; return what remains and which days the word can mean."""
    match = _WEEKDAY.match(text)
    if match is None or _NAMED.fullmatch(text):
        return text, frozenset()
    days = _weekdays().get(plain(match[1]))
    return (text[match.end() :], days) if days else (text, frozenset())


def is_serial(text: str) -> bool:
    """Say whether a cell is a spreadsheet's day number rather than a date."""
    return _SERIAL.fullmatch(text) is not None


def read_serial(text: str) -> dt.datetime:
    """Read a spreadsheet's day number, day 1 being 1900-01-01, to the nearest second.

    The origin 1899-12-30 makes up for the leap day of 1900 that spreadsheets count.

    Raises
    ------
    UnreadableError
        ``date-implausible`` outside 2000-2079.
    """
    moment = _EPOCH + dt.timedelta(days=float(text.replace(",", ".")))
    moment = (moment + dt.timedelta(microseconds=500_000)).replace(microsecond=0)
    if not _FIRST_YEAR <= moment.year <= _LAST_YEAR:
        raise UnreadableError("date-implausible")
    return moment


def stamp(date: dt.date, clock: tuple[int, int, int]) -> str:
    """Return the text form of the contract; seconds only where there are any."""
    hour, minute, second = clock
    text = f"{date.isoformat()}T{hour:02d}:{minute:02d}"
    return f"{text}:{second:02d}" if second else text


def zone_of(text: str) -> str:
    """Return the zone that a time of day ends with (``Z``, ``+01:00``, ``GMT+1``), or nothing."""
    match = _ZONE.search(text)
    return match[1] if match else ""


@cache
def is_canonical_day(day: str) -> bool:
    """Say whether ten letters are a day of the calendar in ISO form."""
    try:
        return _FIRST_YEAR <= dt.date.fromisoformat(day).year <= _LAST_YEAR and day[4] == "-"
    except (ValueError, IndexError):
        return False


def canonical(text: str) -> str | None:
    """Return the text of a stamp that is in the contract's own form, else None."""
    if _CANONICAL.fullmatch(text) is None or not text.isascii():
        return None
    clock = text[11:].removesuffix(":00") if len(text) > 16 else text[11:]
    if clock[:2] > "23" or clock[3:5] > "59" or clock[6:] > "59":
        return None
    if not is_canonical_day(text[:10]):
        return None
    return f"{text[:10]}T{clock}"


@cache
def _months() -> dict[str, int]:
    return {word: number for number, words in enumerate(_MONTHS, 1) for word in words.split()}


@cache
def _weekdays() -> dict[str, frozenset[int]]:
    found: dict[str, set[int]] = {}
    for number, words in enumerate(_WEEKDAYS):
        for word in words.split():
            found.setdefault(word, set()).add(number)
    return {word: frozenset(numbers) for word, numbers in found.items()}
