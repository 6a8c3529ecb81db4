"""``challenge new``, ``plan`` and ``today`` from the command line, and the calendar they write."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from icalendar import Calendar

from tests.commands.folders import flat

SCREENED = (
    "--by", "AB", "--diagnosed", "--coeliac-test", "negative", "--on-gluten", "--helped",
    "--weeks", "5", "--alarm", "none", "--allergy", "none",
)  # fmt: skip


ROOT = Path(__file__).parents[2]


def environment(now):
    return {**os.environ, "CHALLENGE_NOW": now, "PYTHONPATH": str(ROOT)}


def run(folder, *args, now="2026-03-01T09:00"):
    return subprocess.run(
        [sys.executable, "-m", "challenge", *args],
        cwd=folder,
        env=environment(now),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def client(tmp_path):
    done = run(tmp_path, "new", "juniper", *SCREENED, "--condition", "none")
    assert done.returncode == 0, done.stderr
    return tmp_path


def test_plan_writes_the_same_days_into_plan_and_calendar(client):
    done = run(client, "plan", "juniper", "--start", "2026-03-02", "--ics", "--json")
    assert done.returncode == 0, done.stderr
    days = json.loads(done.stdout)["days"]
    assert len(days) == 7 + 36  # six groups of three challenge and three washout days
    calendar = Calendar.from_ical((client / "juniper/plan.ics").read_bytes())
    events = calendar.walk("VEVENT")
    assert [event["DTSTART"].dt.isoformat() for event in events] == [d["date"] for d in days]
    for event, day in zip(events, days, strict=True):
        assert (day["food"] in str(event["SUMMARY"])) or not day["food"]
        assert not any(w in str(event["SUMMARY"]).casefold() for w in ("bowel", "ibs", "fodmap"))


def test_a_calendar_written_again_updates_instead_of_doubling(client):
    run(client, "plan", "juniper", "--start", "2026-03-02", "--ics")
    first = (client / "juniper/plan.ics").read_bytes()
    run(client, "plan", "juniper", "--start", "2026-03-02", "--ics")
    assert (client / "juniper/plan.ics").read_bytes() == first
    run(client, "plan", "juniper", "--start", "2026-03-04", "--ics")
    events = Calendar.from_ical((client / "juniper/plan.ics").read_bytes()).walk("VEVENT")
    assert len({str(event["UID"]) for event in events}) == len(events)
    cancelled = [e["DTSTART"].dt.isoformat() for e in events if e["STATUS"] == "CANCELLED"]
    assert cancelled == ["2026-03-02", "2026-03-03"]
    assert max(int(event["SEQUENCE"]) for event in events) == 1


def test_no_plan_without_screening(tmp_path):
    (tmp_path / "fern").mkdir()
    done = run(tmp_path, "plan", "fern")
    assert done.returncode == 1
    assert "No screening is on record" in done.stderr
    assert not list((tmp_path / "fern").iterdir())


def test_no_plan_with_an_alarm_feature_and_none_after_the_start_is_moved(client):
    args = [a for a in SCREENED if a not in ("--alarm",)]
    assert run(client, "new", "ash", *args[:-3], "--alarm", "anaemia", "--allergy", "none",
               "--condition", "none").returncode == 0  # fmt: skip
    done = run(client, "plan", "ash")
    assert done.returncode == 1
    assert "Alarm feature" in done.stderr
    run(client, "plan", "juniper", "--start", "2026-03-02")
    logged = run(client, "log", "juniper", "--score", "pain=1", now="2026-03-02T09:00")
    assert logged.returncode == 0
    late = run(client, "plan", "juniper", "--start", "2026-03-20", now="2026-03-09T09:00")
    assert late.returncode == 1
    assert "its past cannot be moved" in flat(late.stderr)


def test_a_mistyped_start_is_told_and_can_be_put_right_while_nothing_was_written(client):
    wrong = run(client, "plan", "juniper", "--start", "2025-03-02")
    assert wrong.returncode == 0
    assert "The first day, 2025-03-02, has passed" in wrong.stderr
    right = run(client, "plan", "juniper", "--start", "2026-03-20")
    assert right.returncode == 0
    assert "has passed" not in right.stderr
    first = (client / "juniper" / "plan.csv").read_text("utf-8").splitlines()[1]
    assert first.startswith("2026-03-20,baseline")


def test_the_plan_says_first_what_a_doctor_must_hear(client):
    run(client, "plan", "juniper", "--start", "2026-03-02")
    run(client, "log", "juniper", "--note", "blood in the stool", now="2026-03-03T09:00")
    again = run(client, "plan", "juniper", now="2026-03-04T09:00")
    assert again.returncode == 0
    assert "blood in the stool" in again.stdout
    assert "--doctor diary-alarm=GP" in " ".join(again.stdout.split())


def test_silence_is_no_answer(tmp_path):
    done = run(tmp_path, "new", "juniper", *SCREENED)
    assert done.returncode == 1
    assert "--condition" in done.stderr
    assert not (tmp_path / "juniper").exists()


def test_a_block_is_not_lifted_by_an_option(client):
    condition = ("--condition", "hereditary-fructose-intolerance")
    done = run(client, "new", "juniper", "--again", *SCREENED, *condition)
    assert done.returncode == 0
    word = run(client, "new", "juniper", "--doctor",
               "restriction-did-not-help=GP", "--by", "AB")  # fmt: skip
    assert word.returncode == 1
    planned = run(client, "plan", "juniper", "--json")
    groups = {d["fodmap_group"] for d in json.loads(planned.stdout)["days"]}
    assert groups == {None, "lactose"}


def test_today_without_pandas_as_long_as_there_is_no_diary(client):
    run(client, "plan", "juniper", "--start", "2026-03-02")
    code = (
        "import sys; sys.argv = ['challenge', 'today', 'juniper'];"
        "from challenge.commands import main\n"
        "try: main()\nexcept SystemExit: pass\n"
        "assert 'pandas' not in sys.modules"
    )
    env = environment("2026-03-09T07:00")
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=client,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "day 8 of 43" in done.stdout
    assert "Eat today: 2 g pure inulin" in done.stdout
