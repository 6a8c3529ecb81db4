"""Whether the warning of a misfit comes when it should, and seldom when it should not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from challenge.analysis.evidence import gather
from challenge.diary.model import Diary
from challenge.model.fit_check import FitCheck, check_fit
from challenge.protocol.plan import Plan
from challenge.protocol.settings import Settings
from challenge.simulation.clients import simulate_client
from challenge.simulation.worlds import USUAL


def checked(diary: Diary, plan: Plan) -> tuple[FitCheck, ...]:
    evidence = gather(diary, plan, Settings())
    scores = evidence.sessions.scores[evidence.fit.used]
    return check_fit(evidence.fit, scores, evidence.priors, 1)


def test_usual_diaries_are_seldom_called_misfits() -> None:
    # three checks at 2 % each: of 40 diaries about 2 or 3 by chance, 9 or more once in 1,000
    flagged = 0
    for index in range(40):
        client = simulate_client(USUAL, 77, index)
        flagged += any(not check.fits for check in checked(client.diary, client.plan))
    assert flagged <= 8


def test_one_day_out_of_all_bounds_is_told() -> None:
    client = simulate_client(replace(USUAL, flare_rate=0.0, illness_rate=0.0), 77, 1)
    symptoms = client.diary.symptoms.copy()
    days = symptoms["time"].dt.normalize()
    score = symptoms["symptom"] != "stool_form"
    worst = days.unique()[3]
    symptoms.loc[score & (days == worst), "score"] = 10
    found = {c.name: c for c in checked(replace(client.diary, symptoms=symptoms), client.plan)}
    assert not found["largest-residual"].fits
    assert found["largest-residual"].observed > found["largest-residual"].high


def test_days_that_hang_together_beyond_the_model_are_told() -> None:
    client = simulate_client(USUAL, 77, 2)
    symptoms = client.diary.symptoms.copy()
    # a wave of a fortnight and nothing else
    age = (symptoms["time"] - symptoms["time"].min()).dt.total_seconds() / 86400
    score = symptoms["symptom"] != "stool_form"
    wave = np.rint(4 + 4 * np.sin(2 * np.pi * age / 14))
    symptoms.loc[score, "score"] = wave[score]
    found = {c.name: c for c in checked(replace(client.diary, symptoms=symptoms), client.plan)}
    assert not all(check.fits for check in found.values())
