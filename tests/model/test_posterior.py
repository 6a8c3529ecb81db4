"""From likelihood to posterior to what is asked of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from challenge.model.dose_response import dose_shapes
from challenge.model.posterior import (
    Blocks,
    GroupLikelihood,
    GroupPosterior,
    group_likelihood,
    group_posterior,
    mix_likelihoods,
)
from challenge.model.priors import load_priors
from challenge.model.rises import highest_tolerated, step_rises

PRIORS = load_priors()
GRAMS = np.array([1.0, 2.0, 4.0])
SHAPES, WEIGHTS = dose_shapes(GRAMS, GRAMS, 5)


def random_posterior(seed, scale=4.0, group="lactose"):
    rng = np.random.default_rng(seed)
    table = scale * rng.normal(size=(len(PRIORS.courses), len(SHAPES), len(PRIORS.sizes)))
    likelihood = GroupLikelihood(table=table, null=float(scale * rng.normal()))
    return group_posterior(likelihood, PRIORS.groups[group], SHAPES, WEIGHTS, PRIORS.sizes)


@pytest.mark.parametrize("group", PRIORS.groups)
@pytest.mark.parametrize("table", ["groups", "vague"])
def test_prior_weights_sum_to_one(group, table):
    prior = getattr(PRIORS, table)[group]
    assert prior.size_weights.sum() == pytest.approx(1)
    assert prior.course_weights.sum() == pytest.approx(1)
    assert 0 < prior.reaction < prior.any_rise < 1


@given(seed=st.integers(0, 10_000), scale=st.floats(0, 300))
@settings(max_examples=30, deadline=None)
def test_posterior_sums_to_one_however_extreme_the_likelihood(seed, scale):
    posterior = random_posterior(seed, scale)
    assert posterior.none + posterior.mass.sum() == pytest.approx(1)
    assert posterior.course.sum() == pytest.approx(1) or posterior.none > 1 - 1e-12
    assert np.isfinite(posterior.mean_effect).all()


def test_a_diary_that_says_nothing_leaves_the_prior():
    flat = GroupLikelihood(
        table=np.zeros((len(PRIORS.courses), len(SHAPES), len(PRIORS.sizes))), null=0.0
    )
    prior = PRIORS.groups["gos"]
    posterior = group_posterior(flat, prior, SHAPES, WEIGHTS, PRIORS.sizes)
    assert posterior.none == pytest.approx(1 - prior.any_rise)
    assert posterior.course == pytest.approx(prior.course_weights)
    expected = prior.any_rise * np.outer(WEIGHTS, prior.size_weights)
    assert np.allclose(posterior.mass, expected)


@given(
    seed=st.integers(0, 10_000), log_sd=st.floats(0, 0.8), margin=st.floats(0.2, 4)
)  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_highest_tolerated_sums_to_one_and_agrees_with_p_over(seed, log_sd, margin):
    posterior = random_posterior(seed)
    p = highest_tolerated(posterior, SHAPES, PRIORS.sizes, log_sd, margin)
    rises = step_rises(posterior, SHAPES, PRIORS.sizes, log_sd, margin, 0.9)
    assert p.sum() == pytest.approx(1)
    assert (p >= 0).all()
    assert np.allclose(p, rises.p_highest)
    # step j is too much exactly when the highest tolerated lies below it
    assert np.allclose(rises.p_over, p.cumsum()[:-1])
    assert (np.diff(rises.p_over) >= -1e-12).all()
    assert (rises.low <= rises.high).all()


def test_highest_tolerated_of_a_single_known_truth():
    """Rise in proportion to the dose, 2 points at 4 g: 0.5, 1.0 and 2.0 points; margin 0.8."""
    near = (np.abs(SHAPES - GRAMS / 4) < 1e-12).all(axis=1)
    proportional = int(np.flatnonzero(near)[0])
    mass = np.zeros((len(SHAPES), 1))
    mass[proportional] = 1.0
    posterior = GroupPosterior(none=0.0, mass=mass, mean_effect=np.zeros((1, 3)), course=np.ones(1))
    p = highest_tolerated(posterior, SHAPES, np.array([2.0]), 0.0, 0.8)
    assert p.argmax() == 1
    assert p[1] > 0.999


def test_likelihood_equals_a_plain_regression_without_flares():
    """log L(c, s, a) = a x'y - a^2 x'x / 2 for the column x of that course and shape."""
    rng = np.random.default_rng(1)
    x, y = rng.normal(size=(30, 2, 3)), rng.normal(size=30)
    blocks = Blocks(
        xx=np.einsum("ncl,ncm->clm", x, x),
        xy=np.einsum("ncm,n->cm", x, y),
        xf=np.zeros((2, 3, 0)),
        ff=np.zeros(0),
        fy=np.zeros(0),
    )
    sizes = np.array([0.5, 2.0])
    found = group_likelihood(blocks, SHAPES, sizes, 2.0, np.zeros(1))
    for c in range(2):
        for s in range(len(SHAPES)):
            column = x[:, c] @ SHAPES[s]
            for a, size in enumerate(sizes):
                expected = size * column @ y - 0.5 * size**2 * column @ column
                assert found.table[c, s, a] == pytest.approx(expected)
    assert found.null == 0


def test_one_flare_is_integrated_as_a_normal_effect():
    """Against the marginal density with the flare's variance added to the covariance."""
    rng = np.random.default_rng(2)
    x, f, y = rng.normal(size=(12, 1)), rng.normal(size=(12, 1)), rng.normal(size=12)
    blocks = Blocks(
        xx=(x.T @ x)[None], xy=(x.T @ y)[None], xf=(x.T @ f)[None], ff=np.diag(f.T @ f),
        fy=f.T @ y,
    )  # fmt: skip
    log_prior, sd, size = np.log([0.7, 0.3]), 1.5, 0.8
    found = group_likelihood(blocks, np.ones((1, 1)), np.array([size]), sd, log_prior)

    def density(residual, covariance):
        return -0.5 * (
            residual @ np.linalg.solve(covariance, residual) + np.linalg.slogdet(covariance)[1]
        )

    flat = np.eye(12)
    flared = flat + sd**2 * f @ f.T
    base = density(y, flat)
    for effect, value in ((size * x[:, 0], found.table[0, 0, 0]), (0 * y, found.null)):
        likelihoods = np.array([density(y - effect, flat), density(y - effect, flared)])
        parts = likelihoods + log_prior - base
        assert value == pytest.approx(np.logaddexp(*parts))


def test_mixing_averages_likelihoods_not_their_logarithms():
    tables = np.array([[[[1.0]]], [[[3.0]]]])
    parts = [
        GroupLikelihood(table=t, null=float(n)) for t, n in zip(tables, [0.0, -2.0], strict=True)
    ]
    mixed = mix_likelihoods(parts, np.log([0.25, 0.75]))
    assert mixed.table[0, 0, 0] == pytest.approx(np.log(0.25 * np.e + 0.75 * np.e**3))
    assert mixed.null == pytest.approx(np.log(0.25 + 0.75 * np.exp(-2.0)))
