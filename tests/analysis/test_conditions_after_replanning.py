"""A plan laid again after a stop has lost the steps that were left; the stop must not be lost."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from challenge.analysis.analyse import analyse
from challenge.analysis.days import DayScores
from challenge.analysis.doses import CycleEnd, cycle_ends, early_stops, stopped_at
from challenge.analysis.result import Dose, EarlyStop
from challenge.protocol.plan import Plan
from challenge.protocol.settings import DoseSettings, ProtocolSettings, RepeatSettings, Settings
from challenge.wording import statement

from .making import START, make_diary, make_plan

FIRST = dt.date(2026, 3, 1)
DAY = dt.timedelta(days=1)


def dose(step: int) -> Dose:
    date = FIRST + dt.timedelta(days=step)
    return Dose(
        date=date, cycle=1, step=step, food="milk", planned_g=3.0 * step, eaten_g=3.0 * step,
        portion_g=None, time=dt.datetime.combine(date, dt.time(8)),
    )  # fmt: skip


def stops(rise: float, full_steps: int):
    days = DayScores(
        first=FIRST,
        scores=np.zeros((6, 3, 2)),
        slot_hours=np.array([8.0, 13.0, 20.0]),
        slots_kept=(0, 1, 2),
        symptoms=("pain", "wind"),
        plan=(None,) * 6,
    )
    values = np.ones((6, 2))
    values[3, 0] += rise
    ends = cycle_ends((dose(1), dose(2)), days, values, np.ones(2), 1, 1.0)
    return early_stops(ends, {1: full_steps})


def test_fewer_steps_than_other_challenges_and_symptoms_up_is_a_stop():
    (stop,) = stops(rise=2.5, full_steps=3)
    assert stop.step == 2
    assert "pain 2.5 points" in str(stop.words)


def test_symptoms_not_up_or_all_steps_eaten_is_none():
    assert stops(rise=1.5, full_steps=3) == ()
    assert stops(rise=2.5, full_steps=2) == ()


def test_a_group_set_to_two_steps_has_not_ended_early_at_its_second():
    plan = make_plan(("lactose", "gos"))
    days = [
        replace(day, phase="washout", cycle=None, step=None, food="", portion_g=None, fodmap_g=None)
        if day.fodmap_group == "gos" and day.step == 3
        else day
        for day in plan
    ]
    shorter = Plan(tuple(days))
    top = next(day.date for day in shorter if day.fodmap_group == "gos" and day.step == 2)
    dates = [day.date for day in shorter]
    diary = make_diary(shorter, lambda day, hour, symptom: 6 if dates[day] == top else 1)
    protocol = ProtocolSettings(doses={"gos": DoseSettings(grams=(1.5, 3.0))})
    told = analyse(diary, shorter, Settings(protocol=protocol)).groups[1]
    guessed = analyse(diary, shorter).groups[1]
    assert told.fodmap_group == guessed.fodmap_group == "gos"
    assert told.stops == ()
    assert [stop.step for stop in guessed.stops] == [2]


def repeated(step, level, settings, first_level=lambda step: 1, eaten=3, events=None):
    """A whole challenge, and one step of it eaten again; scores on the days of doses."""
    whole = make_plan()
    last = whole.days[-1].date
    once = next(day for day in whole if day.step == step)
    more = [replace(once, cycle=2), *[replace(whole.days[-1])] * 3]
    days = [*whole, *(replace(d, date=last + (n + 1) * DAY) for n, d in enumerate(more))]
    plan = Plan(tuple(days))
    scores = {
        n: level if day.cycle == 2 else first_level(day.step)
        for n, day in enumerate(plan)
        if day.phase == "challenge"
    }
    diary = make_diary(
        plan,
        lambda day, hour, symptom: scores.get(day, 1) + day % 2,
        events=events,
        eaten=lambda day: day.fodmap_g if day.step <= eaten else None,
    )
    return analyse(diary, plan, settings).group("lactose")


AGAIN = [RepeatSettings(fodmap_group="lactose", cycle=2, steps=(1,))]


def test_a_repeat_of_one_step_has_not_ended_early_at_it():
    told = Settings(protocol=ProtocolSettings(repeats=tuple(AGAIN)))
    assert repeated(1, 5, told).stops == ()
    # without the settings it looks as if the other steps had been given up
    assert [stop.cycle for stop in repeated(1, 5, Settings()).stops] == [2]


def end_of(cycle, step, *, raised=False, known=True):
    return CycleEnd(
        cycle=cycle, date=FIRST, step=step, before=step - 1, planned=3, known=known,
        rise=("pain", 3.0) if raised else None,
    )  # fmt: skip


def stop_at(end):
    return EarlyStop(
        cycle=end.cycle, date=FIRST, step=end.step, words=statement("stopped", step=end.step)
    )


SECOND = end_of(1, 2, raised=True)


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        (None, 2),
        (end_of(2, 3), None),  # a whole challenge without a stop outweighs one with
        (end_of(2, 2), None),
        (end_of(2, 1), 2),  # one that went less far does not
        (end_of(2, 2, raised=True), 2),  # nor one with symptoms at the same step
        (end_of(2, 3, raised=True), None),  # it left that step behind
        (end_of(2, 2, known=False), 2),  # nor one of which nothing is known
    ],
)
def test_what_outweighs_a_stop(other, expected):
    ends = (SECOND,) if other is None else (SECOND, other)
    assert stopped_at(ends, (stop_at(SECOND),)) == expected
    both = end_of(2, 1, raised=True)
    assert stopped_at((SECOND, both), (stop_at(SECOND), stop_at(both))) == 1
    assert stopped_at((end_of(1, 3),), ()) is None


@pytest.mark.parametrize(
    ("eaten", "level", "known"), [(6.0, 1, True), (2.0, 1, False), (6.0, None, False)]
)
def test_an_end_is_known_when_enough_was_eaten_and_the_day_is_scored(eaten, level, known):
    days = DayScores(
        first=FIRST, scores=np.zeros((6, 3, 2)), slot_hours=np.array([8.0, 13.0, 20.0]),
        slots_kept=(0, 1, 2), symptoms=("pain", "wind"), plan=(None,) * 6,
    )  # fmt: skip
    values = np.ones((6, 2))
    values[2] = np.nan if level is None else level
    last = replace(dose(2), eaten_g=eaten)
    (end,) = cycle_ends((dose(1), last), days, values, np.ones(2), 1, 1.0)
    assert (end.known, end.well) == (known, 2 if known else 1)


def test_stopped_twice_at_the_same_step_is_not_tolerated():
    """The second time it was eaten alone, so that no later step was left."""
    settings = Settings(
        protocol=ProtocolSettings(
            repeats=(RepeatSettings(fodmap_group="lactose", cycle=2, steps=(2,)),)
        )
    )
    found = repeated(2, 4, settings, first_level=lambda step: 4 if step == 2 else 1, eaten=2)
    assert found.outcome != "tolerated"
    assert [stop.step for stop in found.stops] == [2]
    well = repeated(2, 1, settings, first_level=lambda step: 4 if step == 2 else 1, eaten=2)
    said = " ".join(map(str, well.reasons))
    assert "so this one is not held against it" in said


def test_an_ill_day_of_a_lower_step_does_not_decide():
    ill = [(START + 13 * DAY, START + 13 * DAY, "illness")]
    settings = Settings(protocol=ProtocolSettings(repeats=tuple(AGAIN)))
    found = repeated(1, 1, settings, events=ill)
    assert (found.outcome, found.suggested_step) == ("tolerated", 3)


def test_a_step_left_behind_in_pain_or_hardly_eaten_does_not_outweigh_a_stop():
    days = DayScores(
        first=FIRST, scores=np.zeros((6, 3, 2)), slot_hours=np.array([8.0, 13.0, 20.0]),
        slots_kept=(0, 1, 2), symptoms=("pain", "wind"), plan=(None,) * 6,
    )  # fmt: skip
    quiet, pain = np.ones((6, 2)), np.ones((6, 2))
    pain[2, 0] = 8.0
    last = replace(dose(3), eaten_g=0.5)
    for values, second, before in (
        (quiet, dose(2), 2), (pain, dose(2), 1), (quiet, replace(dose(2), eaten_g=0.5), 1),
    ):  # fmt: skip
        (end,) = cycle_ends((dose(1), second, last), days, values, np.ones(2), 1, 1.0)
        assert (end.known, end.before, end.well) == (False, before, before)


def test_a_stop_that_was_outweighed_does_not_make_up_for_the_highest_step_being_left_out():
    plan = make_plan(cycles=2)
    top = plan.days[-4].date
    first = [d.date for d in plan if d.cycle == 1]
    scores = {n: 6 for n, d in enumerate(plan) if d.date == first[0]}
    diary = make_diary(
        plan,
        lambda day, hour, symptom: scores.get(day, 1) + day % 2,
        events=[(top, top, "illness")],
        eaten=lambda d: None if d.date in first[1:] else d.fodmap_g,
    )
    found = analyse(diary, plan).group("lactose")
    assert [stop.step for stop in found.stops] == [1]
    assert found.outcome == "unclear"
    assert [why.code for why in found.why_unclear] == ["decisive-day-left-out"]


def test_a_sip_of_a_step_is_not_that_step():
    plan = make_plan()
    diary = make_diary(
        plan,
        lambda day, hour, symptom: 1 + day % 2,
        eaten=lambda d: 0.1 * d.fodmap_g if d.step == 3 else d.fodmap_g,
    )
    found = analyse(diary, plan).group("lactose")
    assert [s.n_days for s in found.steps] == [1, 1, 0]
    assert found.suggested_step in (None, 1, 2)
