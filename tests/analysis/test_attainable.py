"""The smallest p of a plan, against counting by hand and against the analysis itself."""

import datetime as dt
from dataclasses import replace

import pytest

from challenge.analysis.analyse import analyse
from challenge.analysis.attainable import smallest_pvalues
from challenge.protocol.plan import Plan, PlanDay
from challenge.simulation.clients import simulate_client
from challenge.simulation.world import World

START = dt.date(2026, 3, 2)


def plan_of(pattern):
    """Days from words like ``b``, ``w`` and ``lactose1.2`` (group, cycle, step)."""
    days = []
    for n, word in enumerate(pattern.split()):
        date = START + dt.timedelta(days=n)
        if word in ("b", "w"):
            days.append(PlanDay(date=date, phase="baseline" if word == "b" else "washout"))
            continue
        group, place = word[:-3], word[-3:]
        days.append(
            PlanDay(date=date, phase="challenge", fodmap_group=group, cycle=int(place[0]),
                    step=int(place[2]), food="x", portion_g=5.0, fodmap_g=5.0)
        )  # fmt: skip
    return Plan(tuple(days))


def test_by_hand():
    # gos: three baseline days before it; lactose: two washout days count (the second after the
    # dose and the third), then the baseline days that gos used serve lactose as well
    gos, lactose = smallest_pvalues(plan_of(
        "b b b gos1.1 gos1.2 w w w lactose1.1 lactose1.2 lactose1.3 w"
    ))  # fmt: skip
    assert (gos.n_pairs, gos.pvalue, gos.steps) == (2, 0.5, {1: None, 2: None})
    assert (lactose.n_pairs, lactose.pvalue) == (3, 0.25)
    # Holm over two groups doubles the smallest
    assert (gos.pvalue_adjusted, lactose.pvalue_adjusted) == (1.0, 0.5)


def test_too_short_a_baseline_leaves_doses_without_a_pair():
    (only,) = smallest_pvalues(plan_of("b gos1.1 gos1.1 gos1.2 gos1.2 w w w"))
    assert (only.n_pairs, only.pvalue, only.steps) == (1, 1.0, {1: None, 2: None})
    (none,) = smallest_pvalues(plan_of("gos1.1 gos1.2 w w w"))
    assert (none.n_pairs, none.pvalue, none.pvalue_adjusted) == (0, None, None)


def test_from_three_cycles_on_the_cycle_counts():
    cycle = " gos{0}.1 gos{0}.2 w w w"
    two = plan_of("b b b b" + "".join(cycle.format(n) for n in (1, 2)))
    assert smallest_pvalues(two)[0].pvalue == 2 ** (1 - 4)
    five = plan_of("b b b b" + "".join(cycle.format(n) for n in range(1, 6)))
    (found,) = smallest_pvalues(five)
    assert (found.unit, found.n_cycles, found.pvalue) == ("cycles", 5, 2 ** (1 - 5))
    assert found.steps == {1: 2 ** (1 - 5), 2: 2 ** (1 - 5)}


@pytest.mark.parametrize("cycles", [1, 2, 3])
def test_a_diary_without_gaps_has_as_many_pairs_and_no_smaller_p(cycles):
    tidy = replace(
        World(), cycles=cycles, groups=("lactose", "gos"), baseline_days=5, missing_score=0.0,
        missing_slot=0.0, missing_day=0.0, missing_when_bad=0.0, missed_dose=0.0,
        unlogged_dose=0.0, off_plan_rate=0.0, travel_rate=0.0, illness_rate=0.0, stop_chance=0.0,
    )  # fmt: skip
    client = simulate_client(tidy, 5, 0)
    found = analyse(client.diary, client.plan)
    for best, group in zip(smallest_pvalues(client.plan), found.groups, strict=True):
        tests = [t for t in group.tests if t.step is None]
        assert {t.n_pairs for t in tests} == {best.n_pairs}
        assert min(t.pvalue for t in tests) >= best.pvalue
        assert min(t.min_pvalue for t in tests) >= best.pvalue
        for test in group.tests:
            if test.step is not None:
                assert test.min_pvalue is None or test.min_pvalue >= best.steps[test.step]
                # the control challenges of a step eaten on one day have no exact test
                assert (best.steps[test.step] is None) == (test.n_pairs == 1)
