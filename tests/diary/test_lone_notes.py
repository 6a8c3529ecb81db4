"""A note beside no score and no food is not lost: it is kept as an event of its day."""

import pytest

from challenge.diary.intake import read_bytes
from challenge.diary.options import ReadOptions

KEPT = [("2026-03-01", "2026-03-01", "note", "felt faint")]


def read(text):
    return read_bytes(text.encode(), "a.csv", ReadOptions())


@pytest.mark.parametrize(
    "text",
    [
        # prefilled days, one column per symptom
        "date,time,pain,bloating,note\n2026-03-01,08:00,,,felt faint\n2026-03-01,13:00,2,3,\n",
        "date,time,pain,note\n2026-03-01,,,felt faint\n2026-03-01,13:00,2,\n",
        "Datum;Uhrzeit;Schmerz;Notiz\n01.03.2026;;;felt faint\n13.03.2026;8:00;1;\n",
        # the day out of a time
        "time,food,portion_g,note\n2026-03-01T08:00,,,felt faint\n2026-03-02T09:00,rice,5,\n",
        "time,pain,note\n2026-03-01T08:00,,felt faint\n",
    ],
)
def test_it_is_kept_with_its_day(text):
    rows = read(text)
    assert rows.events == KEPT
    assert [(p.code, p.severity, p.line) for p in rows.problems] == [("note-alone", "note", 2)]
    assert rows.refused == []


def test_a_note_beside_an_entry_stays_with_it():
    rows = read("date,time,pain,note\n2026-03-01,08:00,3,felt faint\n")
    assert rows.events == []
    assert rows.scores() == [("2026-03-01T08:00", "pain", "3", "felt faint", "")]


@pytest.mark.parametrize(
    ("day", "code"), [("", "note-without-day"), ("30.2.2026", "date-impossible")]
)
def test_without_a_day_it_is_refused_and_told(day, code):
    rows = read(f"date,time,pain,note\n{day},,,felt faint\n2026-03-01,8:00,3,\n")
    assert rows.events == []
    assert [(p.code, p.severity, p.line) for p in rows.problems] == [(code, "error", 2)]
    assert [row.cells[-1] for row in rows.refused] == ["felt faint"]
