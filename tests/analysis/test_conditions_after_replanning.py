"""A plan laid again after a stop has lost the steps that were left; the stop must not be lost."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from challenge.analysis.analyse import analyse
from challenge.analysis.days import DayScores
from challenge.analysis.doses import early_stops
from challenge.analysis.group import stopped_at
from challenge.analysis.result import Dose, EarlyStop
from challenge.protocol.plan import Plan
from challenge.protocol.settings import DoseSettings, ProtocolSettings, RepeatSettings, Settings
from challenge.wording import statement

from .making import make_diary, make_plan

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
    return early_stops((dose(1), dose(2)), days, values, np.ones(2), 1, 1.0, {1: full_steps})


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


def repeated(step, level, settings, first_level=lambda step: 1):
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
    diary = make_diary(plan, lambda day, hour, symptom: scores.get(day, 1) + day % 2)
    return analyse(diary, plan, settings).group("lactose")


AGAIN = [RepeatSettings(fodmap_group="lactose", cycle=2, steps=(1,))]


def test_a_repeat_of_one_step_has_not_ended_early_at_it():
    told = Settings(protocol=ProtocolSettings(repeats=tuple(AGAIN)))
    assert repeated(1, 5, told).stops == ()
    # without the settings it looks as if the other steps had been given up
    assert [stop.cycle for stop in repeated(1, 5, Settings()).stops] == [2]


def dose_of(cycle, step, eaten=True):
    return replace(dose(step), cycle=cycle, eaten_g=3.0 * step if eaten else None)


def stop_at(cycle, step):
    return EarlyStop(cycle=cycle, date=FIRST, step=step, words=statement("stopped", step=step))


@pytest.mark.parametrize(
    ("doses", "stops", "expected"),
    [
        ([(1, 1), (1, 2)], [(1, 2)], 2),
        # a whole challenge without a stop outweighs one with
        ([(1, 1), (1, 2), (2, 1), (2, 2), (2, 3)], [(1, 2)], None),
        # a repeat that went less far does not
        ([(1, 1), (1, 2), (2, 1)], [(1, 2)], 2),
        ([(1, 1), (1, 2), (2, 2)], [(1, 2)], None),
        ([(1, 1), (1, 2), (2, 1)], [(1, 2), (2, 1)], 1),
        ([(1, 1)], [], None),
    ],
)
def test_what_outweighs_a_stop(doses, stops, expected):
    found = stopped_at(tuple(dose_of(*one) for one in doses), tuple(stop_at(*one) for one in stops))
    assert found == expected
