"""Disturbances: days left out, days marked, and what that does to a suggestion."""

from __future__ import annotations

import datetime as dt

import pytest

from challenge.analysis.analyse import analyse
from challenge.diary.disturbances import KINDS, disturbances, kind_of
from challenge.errors import ChallengeError

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


def test_every_kind_has_a_source():
    assert all(kind.source and kind.words for kind in KINDS)


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
