"""Level and noise of a baseline recovered from baselines whose noise is known."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from challenge.protocol.plan import Plan, PlanDay
from challenge.protocol.record import Record
from challenge.simulation.conduct import in_whole_numbers
from challenge.simulation.days import draw_background
from challenge.simulation.likeness import baseline_scores, likeness_of
from challenge.simulation.person import draw_person
from challenge.simulation.world import World

WORLD = World()
LEVEL = np.array([1.5, 2.5, 3.0, 2.0, 1.0])


def baseline(noise, n_days, seed):
    rng = np.random.default_rng(seed)
    person = replace(draw_person(WORLD, rng), level=LEVEL, noise=noise)
    return in_whole_numbers(draw_background(WORLD, person, n_days, 0, rng).points)


@pytest.mark.parametrize("noise", [0.5, 1.0, 2.0])
def test_noise_is_recovered_within_what_it_says_of_itself(noise):
    found = [likeness_of(baseline(noise, 14, seed), WORLD, seed) for seed in range(16)]
    errors = np.array([(f.noise_log - np.log(noise)) / f.noise_log_sd for f in found])
    # a regression towards the mean of the prior is its price; it is below one own error
    assert abs(errors.mean()) < 1.0
    assert (abs(errors) < 2.6).mean() >= 0.85
    assert np.mean([f.noise for f in found]) == pytest.approx(noise, rel=0.3)


def test_more_days_say_more():
    short = [likeness_of(baseline(1.0, 4, seed), WORLD, seed).noise_log_sd for seed in range(5)]
    long = [likeness_of(baseline(1.0, 28, seed), WORLD, seed).noise_log_sd for seed in range(5)]
    assert np.mean(long) < np.mean(short) < 0.5


def test_gaps_floor_and_too_few_days():
    scores = baseline(1.0, 10, 3)
    scores[:, 0, :] = np.nan
    scores[3, :, 1] = np.nan
    found = likeness_of(scores, WORLD, 1)
    assert found.level == pytest.approx(np.nanmean(scores, axis=(0, 1)))
    assert 0.4 < found.noise < 2.0
    flat = likeness_of(np.zeros((7, 3, 5)), WORLD, 1)
    assert np.isfinite(flat.noise_log)
    assert flat.noise < 0.7
    assert likeness_of(scores[:2], WORLD, 1) is None


def test_a_symptom_never_scored_takes_the_level_of_the_others():
    scores = baseline(1.0, 7, 4)
    scores[:, :, 4] = np.nan
    found = likeness_of(scores, WORLD, 1)
    assert found.level[4] == pytest.approx(np.nanmean(scores))


def test_only_scored_baseline_days_are_read():
    day = dt.date(2026, 3, 2)
    plan = Plan(
        tuple(
            PlanDay(date=day + dt.timedelta(days=n), phase="baseline" if n < 3 else "washout")
            for n in range(5)
        )
    )
    scores = {
        day: {"pain": {"morning": 2.0, "evening": 4.0}},
        day + dt.timedelta(days=2): {"wind": {"midday": 1.0}},
        day + dt.timedelta(days=4): {"pain": {"midday": 9.0}},
    }
    table = baseline_scores(plan, Record(scores=scores, eaten={}), ("pain", "wind"))
    assert table.shape == (2, 3, 2)
    assert table[0, :, 0].tolist() == pytest.approx([2.0, np.nan, 4.0], nan_ok=True)
    assert table[1, 1, 1] == 1.0
    assert np.isfinite(table).sum() == 3
