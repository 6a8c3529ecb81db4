"""The limits of a day are those by which scores are matched, wherever they are asked for."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import pytest

from challenge.diary.day import diary_day, part_of_day
from challenge.model.sessions import SLOTS, build_sessions

DAY = dt.date(2026, 3, 2)


@pytest.mark.parametrize(
    ("clock", "later", "part"),
    [
        ("04:00", 0, "morning"),
        ("10:59", 0, "morning"),
        ("11:00", 0, "midday"),
        ("16:29", 0, "midday"),
        ("16:30", 0, "evening"),
        ("23:59", 0, "evening"),
        ("00:00", 1, "evening"),
        ("03:59", 1, "evening"),
    ],
)
def test_page_log_protocol_and_model_part_a_day_alike(clock, later, part):
    time = dt.datetime.fromisoformat(f"{DAY + dt.timedelta(days=later)}T{clock}")
    assert (diary_day(time), part_of_day(time)) == (DAY, part)
    table = pd.DataFrame({"time": [time], "symptom": ["pain"], "score": [1.0]})
    sessions = build_sessions(table, DAY, DAY, ("pain",))
    assert sessions.day.tolist() == [0]
    assert SLOTS[sessions.slot[0]] == part
