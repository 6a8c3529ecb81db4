"""Take the plain rows of a large file of scores as they stand, and leave the others to the reader.

A row is plain when it is written just as the program would write it. Such a row has no problem by
itself and says nothing on how others are to be read, so taking it out changes neither the entries
nor the problems of a file; a test compares both ways. Rows are looked at as bytes, all at once.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import compress
from typing import TYPE_CHECKING, Final

import numpy as np

from challenge.diary.clock_changes import clock_changes
from challenge.diary.headers import symptom_named, understand_header
from challenge.diary.model import SYMPTOM_COLUMNS
from challenge.diary.options import ReadOptions
from challenge.diary.scores import Scores, found_in, in_order
from challenge.diary.sheet import Sheet, SheetBuilder
from challenge.terms import STOOL_FORM, SYMPTOMS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]
    Places = NDArray[np.int64]
    Truths = NDArray[np.bool_]

_PORTION: Final = 4_000_000
_MARGIN: Final = 256  # windows may look beyond the end
_LONGEST: Final = 30_000
_FIRST_YEAR: Final = 2000
_YEARS: Final = 80
_ODD_SHARE: Final = 0.2  # with more odd rows than this, the reader is as quick for all of them
_STAMP: Final = 16
_WITH_SECONDS: Final = 19
_DIGITS: Final = (0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15)
_SIGNS: Final = ((4, "-"), (7, "-"), (10, "T"), (13, ":"))


def take_plain(text: bytes, file: str, options: ReadOptions) -> tuple[Scores, Sheet] | None:
    """Part a file of scores into its plain rows and a sheet of all others.

    Parameters
    ----------
    text
        Content as UTF-8 without a mark.
    file
        Its name, for the problems.
    options
        What is known of the client.

    Returns
    -------
    tuple or None
        None where the file is not in the contract's columns, has cells of several lines, or few
        of its rows are plain.
    """
    if b"\r" in text:
        text = text.replace(b"\r\n", b"\n")
        if b"\r" in text:
            return None
    first = text[: text.find(b"\n") + 1].rstrip(b"\n")
    width = _width(first, file, options)
    if width is None:
        return None
    names = _symptoms(options)
    whole = text if text.endswith(b"\n") else text + b"\n"
    found = [_look(portion, width, names) for portion in _portions(whole, len(first) + 1)]
    plain = np.concatenate([one.plain for one in found]) if found else np.zeros(0, dtype=bool)
    if not plain.any() or (~plain).sum() > 10 + _ODD_SHARE * len(plain):
        return None
    if not all(_ends_where_it_should(line) for one in found for line in one.quoted):
        return None
    scores = _scores(found, plain, width, names, file)
    odd = _twice(scores) | _at_clock_changes(scores, found, options.timezone)
    if odd.any():
        plain[scores.places[odd] - 2] = False
        scores = scores.where(~odd)
    sheet = _others(found, plain, first, file)
    return (in_order(scores), sheet) if len(scores) and sheet is not None else None


def _width(header: bytes, file: str, options: ReadOptions) -> int | None:
    """Return the number of columns when they are the contract's, in its order, else None."""
    cells = header.decode().split(",")
    if b'"' in header or not 3 <= len(cells) <= len(SYMPTOM_COLUMNS):
        return None
    known = understand_header(cells, file, 1, mapping=options.columns, declared=options.symptoms)
    told = {name: place for place, name in enumerate(SYMPTOM_COLUMNS[: len(cells)])}
    if known.columns != told or known.symptoms or known.problems or known.kinds != ("symptoms",):
        return None
    return len(cells)


@cache
def _names(declared: tuple[str, ...]) -> tuple[str, ...]:
    usual = {*SYMPTOMS, STOOL_FORM, *declared}
    plain = (n for n in usual if n == symptom_named(n, declared) and not set(n) & set('",\r\n'))
    return tuple(sorted(plain))


def _symptoms(options: ReadOptions) -> tuple[str, ...]:
    """Return the names under which a symptom is stored, in order of the alphabet."""
    return _names(tuple(options.symptoms))


@dataclass(frozen=True, slots=True)
class _Portion:
    """Some whole lines: their bytes with a margin, and where each begins and ends."""

    text: bytes
    bytes: Bytes
    begins: Places
    ends: Places


def _portions(text: bytes, start: int) -> Iterator[_Portion]:
    """Yield the lines in portions, so that no array is as long as the file."""
    while start < len(text):
        end = text.find(b"\n", start + _PORTION) + 1 or len(text)
        part = text[start:end]
        letters = np.frombuffer(part + b"\0" * _MARGIN, dtype=np.uint8)
        ends = np.flatnonzero(letters == ord("\n"))
        yield _Portion(part, letters, np.r_[0, ends[:-1] + 1], ends)
        start = end


@dataclass(frozen=True, slots=True)
class _Found:
    """What was found of the lines of a portion; numbers only of those that are plain.

    ``written`` is the time of writing, or that of the score where none is given.
    """

    lines: list[bytes]
    plain: Truths
    seconds: Places
    codes: Places
    written: Places
    quoted: list[bytes]


def _look(portion: _Portion, width: int, names: Sequence[str]) -> _Found:
    letters, begins, ends = portion.bytes, portion.begins, portion.ends
    lines = portion.text.split(b"\n")[:-1]
    commas = np.flatnonzero(letters == ord(","))
    first = np.searchsorted(commas, begins)
    even = np.searchsorted(commas, ends) - first == width - 1
    quotes = np.unique(np.searchsorted(ends, np.flatnonzero(letters == ord('"'))))
    even[quotes] = False
    which = np.flatnonzero(even)
    begin, end = begins[which], ends[which]
    marks = [commas[first[which] + place] for place in range(width - 1)]
    seconds, good = _stamps(letters, begin, marks[0])
    codes = _codes(letters, marks[0] + 1, marks[1], names)
    score_end = marks[2] if width > 3 else end
    good &= _is_score(letters, marks[1] + 1, score_end, codes, names) & (codes >= 0)
    if width > 3:
        good &= _is_note(letters, marks[2] + 1, marks[3] if width > 4 else end)
    written = seconds
    if width > 4:
        given = end > marks[3] + 1
        at, known = _stamps(letters, marks[3] + 1, end)
        good &= known | ~given
        written = np.where(given, at, seconds)
    plain = np.zeros(len(lines), dtype=bool)
    plain[which[good]] = True
    quoted = [lines[place] for place in quotes.tolist()]
    return _Found(lines, plain, seconds[good], codes[good], written[good], quoted)


def _cells(letters: Bytes, begins: Places, length: int) -> Bytes:
    """Return so many letters from each beginning on, one row of the result per letter."""
    windows = np.lib.stride_tricks.sliding_window_view(letters, length)
    return np.ascontiguousarray(windows[begins].T)


def _stamps(letters: Bytes, begins: Places, ends: Places) -> tuple[Places, Truths]:
    """Read times as the contract writes them, in seconds, and say which are written so."""
    cells = _cells(letters, begins, _WITH_SECONDS)
    number = cells - np.uint8(ord("0"))
    good = np.ones(len(begins), dtype=bool)
    for place in _DIGITS:
        good &= number[place] <= 9
    for place, sign in _SIGNS:
        good &= cells[place] == ord(sign)

    def two(place: int) -> Places:
        value: Places = number[place].astype(np.int64) * 10 + number[place + 1]
        return value

    century, year, month, day = two(0), two(2), two(5), two(8)
    hour, minute = two(11), two(14)
    good &= (century == 20) & (year < _YEARS) & (month <= 12) & (day <= 31)
    good &= (hour <= 23) & (minute <= 59)
    days = _calendar()[np.where(good, (year * 13 + month) * 32 + day, 0)]
    good &= days >= 0
    length = ends - begins
    second = np.where(length == _WITH_SECONDS, two(17), 0)
    # a full minute is written without seconds
    longer = (cells[16] == ord(":")) & (number[17] <= 5) & (number[18] <= 9) & (second > 0)
    good &= (length == _STAMP) | ((length == _WITH_SECONDS) & longer)
    return ((days * 24 + hour) * 60 + minute) * 60 + second, good


@cache
def _calendar() -> Places:
    """Days since 1970 by year of the century, month and day; -1 where there is no such day."""
    table: Places = np.full(_YEARS * 13 * 32, -1, dtype=np.int64)
    start, epoch = dt.date(_FIRST_YEAR, 1, 1), dt.date(1970, 1, 1).toordinal()
    day = start
    while day.year < _FIRST_YEAR + _YEARS:
        table[((day.year - _FIRST_YEAR) * 13 + day.month) * 32 + day.day] = day.toordinal() - epoch
        day += dt.timedelta(days=1)
    return table


def _codes(letters: Bytes, begins: Places, ends: Places, names: Sequence[str]) -> Places:
    """Return the place of each name in the list; -1 where it is none of them."""
    codes = np.full(len(begins), -1, dtype=np.int64)
    length = ends - begins
    for code, name in enumerate(names):
        raw = np.frombuffer(name.encode(), dtype=np.uint8)
        if len(raw) >= _MARGIN:
            continue
        some = np.flatnonzero(length == len(raw))
        same = (_cells(letters, begins[some], len(raw)) == raw[:, None]).all(axis=0)
        codes[some[same]] = code
    return codes


def _is_score(
    letters: Bytes, begins: Places, ends: Places, codes: Places, names: Sequence[str]
) -> Truths:
    """Say which are a whole number of the symptom's scale."""
    cells = _cells(letters, begins, 2)
    value = cells[0] - np.uint8(ord("0"))
    one = (ends - begins == 1) & (value <= 9)
    ten = (ends - begins == 2) & (cells[0] == ord("1")) & (cells[1] == ord("0"))
    stool = codes == names.index(STOOL_FORM)
    within: Truths = np.where(stool, one & (value >= 1) & (value <= 7), one | ten)
    return within


def _is_note(letters: Bytes, begins: Places, ends: Places) -> Truths:
    """Say which are empty, or begin with a letter or digit and end with a sign that is no space.

    So there is nothing to strip off and nothing that a spreadsheet would run.
    """
    head, last = letters[begins], letters[ends - 1]
    lower = (head | np.uint8(32)) - np.uint8(ord("a"))
    begun = (lower < 26) | (head - np.uint8(ord("0")) < 10)
    length = ends - begins
    good: Truths = (length == 0) | (begun & (last > 32) & (last < 127) & (length < _LONGEST))
    return good


def _ends_where_it_should(line: bytes) -> bool:
    """Say whether a line with quotes is a whole row, so that the next line begins a new one."""
    try:
        return len(list(csv.reader([f"{line.decode()}\n"], strict=True))) == 1
    except csv.Error:
        return False


def _scores(
    found: Sequence[_Found], plain: Truths, width: int, names: tuple[str, ...], file: str
) -> Scores:
    lines: list[bytes] = []
    for one in found:
        lines += compress(one.lines, one.plain.tolist())
    if width < len(SYMPTOM_COLUMNS):
        rest = b"," * (len(SYMPTOM_COLUMNS) - width)
        lines = [line + rest for line in lines]
    return Scores(
        seconds=np.concatenate([one.seconds for one in found]),
        codes=np.concatenate([one.codes for one in found]),
        names=names,
        lines=lines,
        places=np.flatnonzero(plain) + 2,  # the header is line 1
        file=file,
    )


def _twice(scores: Scores) -> Truths:
    """Mark the scores of which another is of the same time and symptom."""
    keys = scores.keys
    if bool((keys[1:] > keys[:-1]).all()):
        return np.zeros(len(keys), dtype=bool)
    ranked = np.sort(keys)
    return found_in(keys, np.unique(ranked[1:][ranked[1:] == ranked[:-1]]))


def _at_clock_changes(scores: Scores, found: Sequence[_Found], zone: str) -> Truths:
    """Mark the scores with a time that a change of the clocks leaves out or gives twice."""
    if zone in ("", "UTC"):
        return np.zeros(len(scores), dtype=bool)
    written = np.concatenate([one.written for one in found])
    distinct = np.unique(np.concatenate((scores.seconds, written))).astype("datetime64[s]")
    odd = sorted(clock_changes(np.datetime_as_string(distinct).tolist(), zone))
    moments = np.array(odd, dtype="datetime64[s]").astype(np.int64)
    return found_in(scores.seconds, moments) | found_in(written, moments)


def _others(found: Sequence[_Found], plain: Truths, header: bytes, file: str) -> Sheet | None:
    """Return the rows that are not plain; None where one cannot be taken apart into cells."""
    builder = SheetBuilder(file, header.decode().split(","), 1)
    start = 0
    for one in found:
        for place in np.flatnonzero(~plain[start : start + len(one.lines)]).tolist():
            try:
                row = next(csv.reader([one.lines[place].decode()], strict=True))
            except csv.Error:
                return None
            builder.add([row], start + place + 2)
        start += len(one.lines)
    sheet = builder.finish()
    sheet.delimiter = ","
    return sheet
