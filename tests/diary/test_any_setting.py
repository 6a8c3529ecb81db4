"""Any diary in any language, separator, code page and form of dates: exact, or the right question.

What a spreadsheet writes is put together at random; a reader may refuse, never misread.
"""

from __future__ import annotations

import codecs
import datetime as dt
import re

from hypothesis import given, settings
from hypothesis import strategies as st

from challenge.diary.intake import read_bytes
from challenge.diary.options import ReadOptions

from .corpus.book_cases import book_of, put
from .corpus.tables import apart, foods, long, text, wide
from .corpus.truth import SETTINGS, Moment
from .corpus.truth import foods as true_foods
from .corpus.truth import scores as true_scores

QUESTIONS = {"date-order-unknown", "encoding-unsure"}


def twelve(t: Moment) -> str:
    return f"{(t.hour - 1) % 12 + 1}:{t:%M} {'AM' if t.hour < 12 else 'PM'}"


STAMPS = {
    "dmy/": lambda t: f"{t:%d/%m/%Y %H:%M}",
    "d/m/yy": lambda t: f"{t.day}/{t.month}/{t:%y} {t.hour}:{t:%M}",
    "mdy/": lambda t: f"{t.month}/{t.day}/{t.year} {t.hour}:{t:%M}",
    "mdy12": lambda t: f"{t.month}/{t.day}/{t:%y} {twelve(t)}",
    "dmy12": lambda t: f"{t:%d/%m/%Y} {twelve(t)}",
    "dmy.": lambda t: f"{t:%d.%m.%Y %H:%M}",
    "dmy-": lambda t: f"{t:%d-%m-%Y %H:%M:%S}",
    "iso": lambda t: f"{t:%Y-%m-%d %H:%M}",
    "isoT": lambda t: f"{t:%Y-%m-%dT%H:%M:%S}",
    "ymd/": lambda t: f"{t:%Y/%m/%d %H:%M}",
    "english": lambda t: f"{t.day} {t:%B} {t.year} {t.hour}:{t:%M}",
    "french": lambda t: f"{t:%d/%m/%Y} {t.hour}h{t:%M}",
}

moments = st.datetimes(
    dt.datetime(2025, 1, 1), dt.datetime(2027, 12, 31, 23, 59)
).map(lambda t: t.replace(second=0, microsecond=0))  # fmt: skip
note = st.sampled_from([None, 0, 1, 2])
score = st.none() | st.integers(0, 10)
stool = st.none() | st.integers(1, 7)
scored = st.tuples(moments, st.tuples(score, score, score, stool), note)
eaten = st.tuples(
    moments,
    st.sampled_from([0, 1, 2]),
    st.sampled_from([0.5, 12.5, 30, 62.25, 250, 1250]),
    st.sampled_from(["", "lactose", "sorbitol"]),
    st.none() | st.sampled_from([0.25, 1.5, 6, 12.5]),
    note,
).map(lambda row: row if row[3] else (*row[:4], None, row[5])).filter(
    lambda row: row[4] is None or row[4] <= row[2]
)  # fmt: skip
encodings = st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "page"])


def parts(stamp: str) -> tuple[str, str]:
    """Date and time of day of a stamp."""
    found = re.fullmatch(r"(.*?)[T ](\d{1,2}[:h].*)", stamp)
    assert found is not None
    return found[1], found[2]


def encoded(written: str, encoding: str, page: str) -> bytes:
    if encoding == "utf-16":
        return codecs.BOM_UTF16_LE + written.encode("utf-16-le")
    return written.encode(page if encoding == "page" else encoding)


def judged(data: bytes, kind: str, true: list[tuple[str, ...]]) -> None:
    rows = read_bytes(data, "f.csv", ReadOptions())
    errors = {problem.code for problem in rows.problems if problem.severity == "error"}
    assert errors <= QUESTIONS, [problem.sentence() for problem in rows.problems]
    if not errors:
        found = rows.scores() if kind == "symptoms" else rows.foods
        assert sorted(found) == sorted(true)


@settings(max_examples=150)
@given(
    code=st.sampled_from(sorted(SETTINGS)),
    rows=st.lists(scored, min_size=1, max_size=8, unique_by=lambda row: row[0]),
    form=st.sampled_from(["long", "wide"]),
    stamp=st.sampled_from(sorted(STAMPS)),
    separator=st.sampled_from([",", ";", "\t", "|"]),
    end=st.sampled_from(["\r\n", "\n", "\r"]),
    encoding=encodings,
    sep_line=st.booleans(),
    two_columns=st.booleans(),
)
def test_scores(code, rows, form, stamp, separator, end, encoding, sep_line, two_columns):
    s = SETTINGS[code]
    rows = tuple(row for row in rows if any(value is not None for value in row[1]))
    table = long(s, rows) if form == "long" else wide(s, rows)
    if len(table) == 1:
        return
    if two_columns:
        table = apart(
            table, s, lambda t: parts(STAMPS[stamp](t))[0], lambda t: parts(STAMPS[stamp](t))[1]
        )
    written = text(table, s, separator=separator, end=end, stamp=STAMPS[stamp])
    if sep_line:
        written = f"sep={separator}{end}{written}"
    judged(encoded(written, encoding, s.page), "symptoms", true_scores(code, rows))


@settings(max_examples=150)
@given(
    code=st.sampled_from(sorted(SETTINGS)),
    rows=st.lists(eaten, min_size=1, max_size=8),
    stamp=st.sampled_from(sorted(STAMPS)),
    separator=st.sampled_from([",", ";", "\t"]),
    encoding=encodings,
    empty_rows=st.integers(0, 3),
)
def test_foods(code, rows, stamp, separator, encoding, empty_rows):
    s = SETTINGS[code]
    table = foods(s, tuple(rows)) + [[""] * 6] * empty_rows
    written = text(table, s, separator=separator, stamp=STAMPS[stamp])
    judged(encoded(written, encoding, s.page), "foods", true_foods(code, tuple(rows)))


FORMATS = ["dd/mm/yyyy hh:mm", "m/d/yy h:mm AM/PM", "dd.mm.yyyy hh:mm:ss", "yyyy-mm-dd hh:mm"]


@settings(max_examples=150, deadline=None)
@given(
    code=st.sampled_from(sorted(SETTINGS)),
    rows=st.lists(scored, min_size=1, max_size=8, unique_by=lambda row: row[0]),
    shown=st.sampled_from(FORMATS),
    since_1904=st.booleans(),
    title=st.integers(0, 3),
    as_text=st.none() | st.sampled_from(sorted(STAMPS)),
)
def test_workbooks(code, rows, shown, since_1904, title, as_text):
    s = SETTINGS[code]
    rows = tuple(row for row in rows if any(value is not None for value in row[1]))
    table = wide(s, rows)
    if as_text:
        table = [
            [STAMPS[as_text](cell) if isinstance(cell, dt.datetime) else cell for cell in row]
            for row in table
        ]
    if not rows:
        return

    def fill(book):
        sheet = put(book, "S", table, shown, top=title)
        if title:
            sheet.write(0, 0, "a title")

    data = book_of(fill, date_1904=since_1904)
    judged(data, "symptoms", true_scores(code, rows))


@settings(max_examples=100, deadline=None)
@given(
    rows=st.lists(moments, min_size=1, max_size=10, unique=True),
    day_first_reader=st.booleans(),
)
def test_a_spreadsheet_of_the_other_order_is_never_believed(rows, day_first_reader):
    """What is typed in one order and taken for dates in the other, where it can be."""
    table = [["time", "pain"]]
    exchanged = 0
    for n, t in enumerate(rows):
        if t.day <= 12:
            table.append([t.replace(day=t.month, month=t.day), n % 11])
            exchanged += t.day != t.month
        else:
            typed = f"{t.month}/{t.day}/{t.year}" if day_first_reader else f"{t:%d/%m/%Y}"
            table.append([f"{typed} {t:%H:%M}", n % 11])
    data = book_of(lambda book: put(book, "S", table, "dd/mm/yyyy hh:mm"))
    told = read_bytes(data, "b.xlsx", ReadOptions())
    codes = {problem.code for problem in told.problems if problem.severity == "error"}
    texts = any(isinstance(row[0], str) for row in table[1:])
    if exchanged and texts:
        assert "dates-and-texts-mixed" in codes
