"""Building blocks of the model: time courses, dose-response shapes, doses, sessions."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from challenge.model.dose_response import dose_shapes
from challenge.model.doses import build_doses
from challenge.model.priors import load_priors
from challenge.model.sessions import build_sessions
from challenge.model.time_course import TimeCourse

ORIGIN = dt.datetime(2026, 3, 2)


@pytest.mark.parametrize("course", load_priors().courses, ids=str)
def test_time_course_has_mean_one_over_its_strongest_day(course):
    hours = np.arange(0, 200, 0.05)
    values = course.at(hours)
    running = np.concatenate([[0.0], np.cumsum(values)]) * 0.05
    width = round(24 / 0.05)
    strongest = (running[width:] - running[:-width]).max() / 24
    assert strongest == pytest.approx(1.0, abs=0.01)


@given(
    latency=st.floats(0, 48), rise=st.floats(0.2, 10), decay=st.floats(1, 48),
    hours=st.floats(-100, 300),
)  # fmt: skip
def test_nothing_happens_before_the_latency_is_over(latency, rise, decay, hours):
    value = float(TimeCourse(latency, rise, decay).at(np.array([hours]))[0])
    assert value >= 0
    if hours <= latency:
        assert value == 0


@given(
    steps=st.lists(st.floats(0.1, 60), min_size=1, max_size=5, unique=True).map(sorted),
    n=st.integers(1, 6),
)
def test_dose_shapes_rise_and_reach_one_at_the_top_step(steps, n):
    grams = np.array(steps)
    shapes, weights = dose_shapes(grams, grams, n)
    assert weights.sum() == pytest.approx(1)
    assert (weights > 0).all()
    assert np.allclose(shapes[:, -1], 1)
    assert (shapes >= 0).all()
    assert (np.diff(shapes, axis=1) >= -1e-12).all()


def test_a_dose_beyond_the_plan_counts_at_most_double():
    shapes, _ = dose_shapes(np.array([1.0, 2.0, 4.0, 400.0]), np.array([1.0, 2.0, 4.0]), 5)
    assert shapes.max() <= 2
    assert (shapes[:, 3] >= shapes[:, 2] - 1e-12).all()


def foods(*rows):
    return pd.DataFrame(
        [(pd.Timestamp(time), group, grams) for time, group, grams in rows],
        columns=["time", "fodmap_group", "fodmap_g"],
    )


def test_portions_of_one_meal_are_one_dose_and_near_amounts_the_planned_step():
    table = foods(
        ("2026-03-03 08:00", "lactose", 3.0),
        ("2026-03-03 08:30", "lactose", 3.1),  # 6.1 g together: step 2
        ("2026-03-04 08:00", "lactose", 9.0),  # none of the steps
        ("2026-03-05 08:00", "", 4.0),  # an ordinary meal
    )
    doses = build_doses(table, ORIGIN, {"lactose": {1: 3.0, 2: 6.0}})["lactose"]
    assert doses.level_g.tolist() == [3.0, 6.0, 9.0]
    assert doses.level.tolist() == [1, 2]
    assert doses.grams == pytest.approx([6.1, 9.0])
    assert doses.hours[0] == pytest.approx(32 + 0.5 * 3.1 / 6.1)  # centre of the two portions
    assert doses.days().tolist() == [1, 2]


def test_a_group_eaten_off_the_plan_has_doses_too():
    doses = build_doses(foods(("2026-03-03 08:00", "gos", 1.0)), ORIGIN, {})
    assert doses["gos"].n_steps == 0
    assert doses["gos"].level_g.tolist() == [1.0]


def scores(*rows):
    return pd.DataFrame(
        [(pd.Timestamp(time), symptom, score) for time, symptom, score in rows],
        columns=["time", "symptom", "score"],
    )


def test_a_score_after_midnight_closes_the_day_before():
    table = scores(
        ("2026-03-03 01:00", "pain", 4.0),
        ("2026-03-03 05:00", "pain", 1.0),
        ("2026-03-03 12:00", "pain", 2.0),
        ("2026-03-03 12:30", "bloating", 5.0),  # the same session
    )
    sessions = build_sessions(table, dt.date(2026, 3, 2), dt.date(2026, 3, 9))
    assert sessions.symptoms == ("bloating", "pain")
    assert sessions.day.tolist() == [0, 1, 1]
    assert sessions.slot.tolist() == [2, 0, 1]
    assert sessions.scores[2].tolist() == [5.0, 2.0]
    assert np.isnan(sessions.scores[0, 0])


def test_stool_form_is_never_averaged_with_scores():
    table = scores(("2026-03-03 08:00", "stool_form", 6.0), ("2026-03-03 08:00", "pain", 1.0))
    assert build_sessions(table, dt.date(2026, 3, 2), dt.date(2026, 3, 9)).symptoms == ("pain",)
