"""Which days are compared with which, on diaries made by hand."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from challenge.analysis.days import build_day_scores, day_values, slot_levels
from challenge.analysis.doses import planned_doses
from challenge.analysis.pairs import pair_days, reference_days
from challenge.model.sessions import build_sessions
from challenge.simulation.clients import simulate_client
from challenge.simulation.worlds import WORLDS
from challenge.wording import statement

from .making import START, make_diary, make_plan


def prepared(diary, plan, group, excluded=None):
    sessions = build_sessions(diary.symptoms, plan.days[0].date, plan.days[-1].date)
    days = build_day_scores(sessions, plan)
    doses = planned_doses(diary, plan)
    eaten = {days.number(d.date) for group in doses.values() for d in group if d.eaten_g}
    references = reference_days(days, eaten, excluded or {})
    return days, doses, references, pair_days(days, doses[group], references, excluded or {})


@pytest.mark.parametrize("index", range(6))
def test_each_reference_day_once_and_always_earlier(index):
    client = simulate_client(WORLDS["careless"], 11, index)
    for group in client.plan.groups():
        _, _, references, pairs = prepared(client.diary, client.plan, group)
        assert len(set(pairs.reference_day)) == len(pairs.reference_day)
        assert (pairs.reference_day < pairs.challenge_day).all()
        assert set(pairs.reference_day) <= set(references)


def test_kth_day_goes_with_the_kth_reference_day_counted_back():
    plan = make_plan()
    _, _, references, pairs = prepared(make_diary(plan), plan, "lactose")
    assert references == [0, 1, 2, 3, 4, 5, 6, 11, 12]  # washout counts from its second day
    assert pairs.challenge_day.tolist() == [7, 8, 9]
    assert pairs.reference_day.tolist() == [6, 5, 4]
    assert pairs.step.tolist() == [1, 2, 3]


def test_slots_are_matched_one_by_one():
    """Evenings are worse; a reference day with evening only is compared with the evening."""
    plan = make_plan()
    usual = {8: 1, 13: 2, 20: 6}

    def score(day, hour, symptom):
        if day == 6 and hour == 8:
            return None  # day 6 lacks its morning
        return usual[hour] + (3 if day == 7 and hour == 13 else 0)

    days, _, _, pairs = prepared(make_diary(plan, score), plan, "lactose")
    # dose at 08:00 on day 7: midday and evening of day 7, morning of day 8 (score at 08:00
    # stands before or with the dose); reference window: midday, evening of 6, morning of 7
    assert days.window(7, 8.0)[:, 0].tolist() == [1, 5, 6]
    assert days.window(6, 8.0)[:, 0].tolist() == [1, 2, 6]
    assert pairs.challenge[0].tolist() == [4.0, 4.0]
    assert pairs.reference[0].tolist() == [3.0, 3.0]


def test_a_missing_slot_is_left_out_on_both_sides():
    plan = make_plan()

    def score(day, hour, symptom):
        if day == 7 and hour == 20:
            return None
        return {8: 1, 13: 2, 20: 6}[hour]

    *_, pairs = prepared(make_diary(plan, score), plan, "lactose")
    assert pairs.challenge[0].tolist() == [1.5, 1.5]
    assert pairs.reference[0].tolist() == [1.5, 1.5]


def test_too_few_scores_lose_the_day_and_say_so():
    plan = make_plan()

    def score(day, hour, symptom):
        if (day == 7 and hour > 8) or (day == 8 and hour == 8):
            return None
        return 2

    *_, pairs = prepared(make_diary(plan, score), plan, "lactose")
    assert pairs.n_missing == 1
    assert [left.date for left in pairs.left_out] == [START + dt.timedelta(days=7)]
    assert pairs.left_out[0].reason.code == "few-scores-after"


def test_a_dose_not_eaten_is_no_pair():
    plan = make_plan()
    diary = make_diary(plan, eaten=lambda day: day.fodmap_g if day.step < 3 else None)
    *_, pairs = prepared(diary, plan, "lactose")
    assert pairs.step.tolist() == [1, 2]
    assert pairs.n_missing == 0
    assert pairs.left_out[0].reason == statement("dose-not-eaten")


def test_an_excluded_day_serves_neither_side():
    plan = make_plan()
    _, _, references, pairs = prepared(
        make_diary(plan), plan, "lactose", excluded={6: "illness", 8: "illness"}
    )
    assert 6 not in references
    assert pairs.challenge_day.tolist() == [7, 9]
    assert pairs.reference_day.tolist() == [5, 4]
    assert pairs.left_out[0].reason == statement("disturbed", event="illness")


def test_day_value_of_an_evening_only_day_is_not_a_bad_day():
    """Slot-matched: with every slot at its usual level the value is the usual mean."""
    plan = make_plan()

    def score(day, hour, symptom):
        if day == 2 and hour < 13:
            return None
        return {8: 1, 13: 2, 20: 6}[hour]

    days, *_, references, _ = prepared(make_diary(plan, score), plan, "lactose")
    values = day_values(days, slot_levels(days, references))
    assert np.allclose(values, 3.0)
