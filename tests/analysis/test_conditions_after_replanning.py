"""A plan laid again after a stop has lost the steps that were left; the stop must not be lost."""

from __future__ import annotations

import datetime as dt

import numpy as np

from challenge.analysis.days import DayScores
from challenge.analysis.doses import early_stops
from challenge.analysis.result import Dose

FIRST = dt.date(2026, 3, 1)


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
    return early_stops((dose(1), dose(2)), days, values, np.ones(2), 1, 1.0, full_steps)


def test_fewer_steps_than_other_challenges_and_symptoms_up_is_a_stop():
    (stop,) = stops(rise=2.5, full_steps=3)
    assert stop.step == 2
    assert "pain 2.5 points" in str(stop.words)


def test_symptoms_not_up_or_all_steps_eaten_is_none():
    assert stops(rise=1.5, full_steps=3) == ()
    assert stops(rise=2.5, full_steps=2) == ()
