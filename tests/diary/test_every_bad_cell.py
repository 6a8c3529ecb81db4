"""Every bad cell of a long table is told, whatever else is wrong in its row or column.

Readers that convert a column at once stop looking at it when one cell cannot be converted: on
10,000 rows with 30 bad cells such a one told 23. The bad cells here are set by hand.
"""

from __future__ import annotations

import random

from challenge.diary.intake import read_bytes
from challenge.diary.options import ReadOptions

BAD = [
    ("time", "", "time-missing"),
    ("time", "soon", "date-unreadable"),
    ("time", "2026-02-30T08:00", "date-impossible"),
    ("time", "2026-03-01T25:00", "time-impossible"),
    ("symptom", "pian", "symptom-unknown"),
    ("score", "11", "score-out-of-range"),
    ("score", "-1", "score-out-of-range"),
    ("score", "a lot", "score-unreadable"),
    ("score", "2.5", "score-not-whole"),
    ("entered at", "later", "date-unreadable"),
]


def test_thirty_bad_cells_among_ten_thousand_rows():
    rng = random.Random(7)
    header = ["time", "symptom", "score", "entered at"]
    rows = [
        [f"2026-{n // 2400 + 1:02d}-{n // 100 % 24 + 1:02d}T{n // 5 % 20:02d}:{n % 60:02d}",
         "pain", str(n % 11), ""]
        for n in range(10_000)
    ]  # fmt: skip
    expected = set()
    for place, (column, text, code) in zip(rng.sample(range(10_000), 30), BAD * 3, strict=True):
        rows[place][header.index(column)] = text
        expected.add((code, place + 2, column))
    data = "\n".join(map(",".join, [header, *rows])).encode()
    told = read_bytes(data, "f.csv", ReadOptions())
    assert {(p.code, p.line, p.column) for p in told.problems} == expected
    assert len(told.problems) == 30
    assert len(told.scores()) == 9_970
    assert {row.line for row in told.refused} == {line for _, line, _ in expected}


def test_several_bad_cells_of_one_row_are_all_told():
    data = b"time,pain,bloating,wind\nsoon,11,a lot,2.5\n2026-03-13T08:00,1,2,3\n"
    told = read_bytes(data, "f.csv", ReadOptions())
    assert sorted((p.code, p.line, p.column) for p in told.problems) == [
        ("date-unreadable", 2, "time"),
        ("score-not-whole", 2, "wind"),
        ("score-out-of-range", 2, "pain"),
        ("score-unreadable", 2, "bloating"),
    ]


def test_words_and_figures_that_readers_change_stay_as_typed():
    data = (
        b"time,food,portion g,note\n2026-03-13T08:00,007,30,1e5\n2026-03-13T09:00,1e5,30,NA\n"
        b"2026-03-13T10:00,null,30,TRUE\n2026-03-13T11:00,3-4,30,0012\n"
    )
    told = read_bytes(data, "f.csv", ReadOptions())
    assert told.problems == []
    assert [(row[1], row[5]) for row in told.foods] == [
        ("007", "1e5"), ("1e5", "NA"), ("null", "TRUE"), ("3-4", "0012"),
    ]  # fmt: skip
