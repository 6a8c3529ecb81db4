"""The primary symptom: chosen by the baseline, so that no result can choose it."""

from __future__ import annotations

import pytest

from challenge.analysis.analyse import analyse
from challenge.protocol.settings import Settings

from .making import make_diary, make_plan

PLAN = make_plan(groups=("lactose", "sorbitol"), washout=5)
BASELINE = 7


def scores_of(baseline, later):
    def score(day, hour, symptom):
        # a day is not like the next
        return (baseline if day < BASELINE else later)[symptom] + day % 2

    return score


def test_worse_washouts_do_not_change_it():
    score = scores_of({"bloating": 2, "pain": 4}, later={"bloating": 6, "pain": 1})
    for n_days in (10, 15, len(PLAN)):
        plan = type(PLAN)(PLAN.days[:n_days])
        assert analyse(make_diary(plan, score), plan).primary_symptom == "pain"


def test_a_symptom_without_room_to_rise_is_not_taken():
    score = scores_of({"bloating": 8, "pain": 4}, later={"bloating": 2, "pain": 1})
    assert analyse(make_diary(PLAN, score), PLAN).primary_symptom == "pain"


def test_a_baseline_without_scores_leaves_it_to_the_washouts():
    score = scores_of({"bloating": None, "pain": None}, later={"bloating": 5, "pain": 1})

    def gone(day, hour, symptom):
        return None if day < BASELINE else score(day, hour, symptom)

    assert analyse(make_diary(PLAN, gone), PLAN).primary_symptom == "bloating"


@pytest.mark.parametrize("named", ["bloating", "pain"])
def test_what_the_settings_name_is_taken(named):
    settings = Settings.model_validate({"analysis": {"primary_symptom": named}})
    score = scores_of({"bloating": 2, "pain": 4}, later={"bloating": 2, "pain": 4})
    assert analyse(make_diary(PLAN, score), PLAN, settings).primary_symptom == named
