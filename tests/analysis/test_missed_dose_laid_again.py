"""A dose that was missed and laid again stands twice in the plan; only what was eaten counts."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from challenge.analysis.analyse import analyse
from challenge.protocol.adherence import check_adherence
from challenge.protocol.plan import Plan
from challenge.protocol.record import record_of
from challenge.protocol.replan import replan
from challenge.protocol.settings import Settings
from tests.analysis.making import START, make_diary, make_plan


def twice(missed_step, gap=0):
    """A plan in which the dose of one step is missed and, ``gap`` days later, laid again."""
    plan = make_plan(groups=("lactose", "gos"))
    at = next(n for n, day in enumerate(plan) if day.step == missed_step)
    waiting = replace(plan.days[-1], phase="baseline" if missed_step == 1 else "rest")
    waiting = replace(waiting, fodmap_group=None)
    days = [*plan.days[: at + 1], *[waiting] * gap, plan.days[at], *plan.days[at + 1 :]]
    dated = tuple(replace(day, date=START + dt.timedelta(days=n)) for n, day in enumerate(days))
    return Plan(dated), dated[at].date


def diary_of(plan, missed):
    return make_diary(plan, eaten=lambda day: day.fodmap_g if day.date != missed else None)


def as_rest(plan, missed):
    """The same plan as if nothing had been planned on the missed day."""
    return Plan(
        tuple(
            replace(day, phase="rest", cycle=None, fodmap_group=None, step=None, food="",
                    portion_g=None, fodmap_g=None) if day.date == missed else day
            for day in plan
        )
    )  # fmt: skip


@pytest.mark.parametrize(("step", "gap"), [(1, 0), (2, 0), (3, 0), (1, 5), (2, 3)])
def test_the_analysis_is_that_of_a_plan_without_the_missed_day(step, gap):
    plan, missed = twice(step, gap)
    diary = diary_of(plan, missed)
    found, plain = analyse(diary, plan), analyse(diary, as_rest(plan, missed))
    for one, other in zip(found.groups, plain.groups, strict=True):
        assert one.probability == pytest.approx(other.probability)
        assert (one.outcome, one.suggested_step) == (other.outcome, other.suggested_step)
        assert one.tests == other.tests
        assert one.pairs == other.pairs
        assert one.stops == other.stops == ()
        assert [s.n_days for s in one.steps] == [1, 1, 1]
    lactose = found.groups[0]
    assert [str(d.date) for d in lactose.days_left_out] == [str(missed)]
    assert len(lactose.doses) == 4


def test_adherence_names_the_missed_day_once_and_no_other():
    plan, missed = twice(2)
    problems = check_adherence(diary_of(plan, missed), plan, Settings(), plan.days[-1].date)
    about_doses = [p for p in problems if "dose" in p.code]
    assert [p.date for p in about_doses] == [missed.isoformat()]


def test_replanning_goes_on_from_what_was_eaten():
    plan, missed = twice(2)
    settings = Settings.model_validate({"protocol": {"groups": ["lactose", "gos"]}})
    diary = diary_of(plan, missed)
    for number in range(11, len(plan)):
        today = START + dt.timedelta(days=number)
        known = diary.symptoms["time"] < np.datetime64(today)
        eaten = diary.foods["time"] < np.datetime64(today)
        so_far = replace(diary, symptoms=diary.symptoms[known], foods=diary.foods[eaten])
        laid = replan(plan, record_of(so_far), settings, today)
        assert [(d.date, d.phase, d.fodmap_group, d.step) for d in laid.plan] == [
            (d.date, d.phase, d.fodmap_group, d.step) for d in plan
        ]
        assert laid.reasons == ()
