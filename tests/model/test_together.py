"""What the other groups say of one, against brute force over all patterns of reactions."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import multivariate_normal, norm

from challenge.model.posterior import GroupLikelihood
from challenge.model.priors import load_priors
from challenge.model.together import log_evidence, priors_given_others, reaction_given_others

PRIOR = np.array([0.5, 0.3, 0.4])
YES = np.array([1.2, -2.0, 0.3])
NO = np.array([-0.5, 0.4, 0.3])


def pattern_probability(pattern: tuple[int, ...], correlation: float) -> float:
    """Orthant probability of one pattern of reactions (scipy's multivariate normal)."""
    sign = np.where(np.array(pattern), 1.0, -1.0)
    cov = np.full((3, 3), correlation) + (1 - correlation) * np.eye(3)
    return float(
        multivariate_normal(np.zeros(3), cov * np.outer(sign, sign)).cdf(sign * norm.ppf(PRIOR))
    )


@pytest.mark.parametrize("correlation", [0.2, 0.35, 0.6])
def test_against_all_patterns_with_orthant_probabilities_of_scipy(correlation: float) -> None:
    # given the diaries of the other groups, but not its own
    expected = np.zeros((3, 2))
    for pattern in itertools.product((0, 1), repeat=3):
        logs = np.where(np.array(pattern), YES, NO)
        joint = pattern_probability(pattern, correlation)
        for g in range(3):
            expected[g, pattern[g]] += joint * np.exp(logs.sum() - logs[g])
    found = reaction_given_others(YES, NO, PRIOR, correlation)
    assert_allclose(found, expected[:, 1] / expected.sum(axis=1), atol=2e-4)


def test_without_correlation_every_group_stands_for_itself() -> None:
    assert_allclose(reaction_given_others(YES, NO, PRIOR, 0.0), PRIOR, atol=1e-9)


def test_a_groups_own_diary_does_not_change_its_own_prior() -> None:
    louder = YES + np.array([5.0, 0.0, 0.0])
    before, after = (reaction_given_others(yes, NO, PRIOR, 0.35) for yes in (YES, louder))
    assert after[0] == pytest.approx(before[0])
    assert (after[1:] > before[1:]).all()


def test_evidence_is_the_likelihood_averaged_over_the_priors() -> None:
    rng = np.random.default_rng(5)
    prior = load_priors().groups["lactose"]
    courses = len(prior.course_weights)
    table = rng.normal(0, 1, (courses, 4, len(prior.reaction_sizes)))
    weights = np.array([0.1, 0.2, 0.3, 0.4])
    yes, no = log_evidence(GroupLikelihood(table=table, null=0.7), prior, weights)
    by_hand = sum(
        prior.course_weights[c] * weights[s] * np.exp(table[c, s])
        for c in range(courses)
        for s in range(4)
    )
    assert yes == pytest.approx(np.log(by_hand @ prior.reaction_sizes))
    none = (1 - prior.mild) * np.exp(0.7) + prior.mild * by_hand @ prior.mild_sizes
    assert no == pytest.approx(np.log(none))


def test_the_control_neither_gives_nor_takes() -> None:
    priors = load_priors().groups
    lactose = priors["lactose"]
    shape = (len(lactose.course_weights), 2, len(lactose.reaction_sizes))
    loud = GroupLikelihood(table=np.full(shape, 9.0), null=0.0)
    quiet = GroupLikelihood(table=np.full(shape, -3.0), null=0.0)
    weights = {group: np.array([0.5, 0.5]) for group in ("lactose", "gos", "glucose")}
    given = priors_given_others({"lactose": quiet, "glucose": loud}, weights, priors, 0.35)
    assert given["lactose"].reaction == priors["lactose"].reaction
    assert given["glucose"].reaction == priors["glucose"].reaction
    given = priors_given_others({"lactose": quiet, "gos": loud}, weights, priors, 0.35)
    assert given["lactose"].reaction > priors["lactose"].reaction
    assert given["gos"].reaction < priors["gos"].reaction
