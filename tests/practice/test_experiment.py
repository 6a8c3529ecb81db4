"""The simulation checked against itself, through the whole analysis."""

from dataclasses import replace

import numpy as np
import pytest

from challenge.practice.experiment import by_analysis, experiment
from challenge.practice.operating import operating
from challenge.practice.records import csv_rows
from challenge.practice.trust import as_json, as_lines, trust_in
from challenge.practice.unclear import KINDS
from challenge.simulation.clients import simulate_client
from challenge.simulation.worlds import WORLDS
from challenge.statistics.proportions import proportion

KEPT_WHOLE = {
    "missing_score": 0.0,
    "missing_slot": 0.0,
    "missing_day": 0.0,
    "missing_when_bad": 0.0,
    "missed_dose": 0.0,
    "mistaken_dose": 0.0,
    "off_plan_rate": 0.0,
}


@pytest.mark.slow
@pytest.mark.parametrize("world", ["nobody-reacts-no-expectation", "nobody-reacts"])
def test_without_any_effect_reactions_are_rare(world):
    """Fewer than one group in ten, at the upper end of the 95 % interval of the simulation."""
    found = operating(experiment(WORLDS[world], 2, 40))
    rate = found.false_reaction
    assert rate.error is not None
    assert rate.value + 2 * rate.error < 0.10
    assert found.too_high.value == 0.0


@pytest.mark.slow
def test_a_huge_effect_is_nearly_certain_in_a_diary_kept_whole():
    """A jump of about 7 points at a dose that was eaten, in a diary without gaps."""
    world = replace(WORLDS["huge"], **KEPT_WHOLE)
    chances = []
    for index in range(30):
        client = simulate_client(world, 2, index)
        rises = {told.fodmap_group: told.rises for told in client.truth}
        for group in by_analysis(client, world.margin)["groups"]:
            true = rises[group["fodmap_group"]]
            if any(s["difference"] is not None and true[s["step"] - 1] > 3 for s in group["steps"]):
                chances.append(group["p_reaction"])
    assert len(chances) > 100
    certain = sum(chance > 0.9 for chance in chances)
    assert proportion(certain, len(chances)).low > 0.9
    assert np.median(chances) > 0.99


@pytest.mark.slow
def test_most_huge_effects_are_found_in_a_diary_with_gaps_too():
    calls = experiment(WORLDS["huge"], 2, 30)
    clear = calls.where(calls.suggested >= 0)
    assert np.mean(clear.suggested < clear.top) > 0.9
    assert len(clear) > 0.5 * len(calls)


@pytest.mark.slow
def test_intervals_cover_what_they_say():
    """90 % intervals of the rises: no less than that beyond three Monte-Carlo standard errors.

    Over all rises, many of them nought, and over those that matter. They need not meet 90 %
    exactly: the prior of the analysis is not the distribution of this world.
    """
    calls = experiment(WORLDS["usual"], 2, 40)
    large = replace(calls, true_rise=np.where(calls.true_rise >= 1.0, calls.true_rise, np.nan))
    for found in (operating(calls).coverage, operating(large).coverage):
        assert found.value > 0.90 - 3 * found.error
    assert operating(large).coverage.value < 0.99


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
