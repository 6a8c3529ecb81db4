"""The drift over the reference days: a description."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from challenge.analysis.analyse import analyse

from .making import make_diary, make_plan


def test_slope_is_that_of_least_squares_per_week():
    """scipy.stats.linregress on the day values of baseline and settled washout days."""
    plan = make_plan(baseline=14, washout=5)
    drawn = np.random.default_rng(3).integers(0, 3, size=(len(plan), 24))

    def score(day, hour, symptom):
        return int(drawn[day, hour]) + day // 7

    analysis = analyse(make_diary(plan, score), plan)
    challenged = [i for i, day in enumerate(plan) if day.phase == "challenge"]
    usual = [i for i in range(len(plan)) if i < challenged[0] or i > challenged[-1] + 1]
    values = [analysis.days[i].values[analysis.primary_symptom] for i in usual]
    expected = stats.linregress(usual, values)
    drift = analysis.drift
    assert drift.n_days == len(usual) == 18
    assert drift.slope == pytest.approx(7 * expected.slope)
    half = 7 * stats.t.ppf(0.95, len(usual) - 2) * expected.stderr
    # never narrower than without correlation
    assert drift.high - drift.slope >= half * (1 - 1e-9)
    assert drift.words.code == "drift"
    assert "over 18 reference days" in str(drift.words).lower()


def test_few_days_are_called_unreliable_and_none_are_no_drift():
    plan = make_plan()
    drift = analyse(make_diary(plan), plan).drift
    assert drift.n_days == 9 and "unreliable" in str(drift.words)
    assert analyse(make_diary(plan, lambda *_: 2), plan).drift is None
