"""Times that a change of the clocks leaves out or gives twice.

Days of change as laid down for the European Union and the United Kingdom (last Sundays of March
and October, 01:00 UTC, directive 2000/84/EC), the United States (second Sunday of March, first of
November, 02:00 local, Energy Policy Act of 2005) and, for a gap at midnight, Chile and Lebanon as
in the IANA database.
"""

from __future__ import annotations

import datetime as dt
import json
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

import challenge.commands.add
import challenge.commands.check  # noqa: F401
from challenge.commands.app import app
from challenge.diary.clock_changes import SKIPPED, TWICE, clock_changes

ZONES = [
    "Europe/London",
    "Europe/Berlin",
    "Europe/Warsaw",
    "America/New_York",
    "Australia/Lord_Howe",
    "America/Santiago",
    "Asia/Kolkata",
    "Africa/Casablanca",
]


@pytest.mark.parametrize(
    ("zone", "time", "code"),
    [
        ("Europe/London", "2026-03-29T00:59", None),
        ("Europe/London", "2026-03-29T01:00", SKIPPED),
        ("Europe/London", "2026-03-29T01:59:59", SKIPPED),
        ("Europe/London", "2026-03-29T02:00", None),
        ("Europe/London", "2026-10-25T01:30", TWICE),
        ("Europe/London", "2026-10-25T02:00", None),
        ("Europe/Warsaw", "2026-03-29T02:30", SKIPPED),
        ("Europe/Berlin", "2026-10-25T02:59", TWICE),
        ("America/New_York", "2026-03-08T02:30", SKIPPED),
        ("America/New_York", "2026-11-01T01:30", TWICE),
        ("America/Santiago", "2026-09-06T00:15", SKIPPED),
        ("America/Santiago", "2026-04-04T23:15", TWICE),
        ("Australia/Lord_Howe", "2026-10-04T02:15", SKIPPED),
        ("Asia/Kolkata", "2026-03-29T02:30", None),
        ("UTC", "2026-03-29T01:30", None),
        ("", "2026-03-29T01:30", None),
    ],
)
def test_times_known_to_be_left_out_or_doubled(zone, time, code):
    assert clock_changes([time, ""], zone).get(time) == code


@given(
    zone=st.sampled_from(ZONES),
    times=st.lists(st.datetimes(dt.datetime(2020, 1, 1), dt.datetime(2035, 1, 1)), max_size=20),
    near=st.integers(-4, 4),
)
def test_pandas_finds_the_same_times(zone, times, near):
    # an independent implementation: pandas.Series.dt.tz_localize
    year = times[0].year if times else 2026
    days = pd.date_range(f"{year}-01-01", f"{year}-12-31", freq="D")
    offsets = [day.to_pydatetime().replace(tzinfo=ZoneInfo(zone)).utcoffset() for day in days]
    edges = [day for day, a, b in zip(days, offsets, offsets[1:], strict=False) if a != b]
    times = [t.replace(microsecond=0) for t in times]
    times += [(d + pd.Timedelta(minutes=30 * (4 + near))).to_pydatetime() for d in edges]
    texts = [t.isoformat(timespec="seconds") for t in times]
    found = clock_changes(texts, zone)
    series = pd.Series(pd.to_datetime(times))
    gaps = series.dt.tz_localize(zone, nonexistent="NaT", ambiguous=[True] * len(series)).isna()
    twice = series.dt.tz_localize(zone, nonexistent="shift_forward", ambiguous="NaT").isna()
    for text, gap, double in zip(texts, gaps, twice, strict=True):
        assert found.get(text) == (SKIPPED if gap else TWICE if double else None)


@pytest.fixture
def client(tmp_path, monkeypatch):
    monkeypatch.setenv("CHALLENGE_NOW", "2026-12-01T10:00")
    folder = tmp_path / "juniper"
    folder.mkdir()
    return folder


def run(*words):
    result = CliRunner().invoke(app, [*map(str, words), "--json"])
    return result.exit_code, json.loads(result.stdout)


def zone(folder, name):
    (folder / "client.toml").write_text(f'[diary]\ntimezone = "{name}"\n', encoding="utf-8")


def symptoms(path, *times):
    rows = "".join(f"{time},pain,{n}\n" for n, time in enumerate(times))
    path.write_text(f"time,symptom,score\n{rows}", encoding="utf-8")
    return path


def test_a_time_that_never_was_is_refused_with_a_remedy(client, tmp_path):
    zone(client, "Europe/London")
    code, told = run("add", client, symptoms(tmp_path / "a.csv", "2026-03-29T01:30"))
    assert code == 1
    (problem,) = told["problems"]
    assert (problem["code"], problem["severity"], problem["line"]) == ("time-skipped", "error", 2)
    assert "put forward" in problem["message"] and "earlier or later" in problem["remedy"]


def test_a_time_that_came_twice_is_taken_with_a_warning(client, tmp_path):
    zone(client, "Europe/London")
    code, told = run("add", client, symptoms(tmp_path / "a.csv", "2026-10-25T01:30"))
    assert (code, told["new"]["symptoms"]) == (0, 1)
    assert [(p["code"], p["severity"]) for p in told["problems"]] == [("time-twice", "warning")]


def test_setting_the_zone_later_makes_no_diary_unreadable(client, tmp_path):
    times = ("2026-03-29T01:30", "2026-03-29T08:00")
    assert run("add", client, symptoms(tmp_path / "a.csv", *times))[0] == 0
    zone(client, "Europe/London")
    _, told = run("check", client)
    assert [(p["severity"], p["line"]) for p in told["problems"] if p["code"] == SKIPPED] == [
        ("warning", 2)
    ]
    # and more can be added beside it
    code, told = run("add", client, symptoms(tmp_path / "b.csv", "2026-03-30T08:00"))
    assert (code, told["new"]["symptoms"]) == (0, 1)
    lines = (client / "symptoms.csv").read_text(encoding="utf-8").splitlines()
    assert [line[:16] for line in lines[1:]] == [*times, "2026-03-30T08:00"]
