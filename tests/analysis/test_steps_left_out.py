"""A plan laid by hand that leaves a step out, and one that lost it to a dose asked for later."""

from __future__ import annotations

from dataclasses import replace

import pytest

from challenge.analysis.analyse import analyse
from challenge.errors import ChallengeError
from challenge.protocol.plan import Plan

from .making import GRAMS, make_diary, make_plan


def without(step):
    plan = make_plan(("lactose", "gos"))
    return Plan(
        tuple(
            replace(d, phase="washout", cycle=None, step=None, food="", portion_g=None,
                    fodmap_g=None) if d.step == step and d.fodmap_group == "lactose" else d
            for d in plan
        )
    )  # fmt: skip


@pytest.mark.parametrize(("step", "between"), [(1, 2.0), (2, 5.0)])
def test_a_step_left_out_is_judged_and_never_suggested(step, between):
    plan = without(step)
    lactose = analyse(make_diary(plan, lambda day, *_: 1 + day % 2), plan).group("lactose")
    assert [s.step for s in lactose.steps] == [1, 2, 3]
    assert [s.n_days for s in lactose.steps] == [int(s != step) for s in (1, 2, 3)]
    assert lactose.steps[step - 1].fodmap_g == between
    assert list(lactose.probability) == [0, 1, 2, 3]
    assert lactose.suggested_step != step
    assert sum(lactose.probability.values()) == pytest.approx(1)


def test_a_step_that_the_plan_once_had_keeps_its_grams():
    plan = replace(without(2), ladders={"lactose": GRAMS})
    lactose = analyse(make_diary(plan), plan).group("lactose")
    assert [s.fodmap_g for s in lactose.steps] == list(GRAMS.values())


def test_grams_that_are_missing_are_between_their_neighbours_or_asked_for():
    plan = make_plan()
    diary = make_diary(plan)

    def bare(*steps):
        days = (replace(d, fodmap_g=None) if d.step in steps else d for d in plan)
        return Plan(tuple(days))

    lactose = analyse(diary, bare(1)).group("lactose")
    assert [s.fodmap_g for s in lactose.steps] == [2.0, 4.0, 8.0]
    with pytest.raises(ChallengeError, match="gives no grams"):
        analyse(diary, bare(1, 2, 3))
