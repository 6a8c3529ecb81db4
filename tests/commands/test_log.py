"""``challenge log`` by options: what is stored, what is refused, what the client reads."""

from __future__ import annotations

import datetime as dt
import json

import pytest

from challenge.files.folder import IMPORTS
from challenge.files.log_start import read_log_start
from challenge.files.reading import read_diary, read_plan
from challenge.logbook.written import written_on
from tests.commands.folders import contents, flat
from tests.commands.folders import run as run_program
from tests.commands.logging_client import (
    SCREENED,
    eat_all_doses,
    make_client,
    score_baseline,
)

DAY = dt.date(2026, 3, 5)
NOW = "2026-03-05T19:10"


@pytest.fixture
def client(tmp_path):
    return make_client(tmp_path)


@pytest.fixture
def log(monkeypatch, capsys, client):
    def run(*words, now=NOW, exit_code=0):
        code, out, err = run_program(monkeypatch, capsys, "log", client, *words, now=now)
        assert code == exit_code, (out, err)
        return out + err

    return run


def scores(client):
    table = read_diary(client).symptoms
    return {
        (f"{time:%Y-%m-%dT%H:%M}", symptom): score
        for time, symptom, score in zip(
            table["time"], table["symptom"], table["score"], strict=True
        )
    }


def test_scores_food_stool_and_event_of_one_time(client, log):
    shown = log(
        "--score", "pain=3", "--score", "bloating=10", "--stool", "4", "--food", "toast=40",
        "--event", "travel", "--until", "2026-03-06", "--note", "a long train ride",
        "--at", "8:10",
    )  # fmt: skip
    assert scores(client) == {
        ("2026-03-05T08:10", "pain"): 3,
        ("2026-03-05T08:10", "bloating"): 10,
        ("2026-03-05T08:10", "stool_form"): 4,
    }
    diary = read_diary(client)
    assert set(diary.symptoms["entered_at"].astype(str)) == {"2026-03-05 19:10:00"}
    assert diary.foods[["food", "portion_g"]].to_numpy().tolist() == [["toast", 40]]
    (event,) = diary.events.to_dict("records")
    assert (event["event"], str(event["end"].date())) == ("travel", "2026-03-06")
    assert '08:10 pain 3, bloating 10 "a long train ride"' in shown
    assert "Ratings on Thursday: 1 of 5. Not yet: midday, evening." in shown


def test_the_challenge_food_comes_with_group_and_grams(client, log):
    log("--ate", "--amount", "30", "--at", "8:00")
    (milk,) = read_diary(client).foods.to_dict("records")
    # the plan's portion is 60 mL for 3 g
    assert (milk["portion_g"], milk["fodmap_group"], milk["fodmap_g"]) == (30, "lactose", 1.5)
    assert "You have eaten today's challenge food" in log("--ate", exit_code=1)
    log("--ate", "--at", "8:00", "--correct")
    (milk,) = read_diary(client).foods.to_dict("records")
    assert (milk["portion_g"], milk["fodmap_g"]) == (60, 3)


def test_a_challenge_food_that_was_not_due_counts_all_the_same(client, log):
    log("--food", "Cow's Milk=49", now="2026-03-09T12:00")
    log("--food", "cow's milk=245", "--on", "2026-03-07", "--at", "8:00", now="2026-03-09T12:00")
    first, second = read_diary(client).foods.to_dict("records")
    # 12 g in the 245 mL of that day's step; 3 g in the 60 mL of the first step
    assert (first["fodmap_group"], first["fodmap_g"]) == ("lactose", 12)
    assert (second["food"], second["fodmap_g"]) == ("cow's milk", 2.45)


def test_a_correction_replaces_and_keeps_what_was_before(client, log):
    log("--score", "pain=3", "--at", "8:10")
    before = contents(client / IMPORTS)
    assert "on record is 3" in log("--score", "pain=4", "--at", "8:10", exit_code=1)
    assert scores(client) == {("2026-03-05T08:10", "pain"): 3}
    log("--score", "pain=4", "--at", "8:10", "--correct")
    assert scores(client) == {("2026-03-05T08:10", "pain"): 4}
    kept = contents(client / IMPORTS)
    assert all(
        kept[path] == data for path, data in before.items() if data and path.name != "state.json"
    )
    assert "on record already" in log("--score", "pain=4", "--at", "8:10")


def test_a_stop_is_told_as_soon_as_it_is_written(client, log):
    score_baseline(client)
    log("--ate", "--at", "8:00")
    assert "That is a result too" not in " ".join(log("--score", "pain=8", "--at", "10:00").split())
    # two parts of one day at 7 or more end a challenge
    assert "That is a result too" in " ".join(log("--score", "pain=9", "--at", "13:00").split())


def test_wrong_times_and_wrong_entries(client, log):
    log("--score", "pain=3", "--food", "toast", "--at", "8:10")
    log("--move", "8:10", "--at", "9:30")
    assert scores(client) == {("2026-03-05T09:30", "pain"): 3}
    assert read_diary(client).foods["time"].dt.hour.tolist() == [9]
    shown = log("--remove", "9:30", "--score", "pain=4", "--at", "9:40")
    assert "09:30 toast: taken out" in shown
    assert scores(client) == {("2026-03-05T09:40", "pain"): 4}
    assert "Nothing is written at 09:30" in log("--remove", "9:30", exit_code=1)
    log("--move", "9:40", exit_code=2)
    log("--move", "9:40", "--at", "9:50", "--stool", "4", exit_code=2)
    assert "still to come" in log("--move", "9:40", "--at", "20:00", exit_code=1)


def test_all_that_is_wrong_is_said_at_once_and_nothing_stored(client, log):
    shown = log(
        "--score", "pain=11", "--score", "mood=2", "--score", "wind", "--stool", "8",
        "--food", "=40", "--food", "tea=lots", exit_code=1,
    )  # fmt: skip
    for text in (
        "pain=11",
        "mood=2",
        "--score wind",
        "--stool 8",
        "the name is missing",
        "tea=lots",
    ):
        assert text in shown
    assert "Nothing was stored." in shown
    assert not (client / "symptoms.csv").exists()


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--at", "8:10"), 2),
        (("--json",), 2),
        (("--amount", "30", "--score", "pain=1"), 2),
        (("--on", "someday", "--score", "pain=1"), 2),
        (("--on", "2026-03-06", "--score", "pain=1"), 1),
        (("--on", "yesterday", "--score", "pain=1"), 1),
        (("--at", "19:30", "--score", "pain=1"), 1),
        (("--at", "teatime", "--score", "pain=1"), 1),
        (("--until", "2026-03-04", "--event", "travel"), 1),
    ],
)
def test_wrong_usage_and_impossible_times(client, log, words, code):
    log(*words, exit_code=code)
    assert not (client / IMPORTS).exists()


def test_without_a_terminal_it_says_what_to_give(client, log):
    shown = log(exit_code=1)
    for option in ("--score", "--ate", "--food", "--stool", "--event", "--note", "--at"):
        assert option in shown


def test_after_midnight_belongs_to_the_day_before(client, log):
    shown = log("--score", "pain=2", now="2026-03-06T00:40")
    assert list(scores(client)) == [("2026-03-06T00:40", "pain")]
    assert "Ratings on Thursday: 1 of 5. Not yet: morning, midday." in shown
    assert "--at 08:10" in log("--ate", now="2026-03-06T00:40", exit_code=1)
    log("--score", "pain=1", "--on", "yesterday", "--at", "3:30", now="2026-03-06T09:00")
    assert ("2026-03-06T03:30", "pain") in scores(client)


def test_the_night_of_a_clock_change(client, log):
    """Europe/London, 29 March and 25 October 2026 (IANA tz database)."""
    shown = log("--score", "pain=2", "--at", "1:30", now="2026-03-29T02:30", exit_code=1)
    assert "did not exist" in shown
    shown = log("--score", "pain=2", "--at", "1:30", now="2026-10-25T01:40")
    assert "01:30 occurred twice" in shown


def test_words_for_the_doctor_come_before_anything_else(client, log):
    shown = log("--score", "pain=4", "--note", "blood in the stool")
    assert "Contact your doctor before you go on with the plan" in shown
    assert "Ratings" not in shown
    told = json.loads(log("--score", "pain=4", "--note", "fainted", "--at", "8:00", "--json"))
    assert [alarm["sign"] for alarm in told["alarms"]] == ["fainting"]
    assert "Contact your doctor" in log("--ate", exit_code=1)


def test_every_note_of_a_day_is_kept(client, log):
    log("--note", "a long walk in the hills with friends")
    assert "Stored:" in log("--note", "fever")
    assert "on record already" in log("--note", "fever")
    assert sorted(read_diary(client).events["note"]) == [
        "a long walk in the hills with friends",
        "fever",
    ]


def test_a_doctors_word_settles_what_was_written_before_it_only(client, log, monkeypatch, capsys):
    def today():
        return run_program(monkeypatch, capsys, "today", client, now=NOW)[1]

    log("--note", "blood in the stool")
    assert "Contact your doctor" in today()
    words = ("--doctor", "diary-alarm=GP", "--by", "AB")
    code, _, err = run_program(monkeypatch, capsys, "new", client, *words, now=NOW)
    assert code == 0, err
    assert "Contact your doctor" not in today()
    log("--note", "blood again")
    assert "Thursday 5 March: blood again" in today()
    assert "blood in the stool" not in today()


@pytest.mark.parametrize(
    ("settings", "why"),
    [
        (SCREENED.replace("conditions = []", 'conditions = ["galactosaemia"]'), "lactose"),
        (SCREENED.replace("conditions = []", 'conditions = ["eating-disorder"]'), "screening"),
        (
            SCREENED.replace("diagnosed_by_doctor = true", "diagnosed_by_doctor = false"),
            "screening",
        ),
    ],
)
def test_no_challenge_food_while_the_screening_holds_it_up(
    tmp_path, monkeypatch, capsys, settings, why
):
    client = make_client(tmp_path, settings)
    code, out, err = run_program(monkeypatch, capsys, "log", client, "--ate", now=NOW)
    assert (code, out) == (1, "")
    assert "no challenge food" in err.casefold()
    assert "milk" not in err
    code, out, _ = run_program(monkeypatch, capsys, "log", client, "--score", "pain=1", now=NOW)
    assert code == 0


@pytest.mark.parametrize(
    ("now", "line"), [("2026-03-03T12:00", "No challenge food"), ("2026-03-01T12:00", "not begun")]
)
def test_days_without_a_dose(client, log, now, line):
    assert line in log("--ate", now=now, exit_code=1)
    log("--score", "pain=1", now=now)


def test_a_sealed_sachet(client, log, monkeypatch, capsys, tmp_path):
    score_baseline(client)
    eat_all_doses(client)
    for quiet in range(5, 11):
        for clock in ("8:10", "13:00", "20:00"):
            log("--score", "pain=1", "--score", "bloating=1",
                "--on", f"2026-03-{quiet:02d}", "--at", clock, now="2026-03-11T08:00")  # fmt: skip
    code, _, err = run_program(
        monkeypatch, capsys, "blind", client, "lactose", "--key-file", tmp_path / "a.key",
        now="2026-03-11T08:00",
    )  # fmt: skip
    assert code == 0, err
    sachet = next(day for day in read_plan(client) if day.sealed)
    told = json.loads(log("--ate", "--json", now=f"{sachet.date}T09:00"))
    assert told["entries"] == [f"09:00 {sachet.food}"]
    food = read_diary(client).foods.to_dict("records")[-1]
    assert (food["food"], food["fodmap_group"]) == (sachet.food, "")


def test_a_folder_without_plan_and_settings_can_be_logged_in(tmp_path, monkeypatch, capsys):
    folder = tmp_path / "elder"
    folder.mkdir()
    code, out, _ = run_program(monkeypatch, capsys, "log", folder, "--score", "pain=1", now=NOW)
    assert code == 0
    assert "Ratings on Thursday: 1 of 3" in out
    code, _, err = run_program(monkeypatch, capsys, "log", folder, "--ate", now=NOW)
    assert code == 1
    assert "challenge plan" in err


@pytest.mark.parametrize(
    "table",
    [
        "date,time,pain,bloating\n2026-03-05,08:10,3,2\n2026-03-14,08:10,1,1\n",
        "time,symptom,score,note,entered_at\n5.3.2026 08:10,pain,3,,\n14.3.2026 08:10,pain,1,,\n",
    ],
)
def test_tables_in_another_form_are_read_as_ever(client, table):
    (client / "symptoms.csv").write_text(table)
    start = read_log_start(client, DAY)
    written = written_on((), start.symptoms_given, DAY)
    assert [line.listed[:12] for line in written.lines] == ["08:10 pain 3"]


def test_notes_over_several_lines_and_formula_guards_are_read(client, log):
    log("--score", "pain=3", "--note", "=one\ntwo", "--food", "+toast", "--at", "8:10")
    log("--score", "pain=4", "--at", "9:10")
    start = read_log_start(client, DAY)
    assert [row[1] for row in start.foods] == ["+toast"]
    assert [row[3] for row in start.symptoms_given] == ["=one\ntwo", ""]


def test_wrong_settings_are_said_with_their_keys(client, log):
    (client / "client.toml").write_text('[diary]\nratings_per_day = "three"\n')
    assert "diary.ratings_per_day must be a whole number" in flat(
        log("--score", "pain=1", exit_code=1)
    )
