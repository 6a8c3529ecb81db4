"""Cells of many rows looked at as bytes, all at once: which are plain, and what they say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np

from challenge.terms import STOOL_FORM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]
    Places = NDArray[np.int64]
    Truths = NDArray[np.bool_]

MARGIN: Final = 256
"""Bytes that must follow the last row: windows may look beyond its end."""

_LONGEST: Final = 30_000
_FIRST_YEAR: Final = 2000
_YEARS: Final = 80
_STAMP: Final = 16
_WITH_SECONDS: Final = 19
_DIGITS: Final = (0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15)
_SIGNS: Final = ((4, "-"), (7, "-"), (13, ":"))


@dataclass(frozen=True, slots=True)
class ManyRows:
    """The cells of many lines: which lines are good, and which of them written as in the table."""

    good: Truths
    exact: Truths
    time: Stamps
    codes: Places
    scores: Bytes
    entered: Stamps | None

    @classmethod
    def of(
        cls, letters: Bytes, cells: Mapping[str, tuple[Places, Places]], names: Sequence[str]
    ) -> ManyRows:
        """Look at rows.

        Parameters
        ----------
        letters
            Bytes of all rows and a margin.
        cells
            Where the cell of each column begins and ends, per row.
        names
            Names under which symptoms are stored.
        """
        time = Stamps.of(letters, *cells["time"])
        codes, known = _codes(letters, *cells["symptom"], names)
        scores, fits, whole = _scores(letters, *cells["score"], codes == names.index(STOOL_FORM))
        good = time.good & known & fits
        exact = time.exact & whole
        if "note" in cells:
            good &= _is_note(letters, *cells["note"])
        entered = None
        if "entered_at" in cells:
            entered = Stamps.of(letters, *cells["entered_at"], otherwise=time.seconds)
            good &= entered.good
            exact &= entered.exact
        return cls(good, exact, time, codes, scores, entered)

    def written(
        self,
        lines: Sequence[bytes],
        begins: Places,
        note: tuple[Places, Places] | None,
        names: Sequence[str],
    ) -> list[bytes]:
        """Write the good lines, given as they stand, in the form of the table."""
        good = self.good
        nothing = [b""] * len(lines)
        raw = [name.encode() for name in names]
        notes = nothing
        if note is not None:
            edges = ((edge - begins)[good].tolist() for edge in note)
            notes = [line[a:b] for line, a, b in zip(lines, *edges, strict=True)]
        columns = (
            self.time.texts(good),
            [raw[code] for code in self.codes[good].tolist()],
            [b"%d" % score for score in self.scores[good].tolist()],
            notes,
            self.entered.texts(good) if self.entered else nothing,
        )
        return list(map(b",".join, zip(*columns, strict=True)))


def _cells(letters: Bytes, begins: Places, length: int) -> Bytes:
    """Return so many letters from each beginning on, one row of the result per letter."""
    windows = np.lib.stride_tricks.sliding_window_view(letters, length)
    return np.ascontiguousarray(windows[begins].T)


@dataclass(frozen=True, slots=True)
class Stamps:
    """Times of many rows, in seconds: which can be read, and which are written as in the table."""

    cells: Bytes
    seconds: Places
    good: Truths
    exact: Truths
    empty: Truths

    @classmethod
    def of(
        cls, letters: Bytes, begins: Places, ends: Places, otherwise: Places | None = None
    ) -> Stamps:
        """Read year-first times to the minute or second; with ``otherwise`` some may be empty."""
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
        longer = length == _WITH_SECONDS
        second = np.where(longer, two(17), 0)
        whole = (cells[16] == ord(":")) & (number[17] <= 5) & (number[18] <= 9)
        good &= (length == _STAMP) | (longer & whole)
        good &= (cells[10] == ord("T")) | (cells[10] == ord(" "))
        # a full minute is written without seconds
        exact = (cells[10] == ord("T")) & ((length == _STAMP) | (second > 0))
        seconds = ((days * 24 + hour) * 60 + minute) * 60 + second
        empty = np.zeros(len(begins), dtype=bool)
        if otherwise is not None:
            empty = length == 0
            good, exact = good | empty, exact | empty
            seconds = np.where(empty, otherwise, seconds)
        cells[10] = ord("T")
        cells[16:, second == 0] = 0
        cells[:, empty] = 0
        return cls(cells, seconds, good, exact, empty)

    def texts(self, wanted: Truths) -> list[bytes]:
        """Return the times of some rows as the table holds them."""
        some = np.ascontiguousarray(self.cells[:, wanted].T)
        texts: list[bytes] = some.view(f"S{_WITH_SECONDS}")[:, 0].tolist()
        return texts


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


def _codes(
    letters: Bytes, begins: Places, ends: Places, names: Sequence[str]
) -> tuple[Places, Truths]:
    """Return the place of each name in the list, and which are in it."""
    codes = np.full(len(begins), -1, dtype=np.int64)
    length = ends - begins
    for code, name in enumerate(names):
        raw = np.frombuffer(name.encode(), dtype=np.uint8)
        some = np.flatnonzero(length == len(raw))
        same = (_cells(letters, begins[some], len(raw)) == raw[:, None]).all(axis=0)
        codes[some[same]] = code
    return codes, codes >= 0


def _scores(
    letters: Bytes, begins: Places, ends: Places, stool: Truths
) -> tuple[Bytes, Truths, Truths]:
    """Return the scores, which are on the symptom's scale, and which are written without ``.0``."""
    cells = _cells(letters, begins, 4)
    digit = cells - np.uint8(ord("0"))
    length = ends - begins
    ten = (cells[0] == ord("1")) & (cells[1] == ord("0"))
    point_one = (cells[1] == ord(".")) & (cells[2] == ord("0"))
    point_two = (cells[2] == ord(".")) & (cells[3] == ord("0"))
    one = (digit[0] <= 9) & ((length == 1) | ((length == 3) & point_one))
    two = ten & ((length == 2) | ((length == 4) & point_two))
    value = np.where(two, np.uint8(10), digit[0])
    fits = (one | two) & ~(stool & ((value < 1) | (value > 7)))
    return value, fits, length <= 2


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
