"""Times of day as people write them: read where they mean one thing, asked about where not."""

import pytest

from challenge.diary.clocks import point_means
from challenge.diary.intake import read_bytes
from challenge.diary.options import ReadOptions


def apart(*clocks, days=13):
    lines = "".join(f'{days + n}.03.2026;"{clock}";3\n' for n, clock in enumerate(clocks))
    return read_bytes(f"Datum;Uhrzeit;pain\n{lines}".encode(), "f.csv", ReadOptions())


def together(*clocks):
    lines = "".join(f'"{13 + n}.03.2026 {clock}",pain,3\n' for n, clock in enumerate(clocks))
    return read_bytes(f"time,symptom,score\n{lines}".encode(), "f.csv", ReadOptions())


EITHER = pytest.mark.parametrize("read", [apart, together])


@EITHER
@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("12.45", "12:45"), ("9.05", "09:05"), ("21.15", "21:15"), ("9pm", "21:00"),
        ("9 pm", "21:00"), ("9 p.m.", "21:00"), ("9AM", "09:00"), ("9:15 PM", "21:15"),
        ("9.15 pm", "21:15"), ("12:15 am", "00:15"), ("21h15", "21:15"), ("21h", "21:00"),
        ("21 h", "21:00"), ("21 Uhr", "21:00"), ("21.15 Uhr", "21:15"), ("21 uhr", "21:00"),
        ("21.15 UHR", "21:15"), ("21:15 h", "21:15"), ("21:15h", "21:15"),
    ],
)  # fmt: skip
def test_what_means_one_time_is_read(read, text, time):
    rows = read(text, text)
    assert [row[0] for row in rows.scores()] == [f"2026-03-13T{time}", f"2026-03-14T{time}"]
    assert not [p for p in rows.problems if p.severity == "error"]


@EITHER
@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("9.5", "time-point-unclear"), ("9.0", "time-point-unclear"),
        ("12.75", "time-point-unclear"), ("25.10", "time-impossible"),
        ("13pm", "time-impossible"), ("12pm", "time-noon-or-midnight"),
        ("12 am", "time-noon-or-midnight"), ("9.5pm", "time-unreadable"),
    ],
)  # fmt: skip
def test_what_may_mean_two_times_or_none_is_refused(read, text, code):
    rows = read(text, "20:00")
    assert [row[0] for row in rows.scores()] == ["2026-03-14T20:00"]
    assert [(p.code, p.line) for p in rows.problems] == [(code, 2)]


@pytest.mark.parametrize("text", ["8", "830", "2030", "12,45", "noon", "9.15.30", "0.25"])
def test_a_time_of_day_that_cannot_be_read_is_told_under_its_own_column(text):
    rows = apart(text, "20:00")
    (problem,) = rows.problems
    assert (problem.line, problem.column, problem.value) == (2, "Uhrzeit", text)
    assert "08:30" in problem.remedy


def test_a_date_that_cannot_be_read_is_told_under_the_dates():
    (problem,) = apart("20:00", "20:00", days=31).problems
    assert (problem.line, problem.column, problem.value) == (3, "Datum", "32.03.2026 20:00")


@EITHER
def test_it_is_said_once_in_how_many_rows_a_point_was_read_as_a_colon(read):
    rows = read("12.45", "08:00", "8.30", "8.30")
    (problem,) = rows.problems
    assert (problem.code, problem.severity, problem.line) == ("time-with-point", "warning", 1)
    assert problem.message.endswith("In 3 rows; 12.45 is 12:45.")


@EITHER
@pytest.mark.parametrize("other", ["9.5", "12.75", "0.375"])
def test_beside_a_number_no_point_is_taken_for_a_colon(read, other):
    rows = read("12.45", other, "20:00")
    assert [row[0] for row in rows.scores()] == ["2026-03-15T20:00"]
    assert (rows.problems[0].code, rows.problems[0].line) == ("time-point-unclear", 2)


@EITHER
def test_beside_am_and_pm_a_bare_time_with_a_point_is_asked_about(read):
    rows = read("9 pm", "8.30")
    assert [(p.code, p.line) for p in rows.problems] == [("time-half-day-missing", 3)]


@pytest.mark.parametrize(
    ("texts", "means"),
    [
        ((), ""),
        (("08:00",), ""),
        (("12.45", "9.05"), "minutes"),
        (("0.5", "0.375", "0.25"), "fraction"),
        (("0.25",), "unclear"),
        (("0.30", "12.45"), "unclear"),
        (("0.5", "12.45"), "unclear"),
        (("12.45", "12.60"), "unclear"),
    ],
)
def test_what_a_point_means(texts, means):
    assert point_means(texts) == means


@pytest.mark.parametrize("text", ["13. 03.26", "Fr 13. 03.26", "13 . 03 . 2026", "13.03.26"])
def test_the_end_of_a_date_is_no_time(text):
    rows = read_bytes(f"start,event\n{text},illness\n".encode(), "e.csv", ReadOptions())
    assert [row[0] for row in rows.events] == ["2026-03-13"]
