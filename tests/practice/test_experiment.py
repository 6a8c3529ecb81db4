"""The simulation checked against itself, through the whole analysis."""

import numpy as np
import pytest

from challenge.practice.experiment import by_analysis, experiment
from challenge.practice.operating import operating
from challenge.practice.records import csv_rows
from challenge.practice.trust import as_json, as_lines, trust_in
from challenge.practice.unclear import KINDS
from challenge.simulation.clients import simulate_client
from challenge.simulation.worlds import WORLDS


@pytest.mark.slow
def test_without_any_effect_reactions_are_rare():
    found = operating(experiment(WORLDS["nobody-reacts-no-expectation"], 2, 30))
    # 180 groups that tolerate everything; the bound leaves room for three standard errors and for
    # flares that fall into a challenge
    assert found.false_reaction.value < 0.20
    assert found.too_high.value == 0.0


@pytest.mark.slow
def test_huge_effects_are_found_nearly_always():
    calls = experiment(WORLDS["huge"], 2, 30)
    clear = calls.where(calls.suggested >= 0)
    assert np.mean(clear.suggested < clear.top) > 0.9
    assert len(clear) > 0.5 * len(calls)


@pytest.mark.slow
def test_any_number_of_jobs_gives_the_same_calls():
    one = experiment(WORLDS["usual"], 2, 30, jobs=1)
    two = experiment(WORLDS["usual"], 2, 30, jobs=2)
    assert np.array_equal(one.suggested, two.suggested)
    assert np.array_equal(one.probability, two.probability, equal_nan=True)


@pytest.mark.slow
def test_records_have_what_audit_tells():
    calls = experiment(WORLDS["gaps"], 3, 25)
    found = trust_in(calls)
    assert len(found.parts["group"]) == 6
    assert any("utility" in line for line in as_lines(found))
    assert as_json(found)["all"]["n_clients"] == 25
    kinds = set()
    for index in range(10):
        record = by_analysis(simulate_client(WORLDS["gaps"], 3, index), 1.0)
        assert record["days_taken"] <= record["days_planned"] == 45
        for group in record["groups"]:
            assert 0 <= group["doses_as_planned"] <= group["doses_eaten"]
            assert group["doses_eaten"] <= group["doses_planned"] == 3
            if group["outcome"] == "unclear":
                kinds.add(group["unclear_because"])
        assert len(list(csv_rows(record, 3))) == 6
    # kinds that can be counted: no numbers or dates in them, and most are known by name
    assert kinds & set(KINDS.values())
    assert not any(character.isdigit() for kind in kinds for character in kind)
