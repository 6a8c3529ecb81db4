from itertools import combinations

import numpy as np
import pytest

from challenge.statistics.randomisation import randomisation_test
from challenge.statistics.sign_flip import sign_flip
from challenge.statistics.two_sample import day_permutation


def choose(n, size):
    return np.array([[i in chosen for i in range(n)] for chosen in combinations(range(n), size)])


def test_lady_tasting_tea():
    # Fisher, Design of Experiments 1935, chapter 2: 4 of 8 cups, all right: 1 in 70.
    said = np.array([1, 0, 0, 1, 1, 0, 1, 0])
    result = randomisation_test(said, said == 1, choose(8, 4))
    assert result.n_assignments == 70
    assert result.pvalue_greater == 1 / 70
    assert result.pvalue == result.min_pvalue == 2 / 70


@pytest.mark.parametrize("seed", range(5))
def test_equals_the_tests_that_count_the_same_assignments(seed):
    rng = np.random.default_rng(seed)
    values = rng.integers(0, 6, 8) / 3
    assigned = choose(8, 3)[rng.integers(56)]
    every = randomisation_test(values, assigned, choose(8, 3))
    days = day_permutation(values[~assigned], values[assigned])
    assert (every.pvalue, every.pvalue_greater, every.min_pvalue) == pytest.approx(
        (days.pvalue, days.pvalue_greater, days.min_pvalue)
    )
    # Order drawn within each of four pairs: the sign-flip test.
    flips = np.array([[c == "1" for c in f"{i:04b}"] for i in range(16)])
    within = np.stack([flips, ~flips], axis=2).reshape(16, 8)
    drawn = within[rng.integers(16)]
    pairs = np.where(drawn, values, -values).reshape(4, 2).sum(axis=1)
    result = randomisation_test(values, drawn, within)
    assert result.pvalue == pytest.approx(sign_flip(pairs).pvalue)
    assert result.pvalue_greater == pytest.approx(sign_flip(pairs).pvalue_greater)
    opposite = randomisation_test(values, ~drawn, within)
    assert (opposite.pvalue, opposite.statistic) == pytest.approx(
        (result.pvalue, -result.statistic)
    )


def test_restricted_draws_have_their_own_floor():
    # Two admissible orders only: nothing below one half can come out.
    result = randomisation_test([1, 9, 1, 9], [0, 1, 0, 1], [[0, 1, 0, 1], [0, 1, 1, 0]])
    assert result.pvalue == result.min_pvalue == 0.5


def test_what_cannot_be_right():
    with pytest.raises(ValueError, match="not among the admissible"):
        randomisation_test([1, 2], [0, 1], [[1, 0]])
    with pytest.raises(ValueError, match="treat some periods"):
        randomisation_test([1, 2], [0, 1], [[0, 1], [1, 1]])
    with pytest.raises(ValueError, match="shape"):
        randomisation_test([1, 2], [0, 1, 1], [[0, 1]])
    assert randomisation_test([], [], np.empty((0, 0))).reason == "no periods"
