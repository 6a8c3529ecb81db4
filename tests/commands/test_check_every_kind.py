"""Every kind of problem that ``check`` knows, each brought about by hand in an invented folder."""

from __future__ import annotations

import datetime as dt
import json

import pytest

from .folders import run

START = dt.date(2026, 3, 2)
GRAMS = {"lactose": (3, 6, 12), "fructans": (1, 3, 6)}


def day(number: int) -> str:
    return (START + dt.timedelta(days=number)).isoformat()


PLAN = (
    [(n, "baseline", "", "", "") for n in range(7)]
    + [(7 + n, "challenge", "lactose", n + 1, GRAMS["lactose"][n]) for n in range(3)]
    + [(10 + n, "washout", "lactose", "", "") for n in range(3)]
    + [(13 + n, "challenge", "fructans", n + 1, GRAMS["fructans"][n]) for n in range(3)]
    + [(16 + n, "washout", "fructans", "", "") for n in range(3)]
)


class Folder:
    """A diary that keeps to its plan, to be spoilt one way at a time."""

    def __init__(self) -> None:
        self.foods = {
            n: [(f"{day(n)}T09:00", "test food", 50, group, grams, "")]
            for n, phase, group, _, grams in PLAN
            if phase == "challenge"
        }
        self.scores = {
            (n, hour, symptom): (1 + (n + hour // 5) % 2, "")
            for n, *_ in PLAN
            for hour in (8, 13, 20)
            for symptom in ("pain", "bloating")
        }
        self.more_scores: list[str] = []
        self.events: list[str] = []

    def write(self, path):
        path.mkdir()
        plan = "".join(
            f"{day(n)},{phase},{1 if phase == 'challenge' else ''},{group},{step},"
            f"{'test food' if step else ''},{50 if step else ''},{grams}\n"
            for n, phase, group, step, grams in PLAN
        )
        head = "date,phase,cycle,fodmap_group,step,food,portion_g,fodmap_g\n"
        (path / "plan.csv").write_text(head + plan, encoding="utf-8")
        foods = [",".join(map(str, row)) for rows in self.foods.values() for row in rows]
        head = "time,food,portion_g,fodmap_group,fodmap_g,entered_at\n"
        (path / "foods.csv").write_text(head + "\n".join(foods) + "\n", encoding="utf-8")
        scores = [
            f"{day(n)}T{hour:02d}:00,{symptom},{score},{entered}"
            for (n, hour, symptom), (score, entered) in self.scores.items()
        ]
        head = "time,symptom,score,entered_at\n"
        text = head + "\n".join(scores + self.more_scores) + "\n"
        (path / "symptoms.csv").write_text(text, encoding="utf-8")
        events = "\n".join(["start,end,event,note", *self.events, ""])
        (path / "events.csv").write_text(events, encoding="utf-8")
        return path

    def score(self, days, score, symptom="pain"):
        for n in days:
            for hour in (8, 13, 20):
                self.scores[n, hour, symptom] = (score, "")

    def unscored(self, days, keep=()):
        for key in list(self.scores):
            if key[0] in days and key[1] not in keep:
                del self.scores[key]

    def food(self, n, group, grams, hour=12):
        self.foods.setdefault(n, []).append(
            (f"{day(n)}T{hour:02d}:00", "something else", 80, group, grams, "")
        )

    def dose(self, n, **changes):
        time, food, portion, group, grams, entered = self.foods[n][0]
        self.foods[n][0] = (
            changes.get("time", time), food, portion, changes.get("group", group),
            changes.get("grams", grams), changes.get("entered", entered),
        )  # fmt: skip


SPOILT = {
    "score-out-of-range": lambda f: f.more_scores.append(f"{day(3)}T09:00,pain,11,"),
    "score-not-whole": lambda f: f.more_scores.append(f"{day(3)}T09:00,pain,2.5,"),
    "stool-form-out-of-range": lambda f: f.more_scores.append(f"{day(3)}T09:00,stool_form,8,"),
    "entry-in-the-future": lambda f: f.more_scores.append("2027-03-02T09:00,pain,2,"),
    "score-contradicts": lambda f: f.more_scores.append(f"{day(3)}T08:00,pain,9,"),
    "food-on-unscored-day": lambda f: f.unscored([8]),
    "no-scores": lambda f: f.unscored([11]),
    "too-few-scores": lambda f: f.unscored([8], keep=[20]),
    "dose-not-eaten": lambda f: f.foods.pop(8),
    "dose-eaten-late": lambda f: f.dose(8, time=f"{day(8)}T15:30"),
    "dose-of-another-amount": lambda f: f.dose(8, grams=3),
    "dose-amount-unknown": lambda f: f.dose(8, grams=""),
    "dose-above-highest-step": lambda f: f.dose(9, grams=20),
    "wrong-group": lambda f: f.dose(8, group="sorbitol"),
    "second-group": lambda f: f.food(8, "sorbitol", 4),
    "group-on-baseline-day": lambda f: f.food(3, "gos", 2),
    "dose-beyond-plan": lambda f: f.food(11, "lactose", 12),
    "dose-after-stop": lambda f: f.score([8], 8),
    "dose-on-day-left-out": lambda f: f.events.append(f"{day(8)},,illness,"),
    "dose-while-held-up": lambda f: f.events.append(f"{day(8)},,illness,"),
    "washout-not-settled": lambda f: f.score([8, 9, 10, 11, 12], 6),
    "up-before-challenge": lambda f: f.score([11, 12], 6),
    "washout-not-scored": lambda f: f.unscored([11, 12]),
    "baseline-too-short": lambda f: f.unscored([0, 1, 2, 3, 4]),
    "baseline-unstable": lambda f: (f.score([0, 1, 2], 0), f.score([3, 4, 5, 6], 5)),
    "written-late": lambda f: f.dose(8, entered=f"{day(12)}T09:00"),
    "written-before-it-happened": lambda f: f.dose(8, entered=f"{day(7)}T09:00"),
    "same-score-for-days": lambda f: f.score(range(1, 9), 3),
}


@pytest.fixture
def checked(monkeypatch, capsys, tmp_path):
    def call(folder):
        path = folder.write(tmp_path / "juniper")
        _, out, _ = run(monkeypatch, capsys, "check", path, "--json", now="2026-04-20T09:00")
        return json.loads(out)

    return call


def test_a_folder_that_keeps_to_its_plan_has_no_problem_and_is_complete(checked):
    told = checked(Folder())
    assert told["problems"] == []
    assert told["completeness"] == {"all": 1.0, "baseline": 1.0, "challenge": 1.0, "washout": 1.0}


@pytest.mark.parametrize("code", SPOILT)
def test_each_kind_is_found_and_said_in_a_plain_sentence(checked, code):
    folder = Folder()
    SPOILT[code](folder)
    found = [p for p in checked(folder)["problems"] if p["code"] == code]
    assert found
    for problem in found:
        assert problem["severity"] in ("error", "warning", "note")
        assert not problem["message"][0].islower() and problem["message"].endswith(".")
        assert problem["remedy"].endswith(".")
        assert problem["file"] in ("foods.csv", "symptoms.csv")
        assert problem["date"] or problem["line"]


def test_a_washout_shorter_than_the_settings_ask_for(checked, tmp_path):
    folder = Folder()
    write = folder.write

    def with_settings(path):
        write(path)
        (path / "client.toml").write_text("[protocol]\nwashout_days = 7\n", encoding="utf-8")
        return path

    folder.write = with_settings
    assert "washout-too-short" in {p["code"] for p in checked(folder)["problems"]}


def test_completeness_is_given_by_phase(checked):
    folder = Folder()
    folder.unscored([7, 8, 9])
    shares = checked(folder)["completeness"]
    assert shares["baseline"] == shares["washout"] == 1.0
    assert shares["challenge"] == pytest.approx(0.5)
