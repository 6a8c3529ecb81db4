"""What scores at the ends of the scale stand for, against a normal cut off by scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import truncnorm

from challenge.model.series import beyond_the_scale, scale_ends


def written(mean: float, sd: float, n: int = 40_000) -> np.ndarray:
    values = np.random.default_rng(8).normal(mean, sd, (n, 1))
    return np.clip(np.rint(values), 0, 10)


@pytest.mark.parametrize(("mean", "sd"), [(0.3, 1.0), (1.0, 1.2), (2.0, 1.5)])
def test_a_zero_stands_for_the_mean_below_a_half(mean: float, sd: float) -> None:
    scores = written(mean, sd)
    ends = scale_ends(scores, np.ones(len(scores), dtype=bool))
    expected = truncnorm(-np.inf, (0.5 - mean) / sd, mean, sd).mean()
    assert ends[0, 0] == pytest.approx(expected, abs=0.12)
    # with the zeros at that value the mean is that of the uncut variable
    assert beyond_the_scale(scores, ends).mean() == pytest.approx(mean, abs=0.05)


def test_the_top_is_the_mirror_of_the_bottom() -> None:
    scores = written(1.0, 1.2)
    low = scale_ends(scores, np.ones(len(scores), dtype=bool))
    high = scale_ends(10 - scores, np.ones(len(scores), dtype=bool))
    assert high[1, 0] == pytest.approx(10 - low[0, 0])
    assert high[0, 0] == pytest.approx(10 - low[1, 0])


def test_too_little_to_go_by_leaves_scores_as_they_are() -> None:
    scores = np.array([[0.0], [1.0], [2.0], [np.nan], [10.0]])
    ends = scale_ends(scores, np.ones(5, dtype=bool))
    assert ends[:, 0].tolist() == [0.0, 10.0]
    assert np.array_equal(beyond_the_scale(scores, ends), scores, equal_nan=True)


def test_a_symptom_that_is_never_there_is_not_sent_to_minus_infinity() -> None:
    scores = np.zeros((200, 1))
    scores[:6] = 1
    ends = scale_ends(scores, np.ones(200, dtype=bool))
    assert -1.5 <= ends[0, 0] <= 0.25
