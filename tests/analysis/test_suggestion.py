"""The decision rule alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from challenge.analysis.suggestion import (
    GAIN_ONE_TOO_LOW,
    GAIN_PER_STEP_TOO_HIGH,
    GAIN_RIGHT,
    LEAST_P_REACTION,
    expected_gain,
    probabilities,
    suggest,
)
from challenge.wording import statement

TOO_FEW = statement("few-reference-days", n=2, needed=3)
UP = statement("unsettled", rise=2.5, day="2026-03-09")


def chances(n):
    return st.lists(st.floats(0.0, 1.0), min_size=n, max_size=n).filter(
        lambda p: sum(p) > 0.01
    ).map(lambda p: np.array(p) / sum(p))  # fmt: skip


four = chances(4)


def worth(suggested, truth):
    if suggested == truth:
        return GAIN_RIGHT
    if suggested == truth - 1:
        return GAIN_ONE_TOO_LOW
    return GAIN_PER_STEP_TOO_HIGH * max(suggested - truth, 0)


@given(st.integers(2, 7).flatmap(chances))
def test_expected_gain_is_the_plain_double_loop(p):
    by_hand = [sum(p[t] * worth(s, t) for t in range(len(p))) for s in range(len(p))]
    before = p.copy()
    assert expected_gain(p) == pytest.approx(by_hand)
    assert (p == before).all()


def test_expected_gain_of_many_at_once():
    p = np.random.default_rng(1).dirichlet(np.ones(4), size=5)
    assert np.allclose(expected_gain(p), [expected_gain(row) for row in p])


@given(four, four, st.sets(st.integers(1, 3), min_size=1))
@settings(max_examples=200)
def test_a_step_that_was_not_eaten_is_never_suggested(p, vague, eaten):
    found = suggest(p, vague, tuple(eaten))
    assert found.step is None or found.step <= max(eaten)
    assert (found.outcome == "unclear") == (found.step is None) == bool(found.why_unclear)
    assert found.outcome != "tolerated" or found.step == max(eaten)


@given(four, st.sets(st.integers(1, 3), min_size=1))
def test_an_obstacle_makes_it_unclear_and_says_why(p, eaten):
    found = suggest(p, p, tuple(eaten), obstacles=(TOO_FEW,))
    assert found.outcome == "unclear"
    assert found.why_unclear == (TOO_FEW,)


def test_nothing_eaten_is_unclear_even_when_certain():
    assert suggest(np.array([1.0, 0, 0, 0]), np.array([1.0, 0, 0, 0]), ()).step is None


@given(four, st.integers(1, 3))
@settings(max_examples=200)
def test_a_stop_is_never_overruled(p, stopped):
    found = suggest(p, p, tuple(range(1, stopped + 1)), stopped_at=stopped)
    assert found.step is None or found.step < stopped


@given(four, four)
@settings(max_examples=200)
def test_unsettled_days_before_forbid_only_a_reaction(p, vague):
    plain = suggest(p, vague, (1, 2, 3))
    careful = suggest(p, vague, (1, 2, 3), unsettled=(UP,))
    if plain.outcome == "reacted":
        assert careful.outcome == "unclear"
        assert careful.why_unclear == (UP,)
    else:
        assert careful == plain


@given(four)
def test_no_reaction_is_told_on_about_even_odds(p):
    found = suggest(p, p, (1, 2, 3))
    assert found.outcome != "reacted" or p[:3].sum() >= LEAST_P_REACTION


def test_on_about_even_odds_the_highest_step_stands_or_nothing():
    # step 2 alone would be worth 0.76, but the chance that step 3 is too much is 0.52
    p = np.array([0.0, 0.0, 0.52, 0.48])
    found = suggest(p, p, (1, 2, 3))
    assert found.outcome == "unclear"
    assert [reason.code for reason in found.why_unclear] == ["spread"]
    p = np.array([0.0, 0.0, 0.46, 0.54])
    assert suggest(p, p, (1, 2, 3)).step == 3


def test_certainty_is_suggested():
    for step in range(4):
        p = np.eye(4)[step]
        assert suggest(p, p, (1, 2, 3)).step == step


def test_an_answer_that_hangs_on_the_priors_is_unclear():
    assert suggest(np.eye(4)[1], np.eye(4)[3], (1, 2, 3)).outcome == "unclear"


@given(four)
def test_probabilities_sum_to_one(p):
    assert sum(probabilities(p).values()) == pytest.approx(1)


def test_a_step_that_was_skipped_between_two_eaten_ones_is_not_suggested():
    p = np.array([0.05, 0.15, 0.70, 0.10])
    assert suggest(p, p, (1, 2, 3)).step == 2
    assert suggest(p, p, (1, 3)).step != 2
