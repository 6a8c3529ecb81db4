"""What a plan can tell: the simulation behind ``plan --power``, checked against what must hold."""

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from challenge.errors import ChallengeError
from challenge.practice.power import (
    RISES,
    Design,
    OnThePlan,
    as_json,
    power_of,
    rating_hours,
    world_of,
)
from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.settings import Settings
from challenge.protocol.variants import with_control
from challenge.simulation.likeness import Likeness

SETTINGS = Settings()
START = dt.date(2026, 3, 2)


def small_plan(groups=("lactose",), grams=(3.0, 6.0, 12.0), baseline=6):
    days = [PlanDay(date=START, phase="baseline")] * baseline
    for group in groups:
        days += [
            PlanDay(date=START, phase="challenge", fodmap_group=group, cycle=1, step=step,
                    food="x", portion_g=g, fodmap_g=g)
            for step, g in enumerate(grams, start=1)
        ]  # fmt: skip
        days += [PlanDay(date=START, phase="washout", fodmap_group=group)] * 3
    return Plan(
        tuple(replace(day, date=START + dt.timedelta(days=n)) for n, day in enumerate(days))
    )


def design(plan=None, ratings=3, challenge_ratings=3):
    return Design(
        name="as planned",
        plan=plan or small_plan(),
        ratings=ratings,
        challenge_ratings=challenge_ratings,
    )


def likeness(noise):
    level = np.full(5, 1.5)
    return Likeness(n_days=7, level=level, noise_log=float(np.log(noise)), noise_log_sd=0.0)


@pytest.mark.slow
def test_the_shares_make_sense_and_are_the_same_on_any_number_of_jobs():
    both = small_plan(("lactose", "gos"))
    found = power_of(design(both), SETTINGS, 30, jobs=1)
    assert as_json(found) == as_json(power_of(design(both), SETTINGS, 30, jobs=2))
    assert found.overall.n_groups == sum(c.n_groups for c in found.by_truth) == 60
    for chances in (found.overall, *found.by_truth):
        shares = (chances.right, chances.too_high, chances.too_low, chances.unclear)
        assert sum(share.value for share in shares) == pytest.approx(1.0)
    nothing, *reactions = found.by_truth
    # with two groups exactly one of them reacts
    assert (nothing.rise, nothing.from_step, nothing.n_groups) == (0.0, 0, 30)
    assert nothing.too_high.value == 0.0
    assert {c.rise for c in reactions} == set(RISES)
    assert all(c.too_low.value == 0.0 for c in reactions if c.from_step == 1)


@pytest.mark.slow
def test_a_steadier_client_is_told_more_often():
    plan = small_plan(("lactose", "gos"))
    steady, restless = (
        power_of(design(plan), SETTINGS, 40, likeness(noise)).overall.right for noise in (0.3, 2.5)
    )
    assert steady.value - restless.value > 2 * np.hypot(steady.error, restless.error)


def test_clients_follow_the_plan_with_the_truth_that_was_set():
    plan = with_control(small_plan(("lactose", "gos", "sorbitol", "mannitol")))
    made = OnThePlan(design=design(plan), likeness=likeness(1.0))
    world = world_of(design(plan), SETTINGS)
    for index in range(5):
        client = made(world, 1, index)
        assert client.plan == plan
        truth = {told.fodmap_group: told.rises for told in client.truth}
        assert not any(truth.pop("glucose"))
        assert sum(any(rises) for rises in truth.values()) == 2
        for rises in truth.values():
            # nothing below the first step that acts, one and the same rise from there on
            assert set(rises) <= {0.0, max(rises)}
            assert all(a <= b for a, b in pairwise(rises))


def test_more_ratings_on_challenge_days_only():
    plan = small_plan()
    chosen = design(plan, ratings=2, challenge_ratings=5)
    client = OnThePlan(design=chosen, likeness=None)(world_of(chosen, SETTINGS), 1, 0)
    times = client.diary.symptoms["time"]
    by_day = times.groupby(times.dt.normalize()).nunique()
    challenge = {day.date for day in plan if day.phase == "challenge"}
    for date, n in by_day.items():
        assert n <= (5 if date.date() in challenge else 2)
    assert by_day.max() == 5


def test_rating_hours():
    assert rating_hours(3) == (8.0, 13.0, 20.0)
    assert rating_hours(5) == (8.0, 11.0, 14.0, 17.0, 20.0)


def test_a_dose_without_grams_and_a_plan_without_groups_are_refused():
    with pytest.raises(ChallengeError, match="no grams for step 1 of lactose"):
        world_of(design(small_plan(grams=(0.0, 3.0))), SETTINGS)
    with pytest.raises(ChallengeError, match="challenges no group"):
        world_of(design(small_plan(groups=())), SETTINGS)
