"""What a file's bytes become: exact rows, or the right question. Expected values set by hand."""

from __future__ import annotations

import pytest

from challenge.diary.intake import read_bytes
from challenge.diary.options import ReadOptions

H = b"time,symptom,score\n"


def read(data: bytes):
    return read_bytes(data, "f.csv", ReadOptions())


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "file-empty"),
        (H, "no-rows"),
        (b"\x89PNG\r\n\x1a\n\0\0", "not-a-table"),
        (b"PK\x03\x04xxxx", "workbook-unreadable"),
        (H + b"01/02/2026 08:00,pain,3\n", "date-order-unknown"),
        (H + b"13/02/2026 08:00,pain,3\n02/13/2026 08:00,pain,3\n", "date-order-mixed"),
        (H + b"2026-03-01T08:00,pain,11\n", "score-out-of-range"),
        (H + b"2026-03-01T08:00,pain,7.5\n", "score-not-whole"),
        (H + b"2026-03-01T08:00Z,pain,3\n", "time-with-zone"),
        (H + b"2026-03-01T08:00,pain,3,5\n", "row-too-long"),
        (H + b'"2026-03-01T09:00,pain,3\n', "quote-not-closed"),
        (b"time;food;portion_g\n2026-03-01 08:00;milk;1.234\n", "number-ambiguous"),
        ("time;food\n2026-03-01 08:00;mięso\n".encode("cp1250"), "encoding-unsure"),
    ],
)
def test_what_cannot_be_read_for_certain_is_said_and_not_stored(data, code):
    rows = read(data)
    assert code in {problem.code for problem in rows.problems}
    assert not rows.foods and not rows.symptoms


@pytest.mark.parametrize(
    "data",
    [
        H + b"2026-03-01T08:00,pain,3\n",
        b"sep=;\r\ntime;symptom;score\r\n2026-03-01T08:00;pain;3\r\n",
        b"time\tsymptom\tscore\r2026-03-01 8:00\tpain\t3\r",
        b"Date|Time|Pain\n2026-03-01|8:00 am|3\n",
        "Datum;Uhrzeit;Bauchschmerzen\n1. März 2026;08:00;3\n".encode(),
        "time;symptom;score\n2026-03-01T08:00;pain;3\n".encode("utf-16"),
    ],
)
def test_forms_that_say_the_same_are_read_alike(data):
    rows = read(data)
    assert rows.symptoms == [("2026-03-01T08:00", "pain", "3", "", "")]
    assert rows.problems == []


def test_line_is_the_one_a_spreadsheet_shows():
    rows = read(H + b"2026-03-01T08:00,pain,3\n\n2026-03-01T09:00,pain,11\n")
    assert [problem.line for problem in rows.problems] == [4]


def test_half_days_of_a_twelve_hour_clock():
    rows = read(H + b"13/02/2026 8:00 PM,pain,3\n01/02/2026 12:05 AM,pain,2\n")
    assert [row[0] for row in rows.symptoms] == ["2026-02-13T20:00", "2026-02-01T00:05"]


def test_a_rounded_portion_may_be_less_than_its_carbohydrate_but_not_by_more():
    foods = b"time,food,portion_g,fodmap_group,fodmap_g\n"
    for portion, grams in (("1", "1.25"), ("1.2", "1.25"), ("10", "10.5"), ("0.4", "0.44")):
        rows = read(foods + f"2026-03-01T08:00,sorbitol,{portion},sorbitol,{grams}\n".encode())
        assert [row[2:5] for row in rows.foods] == [(portion, "sorbitol", grams)]
        assert [(p.code, p.severity, p.line, p.column) for p in rows.problems] == [
            ("portion-rounded", "warning", 2, "portion_g")
        ]
    # more than the written digits can hide; and no portion at all is none that was rounded
    for portion, grams in (("1", "1.6"), ("0.1", "0.5"), ("1.2", "1.3"), ("0", "0.4")):
        rows = read(foods + f"2026-03-01T08:00,sorbitol,{portion},sorbitol,{grams}\n".encode())
        assert [(p.code, p.severity) for p in rows.problems] == [("grams-over-portion", "error")]
        assert not rows.foods
