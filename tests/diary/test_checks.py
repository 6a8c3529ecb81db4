"""Entries in the future, written early or late, and runs of one score. Set by hand."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from challenge.diary.checks import ALIKE_DAYS, check_entries
from challenge.diary.model import Diary

TODAY = dt.date(2026, 4, 1)


def scores(*rows):
    table = pd.DataFrame(rows, columns=["time", "symptom", "score", "entered_at"])
    for name in ("time", "entered_at"):
        table[name] = pd.to_datetime(table[name])
    table["note"] = ""
    return table.astype({"score": float})


def diary(*rows, foods=()):
    table = pd.DataFrame(foods, columns=["time", "entered_at"]).astype("datetime64[ns]")
    return Diary(foods=table, symptoms=scores(*rows), events=pd.DataFrame())


def codes(problems):
    return [(p.code, p.severity, p.file, p.date) for p in problems]


def test_an_empty_diary_has_nothing_to_say():
    assert check_entries(diary(), TODAY) == []


def test_an_entry_of_tomorrow_is_an_error_and_one_of_tonight_is_not():
    problems = check_entries(
        diary(
            ("2026-04-01T23:59", "pain", 3, None),
            ("2026-04-02T00:00", "pain", 3, None),
            ("2026-04-02T08:00", "pain", 3, None),
            foods=[("2027-04-01T08:00", None)],
        ),
        TODAY,
    )
    assert codes(problems) == [
        ("entry-in-the-future", "error", "foods.csv", "2027-04-01"),
        ("entry-in-the-future", "error", "symptoms.csv", "2026-04-02"),
    ]
    assert problems[1].message.startswith("2 entries of this day")


@pytest.mark.parametrize(
    ("entered", "code"),
    [
        ("2026-03-02T12:00", None),
        ("2026-03-02T12:01", "written-late"),
        ("2026-03-01T08:00", None),
        ("2026-03-01T07:00", None),
        ("2026-03-01T06:59", "written-before-it-happened"),
        (None, None),
    ],
)
def test_late_is_after_noon_of_the_next_day_and_early_an_hour_before(entered, code):
    problems = check_entries(diary(("2026-03-01T08:00", "pain", 3, entered)), TODAY)
    assert [p.code for p in problems] == ([code] if code else [])


def test_late_entries_are_counted_by_day_with_the_longest_wait():
    problems = check_entries(
        diary(
            ("2026-03-01T08:00", "pain", 3, "2026-03-04T08:00"),
            ("2026-03-01T20:00", "pain", 2, "2026-03-08T08:00"),
            ("2026-03-01T21:00", "wind", 2, "2026-03-01T21:05"),
            ("2026-03-02T08:00", "pain", 3, "2026-03-04T08:00"),
        ),
        TODAY,
    )
    assert [p.date for p in problems] == ["2026-03-01", "2026-03-02"]
    assert "2 entries" in problems[0].message
    assert "7 days later" in problems[0].message


def run(values, symptom="pain", per_day=1):
    return [
        (f"2026-03-{1 + i // per_day:02d}T{8 + 4 * (i % per_day):02d}:00", symptom, value, None)
        for i, value in enumerate(values)
    ]


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (run([4] * ALIKE_DAYS), True),
        (run([4] * (ALIKE_DAYS - 1) + [5]), False),
        (run([0] * 20), False),
        (run([4] * 20, symptom="stool_form"), False),
        (run([3] * 7, per_day=3), False),  # seven scores, but of three days
        (run([1, *([6] * 3 * ALIKE_DAYS), 2], per_day=3), True),
    ],
)
def test_one_score_above_zero_for_a_week_is_not_plausible(rows, said):
    problems = check_entries(diary(*rows), TODAY)
    assert [p.code for p in problems] == (["same-score-for-days"] if said else [])


def test_runs_of_different_symptoms_are_not_mixed():
    rows = [
        row for pair in zip(run([4] * 7), run(range(1, 8), "wind"), strict=True) for row in pair
    ]
    problems = check_entries(diary(*rows), TODAY)
    assert [(p.code, p.date, p.value) for p in problems] == [
        ("same-score-for-days", "2026-03-01", "4")
    ]
    assert "pain" in problems[0].message
    assert np.isfinite(float(problems[0].value))
