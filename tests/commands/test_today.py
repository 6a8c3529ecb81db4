"""``challenge today`` as a client reads it, on a plan with one stopped challenge.

Seven days of baseline, fructans stopped after the second dose, then fructose. The diary is the
file that a client sends; every day is asked about with the diary as it stood that morning.
"""

import csv
import datetime as dt
import json

import pytest

from tests.commands.folders import flat, run

START = dt.date(2026, 3, 2)
SCREENED = (
    "--by", "AB", "--diagnosed", "--coeliac-test", "negative", "--on-gluten", "--helped",
    "--measure", "IBS-SSS", "--change", "120", "--weeks", "5", "--alarm", "none", "--allergy",
    "none", "--condition", "none", "--medicine", "none",
)  # fmt: skip
USUAL = {"pain": 1, "bloating": 2, "wind": 2, "discomfort": 1, "urgency": 0}
STOPPED_ON = 9


def day(number):
    return START + dt.timedelta(days=number - 1)


class Client:
    """A client whose plan is laid and whose diary grows."""

    def __init__(self, folder, monkeypatch, capsys):
        self.folder = folder / "juniper"
        self.run = lambda *words, now: run(monkeypatch, capsys, *words, now=now)
        self.sent = folder
        for words in (("new", self.folder, *SCREENED), ("plan", self.folder, "--start", START)):
            code, _, err = self.run(*words, now="2026-03-01T09:00")
            assert code == 0, err

    def write(self, last, high=lambda number, slot: 0):
        """Send the diary of days 1 to ``last``; on the stopped day two slots are bad."""
        symptoms = [("time", "symptom", "score")]
        foods = [("time", "food", "portion_g", "fodmap_group", "fodmap_g")]
        for number in range(1, last + 1):
            for slot, clock in enumerate(("08:00", "13:00", "20:30")):
                bad = 6 if number == STOPPED_ON and slot > 0 else high(number, slot)
                symptoms += [
                    (f"{day(number)}T{clock}", name, score + (bad if name == "bloating" else 0))
                    for name, score in USUAL.items()
                ]
            grams = {8: 2, 9: 4}.get(number)
            if grams:
                foods.append((f"{day(number)}T08:15", "pure inulin", grams, "fructans", grams))
        for name, rows in (("symptoms.csv", symptoms), ("foods.csv", foods)):
            with (self.sent / name).open("w", newline="", encoding="utf-8") as file:
                csv.writer(file).writerows(rows)
        files = (self.sent / "foods.csv", self.sent / "symptoms.csv")
        code, _, err = self.run("add", self.folder, *files, now=f"{day(last)}T21:00")
        assert code == 0, err

    def today(self, number, *options, clock="07:30"):
        code, out, err = self.run("today", self.folder, *options, now=f"{day(number)}T{clock}")
        assert code == 0, err
        assert max(len(line) for line in out.splitlines()) <= 80
        return " ".join(out.split())


@pytest.fixture
def client(tmp_path, monkeypatch, capsys):
    return Client(tmp_path, monkeypatch, capsys)


def test_day_1(client):
    text = client.today(1)
    assert text.startswith("Monday 2 March 2026, day 1 of 43 No challenge food today.")
    assert "The first challenge food comes on Monday 9 March." in text
    assert "Score morning, midday, evening, 0 (none) to 10 (worst): pain, bloating, wind," in text
    assert "Tomorrow: no challenge food." in text
    assert "Eat today" not in text
    assert "baseline: 0 of 7 days scored" in client.today(1, "--why")


def test_day_9(client):
    client.write(8)
    text = client.today(9)
    assert "day 9 of 43" in text
    assert "Eat today: 4 g pure inulin (about 1 1/4 level teaspoons)" in text
    assert "You may stop at any time" in text
    assert "Tomorrow: 6 g pure inulin" in text
    why = client.today(9, "--why")
    assert "baseline: 7 of 7 days scored; bloating 2.0" in why
    assert "fructans, cycle 1: step 1 on 1 day" in why
    assert "dose: 4 g fructans, step 2 of 3" in why
    assert "stop rule: 7 or more, or 3 above its baseline mean, in 2 parts of one day" in why


def test_the_evening_of_day_9_says_stop_before_the_next_dose(client):
    client.write(9)
    text = client.today(9, clock="21:30")
    assert "You have eaten today's challenge food." in text
    assert "Stop the challenge with pure inulin: your symptoms were strong." in text
    assert "Tomorrow: no challenge food, a break begins." in text


def test_day_10(client):
    client.write(9)
    text = client.today(10)
    # one dose less, so the plan is a day shorter
    assert "day 10 of 42" in text
    assert "Stop the challenge with pure inulin" in text
    assert "No challenge food today" in text
    assert "at least until Friday 13 March, and until your symptoms are back" in text
    assert "Later days of your plan have moved." in text
    assert "Eat today" not in text
    why = client.today(10, "--why")
    assert "ended 2026-03-10: bloating at 8 or more in 2 of 3 parts of the day (limit 7)" in why
    assert why.count("bloating at 8 or more") == 1
    assert "a stop is no proof: on invented clients this rule ends about 14 %" in why
    assert "washout after fructans: 0 days without a dose, at least 3; settled: unknown" in why


def test_day_12(client):
    client.write(11)
    text = client.today(12)
    assert "The challenge with pure inulin ended on Tuesday 10 March: your symptoms were" in text
    assert "Stop" not in text
    assert "If they stay so, the break ends tonight." in text
    assert "Tomorrow: 2.5 g pure fructose" in text
    assert "if your symptoms stay settled" in text
    why = client.today(12, "--why")
    assert "2 days without a dose, at least 3; settled: yes" in why
    assert "over: no" in why
    # once the plan is written anew there is nothing that has moved
    assert client.run("plan", client.folder, now=f"{day(12)}T08:00")[0] == 0
    assert "have moved" not in client.today(12)


def test_day_12_with_symptoms_that_have_not_settled(client):
    client.write(11, high=lambda number, slot: 3 if number > 9 else 0)
    text = client.today(12)
    assert "They are not yet." in text
    assert "if your symptoms have settled" in text
    # three days without a dose are not enough then
    client.write(12, high=lambda number, slot: 3 if number > 9 else 0)
    text = client.today(13)
    assert "No challenge food today" in text
    assert "Eat today" not in text


def test_day_13_after_a_settled_washout(client):
    client.write(12)
    text = client.today(13, "--why")
    assert "The break is over: your symptoms are back to how they were at the start." in text
    assert "Eat today: 2.5 g pure fructose" in text
    assert "3 days without a dose, at least 3; settled: yes" in text
    assert "over: yes" in text


def test_after_the_longest_washout_the_dietitian_is_asked_and_no_dose_is_promised(client):
    client.write(25, high=lambda number, slot: 3 if number > 9 else 0)
    text = client.today(26)
    assert "The break has lasted long enough. Ask your dietitian how to go on." in text
    assert "Tomorrow" not in text
    assert "Eat today" not in text


def test_who_wrote_nothing_for_two_weeks_is_looked_at_before_any_dose(client):
    client.write(10)
    text = client.today(26)
    assert "No challenge food today" in text and "Ask your dietitian how" not in text
    assert "Write your scores: without them nobody can tell when the break is over." in flat(text)


def test_json_has_the_same_facts(client):
    client.write(9)
    code, out, _ = client.run("today", client.folder, "--json", now=f"{day(10)}T07:30")
    assert code == 0
    told = json.loads(out)
    assert (told["day"], told["days"], told["situation"], told["eat"]) == (10, 42, "washout", None)
    assert (told["stop"]["date"], told["stop"]["reason"]) == ("2026-03-10", "level")
    assert told["washout"]["over"] is False
    assert told["next_dose"] == "2026-03-14"


@pytest.mark.parametrize(
    ("number", "condition"),
    [
        (8, "Start only without a warning sign"),
        (9, "Eat it only if you ate the amount before it and it went well"),
    ],
)
def test_without_any_entry_a_dose_has_a_condition(tmp_path, monkeypatch, capsys, number, condition):
    client = Client(tmp_path, monkeypatch, capsys)
    code, out, _ = client.run("today", client.folder, now=f"{day(number)}T07:00")
    assert code == 0
    assert "Eat today" in out
    assert condition in " ".join(out.split())


def test_with_the_days_before_in_the_diary_the_dose_has_none(tmp_path, monkeypatch, capsys):
    client = Client(tmp_path, monkeypatch, capsys)
    client.write(8)
    code, out, _ = client.run("today", client.folder, now=f"{day(9)}T07:00")
    assert code == 0
    assert "Eat today" in out
    assert "only if" not in out
