"""Variants of a plan: more days, everything else as it was."""

import datetime as dt
from collections import Counter
from itertools import pairwise

import pytest

from challenge.protocol.schedule import build_plan
from challenge.protocol.settings import Settings
from challenge.protocol.variants import longer_baseline, one_more_cycle, with_control

START = dt.date(2026, 3, 2)


def plan_of(**protocol):
    screening = {
        "asked_on": "2026-03-01", "asked_by": "AB", "diagnosed_by_doctor": True,
        "coeliac_test": "negative", "coeliac_test_on_gluten": True, "restriction_weeks": 5,
        "restriction_helped": True,
    }  # fmt: skip
    return build_plan(
        Settings.model_validate({"screening": screening, "protocol": protocol}), START
    )


def challenges(plan):
    return Counter(
        (day.fodmap_group, day.cycle, day.step) for day in plan if day.phase == "challenge"
    )


@pytest.mark.parametrize(
    "protocol",
    [
        {},
        {"days_per_step": 2, "days_between_steps": 1},
        {"days_between_steps": 3, "washout_days": 3},
        {"cycles": 2, "groups": ["lactose", "gos"]},
        {"closed": [{"start": "2026-03-15", "end": "2026-03-20", "reason": "travel"}]},
    ],
)
def test_one_more_cycle_repeats_every_challenge_once_with_its_washout(protocol):
    plan = plan_of(**protocol)
    more = one_more_cycle(plan)
    last = {group: max(d.cycle for d in plan if d.fodmap_group == group and d.step)
            for group in plan.groups()}  # fmt: skip
    added = challenges(more) - challenges(plan)
    assert {(group, cycle) for group, cycle, _ in added} == {(g, n + 1) for g, n in last.items()}
    first_cycle = Counter({k: n for k, n in challenges(plan).items() if k[1] == 1})
    assert Counter({(g, 1, s): n for (g, _, s), n in added.items()}) == first_cycle
    assert more.days[: len(plan)] == plan.days
    assert all((b.date - a.date).days == 1 for a, b in pairwise(more))
    # the washout between two challenges is as long as in the plan
    for days in (plan, more):
        assert shortest_washout(days) == 3


def shortest_washout(plan):
    runs, length = [], 0
    for day in plan:
        if day.phase == "washout":
            length += 1
        elif day.phase == "challenge" and length:
            runs.append(length)
            length = 0
    return min([*runs, length])


def test_a_longer_baseline_only_moves_the_rest():
    plan = plan_of()
    longer = longer_baseline(plan, 7)
    assert len(longer) == len(plan) + 7
    assert longer.days[0].date == plan.days[0].date
    assert sum(day.phase == "baseline" for day in longer) == 14
    moved = [(day.date + dt.timedelta(days=7), day.phase, day.step) for day in plan]
    assert [(d.date, d.phase, d.step) for d in longer][7:] == moved


def test_a_control_is_added_for_every_cycle_with_the_grams_of_the_first_group():
    plan = plan_of(cycles=2, groups=["fructose", "lactose"])
    controlled = with_control(plan)
    added = [day for day in controlled if day.fodmap_group == "glucose" and day.step]
    assert [(d.cycle, d.step, d.fodmap_g) for d in added] == [
        (cycle, step, grams) for cycle in (1, 2) for step, grams in plan.steps("fructose").items()
    ]
    washouts = sum(day.fodmap_group == "glucose" and day.phase == "washout" for day in controlled)
    assert washouts == 6
    assert len(controlled) == len(plan) + 12
