from __future__ import annotations

import datetime as dt

import pytest

from challenge.logbook.answers import (
    UnclearError,
    clock_change,
    read_amount,
    read_picked,
    read_score,
    read_stool,
    read_time,
    read_yes,
)

DAY = dt.date(2026, 3, 9)
EVENING = dt.datetime(2026, 3, 9, 19, 10)


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("8:10", "2026-03-09T08:10"),
        (" 08.10 ", "2026-03-09T08:10"),
        ("8h10", "2026-03-09T08:10"),
        ("7:05 pm", "2026-03-09T19:05"),
        ("now", "2026-03-09T19:10"),
        ("19:14", "2026-03-09T19:14"),
        ("04:00", "2026-03-09T04:00"),
        ("2026-03-09T08:10", "2026-03-09T08:10"),
    ],
)
def test_times_as_people_write_them(text, time):
    assert read_time(text, DAY, EVENING) == dt.datetime.fromisoformat(time)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("19:16", "still to come"),
        ("03:30", "--on yesterday"),
        ("8", "like 08:10"),
        ("25:00", "like 08:10"),
        ("morning", "like 08:10"),
        ("", "like 08:10"),
        ("2026-03-08T08:10", "another day"),
        ("2026-03-10T03:30", "still to come"),
        ("2026-02-30T08:10", "no date"),
    ],
)
def test_times_that_cannot_be(text, why):
    with pytest.raises(UnclearError, match=why):
        read_time(text, DAY, EVENING)


def test_the_small_hours_belong_to_the_evening_before():
    morning = dt.datetime(2026, 3, 10, 9)
    assert read_time("3:59", DAY, morning) == dt.datetime(2026, 3, 10, 3, 59)
    with pytest.raises(UnclearError, match="another day"):
        read_time("2026-03-10T04:00", DAY, morning)


def test_clock_changes_are_known_only_with_a_zone():
    """IANA tz database: Europe/London leaves out 01:00-01:59 on 29 March 2026."""
    time = dt.datetime(2026, 3, 29, 1, 30)
    assert clock_change(time, "Europe/London") == "time-skipped"
    assert clock_change(time, "") == ""
    assert clock_change(dt.datetime(2026, 10, 25, 1, 30), "Europe/London") == "time-twice"


def test_scores_stools_yes_and_amounts():
    assert [read_score(t) for t in ("0", "10", "x", "X", " 7 ", "", "-")] == [
        0, 10, 10, 10, 7, None, None,
    ]  # fmt: skip
    assert [read_stool(t) for t in ("1", "7", "", "n")] == [1, 7, None, None]
    assert (read_yes("Y"), read_yes("no")) == (True, False)
    assert [read_amount(t) for t in ("150", "62,5", "200 mL", "30g", "")] == [
        150, 62.5, 200, 30, None,
    ]  # fmt: skip
    refused = {
        read_stool: ("8", "0", "soft"),
        read_yes: ("", "maybe"),
        read_amount: ("0", "5001", "a cup", "1e3"),
    }
    for read, text in ((read, text) for read, texts in refused.items() for text in texts):
        with pytest.raises(UnclearError):
            read(text)


def test_numbers_or_names_out_of_a_list():
    names = ("illness", "new medicine", "stress")
    assert read_picked("2, 3", names) == ("new medicine", "stress")
    assert read_picked("2 3 2", names) == ("new medicine", "stress")
    assert read_picked("new medicine", names) == ("new medicine",)
    assert read_picked("", names) == read_picked("no", names) == ()
    for text in ("4", "0", "fever", "1.5"):
        with pytest.raises(UnclearError):
            read_picked(text, names)
