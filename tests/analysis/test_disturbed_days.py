"""Disturbances: days left out, days marked, and what that does to a suggestion."""

from __future__ import annotations

import datetime as dt

import pytest

from challenge.analysis.analyse import analyse
from challenge.diary.disturbances import KINDS, disturbances, kind_of
from challenge.errors import ChallengeError
from challenge.files.client_toml import read_document, write_document
from challenge.files.settings_file import parse_settings
from challenge.protocol.progress import illness_days, progress, reason_of
from challenge.protocol.record import Event, Record, record_of
from challenge.protocol.settings import Settings

from .making import START, make_diary, make_events, make_plan


def day(number):
    return (START + dt.timedelta(days=number)).isoformat()


@pytest.mark.parametrize(
    ("event", "name", "leaves_out"),
    [
        ("illness", "illness", True),
        ("Stomach bug", "illness", True),
        ("fever", "illness", True),
        ("infections", "illness", True),
        ("antibiotics", "antibiotics", True),
        ("heavy drinking", "heavy drinking", True),
        ("alcohol", "alcohol", False),
        ("light drinking", "alcohol", False),
        ("menstruation", "menstruation", False),
        ("stress", "stress", False),
        ("travel", "travel", False),
        ("poor sleep", "poor sleep", False),
        ("new medicine", "new medicine", False),
        ("chilli for dinner", "chilli for dinner", False),
        ("periodontist", "periodontist", False),
        ("", "other", False),
    ],
)
def test_kinds(event, name, leaves_out):
    kind = kind_of(event)
    assert (kind.name, kind.leaves_out) == (name, leaves_out)


@pytest.mark.parametrize(
    ("event", "name"),
    [
        ("Erkältung und Fieber", "illness"), ("krank", "illness"), ("fièvre", "illness"),
        ("gorączka", "illness"), ("enfermedad", "illness"), ("Antibiotika", "antibiotics"),
        ("antibiotiques", "antibiotics"), ("antybiotyk", "antibiotics"),
        ("Periode", "menstruation"),
        ("règles", "menstruation"), ("regla", "menstruation"), ("miesiączka", "menstruation"),
        ("Reise", "travel"), ("podróż", "travel"), ("estrés", "stress"), ("alcool", "alcohol"),
        ("resaca", "heavy drinking"), ("Stress, wenig Schlaf", "stress"),
    ],
)  # fmt: skip
def test_kinds_in_the_languages_of_the_diary(event, name):
    assert kind_of(event).name == name


def test_every_kind_has_a_source():
    assert all(kind.source and kind.words for kind in KINDS)
    assert len({kind.key for kind in KINDS}) == len(KINDS)


def settings_with(**changes):
    return Settings.model_validate({"disturbances": changes})


def test_a_setting_changes_what_an_event_does_and_says_where_it_comes_from():
    settings = settings_with(
        alcohol={"leaves_out": True, "source": "local guidance"},
        menstruation={"days_before": 2},
        stress={"words": ["exam"]},
        coffee={"words": ["coffee", "kaffee"], "leaves_out": True},
    )
    kinds = {kind.name: kind for kind in settings.kinds()}
    assert kinds["alcohol"].leaves_out and kinds["alcohol"].days_after == 1
    assert kinds["alcohol"].source == "local guidance"
    assert kinds["menstruation"].source == "set for this client, no source given"
    assert kinds["stress"].source == next(k for k in KINDS if k.name == "stress").source
    assert kind_of("an exam", settings.kinds()).name == "stress"
    events = make_events(
        [(day(1), day(1), "alcohol"), (day(5), day(5), "menstruation"), (day(7), day(7), "Kaffee")]
    )
    found = disturbances(events, START, START + dt.timedelta(days=9), settings.kinds())
    assert {(d - START).days: why for d, why in found.left_out.items()} == {
        1: "alcohol", 2: "alcohol", 7: "coffee",
    }  # fmt: skip
    assert {(d - START).days for d in found.marked} == {3, 4, 5}


def test_everything_else_can_be_left_out_too():
    settings = settings_with(other={"leaves_out": True})
    assert kind_of("a wedding", settings.kinds()).leaves_out
    assert kind_of("a wedding", settings.kinds()).name == "a wedding"
    assert not kind_of("stress", settings.kinds()).leaves_out


def test_the_analysis_keeps_to_the_settings():
    plan = make_plan()
    diary = make_diary(plan, events=[(day(9), day(9), "stress")])
    kept = analyse(diary, plan).group("lactose")
    left = analyse(diary, plan, settings_with(stress={"leaves_out": True})).group("lactose")
    assert kept.days_left_out == ()
    (one,) = left.days_left_out
    assert (one.date.isoformat(), one.reason.values) == (day(9), {"event": "stress"})


def test_holding_up_a_challenge_follows_the_settings():
    ill = Record(scores={}, eaten={}, events=(
        Event(start=START, end=START, event="Fieber", note=""),
        Event(start=START, end=START, event="travel", note=""),
    ))  # fmt: skip
    today = START + dt.timedelta(days=20)

    def held(settings):
        return [
            ((span.end - span.start).days, span.reason)
            for span in illness_days(ill, today, settings.kinds())
        ]

    assert held(Settings()) == [(7, "illness")]
    changed = settings_with(illness={"hold_days": 3}, travel={"hold_days": 0})
    assert held(changed) == [(3, "illness"), (0, "travel")]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[disturbances.weather]\nleaves_out = true\n", "needs words"),
        ("[disturbances.illness]\nhold_days = -1\n", "must be at least 0"),
        ("[disturbances.illness]\nleaves_out = 'maybe'\n", "must be true or false"),
    ],
)
def test_wrong_settings_are_said_in_plain_words(text, words):
    settings, problems = parse_settings(text, "client.toml", "x")
    assert settings is None
    assert any(words in problem.message for problem in problems)


def test_settings_survive_writing_and_reading(tmp_path):
    document = {
        "diary": {"timezone": "Europe/Warsaw"},
        "disturbances": {
            "heavy-drinking": {"leaves_out": False, "days_after": 2, "source": 'Dr "K" ż'},
            "kawa": {"words": ["kawa", "espresso"]},
        },
    }
    path = write_document(tmp_path, document)
    assert read_document(path) == document
    settings, problems = parse_settings(path.read_text(encoding="utf-8"), path.name, "x")
    assert problems == []
    assert settings == Settings.model_validate(document | {"client": "x"})
    # every default with its source is there to read
    text = path.read_text(encoding="utf-8")
    assert all(f"#   {kind.key}: " in text and kind.source in text for kind in KINDS)


def test_a_mistyped_key_below_a_kind_is_not_lost_in_silence():
    _, problems = parse_settings("[disturbances.illness]\nleave_out = true\n", "client.toml", "x")
    assert [(p.code, p.column) for p in problems] == [
        ("setting-unknown", "disturbances.illness.leave_out")
    ]


def test_an_unknown_time_zone_is_said_with_what_may_be_meant():
    settings, problems = parse_settings('[diary]\ntimezone = "London"\n', "client.toml", "x")
    assert settings is None
    assert "Europe/London" in problems[0].message


def test_heavy_drinking_takes_the_next_day_too_and_periods_end_with_the_plan():
    events = make_events(
        [(day(2), day(2), "heavy drinking"),
         (day(5), day(40), "travel"),
         (day(6), day(6), "stress"), (day(-3), day(0), "illness")]
    )  # fmt: skip
    found = disturbances(events, START, START + dt.timedelta(days=7))
    assert {(d - START).days: why for d, why in found.left_out.items()} == {
        0: "illness", 2: "heavy drinking", 3: "heavy drinking",
    }  # fmt: skip
    assert {(d - START).days: marks for d, marks in found.marked.items()} == {
        5: ("travel",), 6: ("travel", "stress"), 7: ("travel",),
    }  # fmt: skip


def test_a_decisive_day_left_out_makes_the_group_unclear():
    plan = make_plan()
    analysis = analyse(make_diary(plan, events=[(day(9), day(9), "illness")]), plan)
    group = analysis.group("lactose")
    assert group.outcome == "unclear"
    assert [why.code for why in group.why_unclear] == ["decisive-day-left-out"]
    assert "illness" in str(group.why_unclear[0])
    assert group.why_unclear[0] in group.reasons
    assert [(left.date.isoformat(), str(left.reason)) for left in group.days_left_out] == [
        (day(9), "illness")
    ]
    assert [pair.step for pair in group.pairs] == [1, 2]


@pytest.mark.parametrize(
    ("event", "settings"),
    [
        ("illness", {}),
        ("antibiotics", {}),
        ("heavy drinking", {}),
        ("alcohol", {}),
        ("stress", {"stress": {"leaves_out": True, "days_before": 1}}),
        ("illness", {"illness": {"leaves_out": False}}),
    ],
)
@pytest.mark.parametrize("start", [7, 8, 9])
def test_the_plan_and_the_analysis_count_the_same_doses(event, settings, start):
    # doses on days 7, 8 and 9: on the day of the event, the day before and the day after
    plan = make_plan()
    own = settings_with(**settings)
    diary = make_diary(plan, events=[(day(start), day(start), event)])
    group = analyse(diary, plan, own).group("lactose")
    by_analysis = [(left.date, str(left.reason)) for left in group.days_left_out]
    standing = progress(plan, record_of(diary), own, START + dt.timedelta(days=10))
    course = standing.courses["lactose", 1]
    assert [(date, why) for date, _, why in course.left_out] == by_analysis
    assert sum(course.eaten.values()) == 3 - len(by_analysis) == len(group.pairs)
    # what would not count is not laid
    assert all(reason_of(date, standing.held) for date, _ in by_analysis)


def test_a_reference_day_left_out_is_not_used_and_a_marked_one_is():
    plan = make_plan()
    events = [(day(6), day(6), "illness"), (day(5), day(5), "stress")]
    analysis = analyse(make_diary(plan, events=events), plan)
    used = {pair.reference_date.isoformat() for pair in analysis.group("lactose").pairs}
    assert day(6) not in used
    assert day(5) in used
    marks = {record.date.isoformat(): record.marks for record in analysis.days}
    assert marks[day(6)] == ("illness",)
    assert marks[day(5)] == ("stress",)


def test_everything_left_out_is_said_plainly():
    plan = make_plan()
    with pytest.raises(ChallengeError, match="left out"):
        analyse(make_diary(plan, events=[(day(0), day(60), "illness")]), plan)


def test_fully_scored_days_that_are_left_out_are_not_said_to_lack_scores():
    plan = make_plan()
    doses = [d.date for d in plan if d.phase == "challenge" and d.fodmap_group == "lactose"]
    ill = make_events([(min(doses), max(doses), "illness")])
    found = analyse(make_diary(plan, events=ill), plan)
    (lactose,) = [group for group in found.groups if group.fodmap_group == "lactose"]
    (few,) = [why for why in lactose.why_unclear if why.code == "few-scores"]
    assert str(few).endswith("can be used: the others lack scores or are left out.")
