"""What would settle it, valued over what the next days might show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from challenge.analysis.next_step import Known, best_option
from challenge.analysis.reasons import what_next
from challenge.analysis.suggestion import GAIN_UNCLEAR, expected_gain, suggest

# three truths: nothing, a reaction from step 3 on, a reaction from step 2 on
RISES = np.array([[0.0, 0.0, 0.0], [0.0, 0.2, 3.0], [0.2, 3.0, 4.0]])
EVEN = Known(
    mass=np.array([0.4, 0.3, 0.3]),
    rises=RISES,
    margin=1.0,
    day_sd=0.5,
    eaten=(1, 2, 3),
    worth=GAIN_UNCLEAR,
    expectation_sd=0.3,
)


def certain(truth: int) -> Known:
    mass = np.zeros(3)
    mass[truth] = 1.0
    return replace(EVEN, mass=mass, worth=1.0)


@pytest.mark.parametrize("truth", [0, 1, 2])
def test_nothing_is_worth_a_day_when_the_answer_is_known(truth: int) -> None:
    assert best_option(certain(truth), 3) is None


def test_the_gain_never_exceeds_what_full_knowledge_would_bring() -> None:
    option = best_option(EVEN, 3)
    assert option is not None
    assert 0 < option.gain <= 1.0 - GAIN_UNCLEAR + 1e-9


def test_a_sharp_look_at_the_deciding_step_brings_nearly_full_knowledge() -> None:
    # only step 2 tells the second and third truth apart, only step 3 the first and second
    known = replace(EVEN, mass=np.array([0.0, 0.5, 0.5]), day_sd=0.05)
    option = best_option(known, 3)
    assert option is not None and option.kind == "repeat"
    assert option.steps == (2,) or option.steps == (3,)
    assert option.gain == pytest.approx(1.0 - GAIN_UNCLEAR, abs=0.03)


def test_a_longer_washout_makes_the_same_look_dearer() -> None:
    short, long = best_option(EVEN, 3), best_option(EVEN, 7)
    assert short is not None and long is not None
    assert long.per_day < short.per_day


def test_a_control_helps_only_where_expectation_is_open_and_matters() -> None:
    # rises that only expectation blurs: a large, uncertain shift and a sharp eye
    rises = np.linspace(0.6, 1.4, 9)[:, None] * np.array([[1.0, 1.0, 1.0]])
    mass = np.full(9, 1 / 9)
    highest = (rises < 1.0).cumprod(axis=1).sum(axis=1)
    p = np.bincount(highest, mass, minlength=4)
    known = Known(
        mass=mass,
        rises=rises,
        margin=1.0,
        day_sd=2.0,
        eaten=(1, 2, 3),
        worth=float(expected_gain(p).max()),
        expectation_sd=1.5,
    )
    with_control = best_option(known, 3)
    without = best_option(replace(known, expectation_sd=None), 3)
    assert with_control is not None and with_control.kind == "control"
    assert without is None or without.kind == "repeat"


def test_a_step_above_those_eaten_is_not_worth_anything_until_it_is_eaten() -> None:
    known = replace(EVEN, mass=np.array([1.0, 0.0, 0.0]), eaten=(1,), worth=GAIN_UNCLEAR)
    option = best_option(known, 3)
    # the next step up is within reach, the one after it is not
    assert option is None or max(option.steps) <= 2


def test_a_step_that_was_not_eaten_is_not_said_to_be_eaten_again() -> None:
    # the first step went well, and only the second can tell the rest
    known = replace(EVEN, mass=np.array([0.5, 0.0, 0.5]), eaten=(1,), day_sd=0.1)
    option = best_option(known, 3)
    assert option is not None and option.steps[-1] == 2 and option.beyond
    said = str(what_next("lactose", suggest(np.eye(4)[3], np.eye(4)[3], (1,)), option))
    assert "again" not in said and "eat step 2 for the first time" in said
    option = best_option(replace(known, eaten=(1, 2, 3)), 3)
    assert option is not None and not option.beyond
    assert "again after washout" in str(
        what_next("lactose", suggest(np.eye(4)[3], np.eye(4)[3], (1, 2, 3)), option)
    )


def test_nothing_above_a_stop_is_asked_for() -> None:
    known = replace(EVEN, mass=np.array([0.5, 0.0, 0.5]), eaten=(1,), day_sd=0.1, stopped_at=1)
    option = best_option(known, 3)
    assert option is None or max(option.steps) == 1
