"""Integrating out day effects and nuisance equals dense generalised least squares."""

from __future__ import annotations

import numpy as np
import pytest

from challenge.model.noise import Columns, DayNoise


def dense_covariance(noise, day, n_days, weight, columns, n_nuisance, precision):
    """Covariance of the data with day effects and nuisance as random effects."""
    gaps = np.abs(np.subtract.outer(np.arange(n_days), np.arange(n_days)))
    days = noise.q * noise.phi**gaps
    which = np.eye(n_days)[day]
    nuisance = columns[:, :n_nuisance]
    return (
        np.diag(1 / weight)
        + which @ days @ which.T
        + nuisance @ np.diag(1 / precision) @ nuisance.T
    )


@pytest.mark.parametrize("noise", [DayNoise(0.0, 0.5), DayNoise(0.6, 2.0), DayNoise(0.4, 0.1)])
def test_reduced_products_equal_dense_algebra(noise):
    rng = np.random.default_rng(4)
    day = np.array([0, 0, 1, 3, 3, 3, 4, 6])  # days 2 and 5 without scores
    n_days, n = 7, 2
    columns = rng.normal(size=(8, 5))
    weight = rng.uniform(0.3, 1.0, size=8)
    precision = np.array([0.2, 3.0])
    reduced = Columns(columns, day, n_days, weight, n).reduce(noise, precision)
    covariance = dense_covariance(noise, day, n_days, weight, columns, n, precision)
    rest = columns[:, n:]
    expected = rest.T @ np.linalg.solve(covariance, rest)
    assert np.allclose(reduced.block(slice(2, 5), slice(2, 5)), expected)
    assert np.allclose(reduced.diagonal(slice(2, 5)), np.diag(expected))


def test_log_determinants_differ_as_the_dense_ones_do():
    """Only differences between settings matter; the constant cancels."""
    rng = np.random.default_rng(5)
    day, n_days, n = np.array([0, 0, 1, 2, 2, 4]), 5, 1
    columns, weight = rng.normal(size=(6, 3)), np.ones(6)
    precision = np.array([0.7])
    prepared = Columns(columns, day, n_days, weight, n)
    settings = [DayNoise(0.2, 0.3), DayNoise(0.7, 1.8)]
    mine = [prepared.reduce(s, precision).log_det for s in settings]
    dense = [
        np.linalg.slogdet(dense_covariance(s, day, n_days, weight, columns, n, precision))[1]
        for s in settings
    ]
    assert mine[0] - mine[1] == pytest.approx(dense[0] - dense[1])


def test_day_precision_is_the_inverse_of_an_ar1_covariance():
    noise = DayNoise(0.55, 1.7)
    gaps = np.abs(np.subtract.outer(np.arange(6), np.arange(6)))
    covariance = noise.q * noise.phi**gaps
    assert np.allclose(noise.day_precision(6) @ covariance, np.eye(6))
    assert noise.log_det_day_covariance(6) == pytest.approx(np.linalg.slogdet(covariance)[1])
    assert noise.day_precision(1)[0, 0] == pytest.approx(1 / noise.q)
