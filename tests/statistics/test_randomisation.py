from itertools import combinations

import numpy as np
import pytest
from scipy.stats import permutation_test

from challenge.statistics.randomisation import block_assignments, randomisation_test
from challenge.statistics.sign_flip import sign_flip
from challenge.statistics.two_sample import day_permutation

from .published import DARWIN, SLEEP_1, SLEEP_2


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


def test_darwins_maize_by_the_order_within_each_pair():
    # Fisher, Design of Experiments 1935, section 21: 863 of 32768 orders sum to 314 or more.
    crossed = np.array(DARWIN, float)
    values = np.stack([crossed, np.zeros(15)], axis=1).ravel()
    orders = block_assignments(30, 2)
    assert orders.shape == (2**15, 30)
    result = randomisation_test(values, np.tile([True, False], 15), orders)
    assert result.statistic == pytest.approx(314 / 15)
    assert result.pvalue_greater == 863 / 32768
    assert result.pvalue == 1726 / 32768


def test_drug_and_placebo_in_pairs_with_a_zero_and_a_tie():
    # R perm.test on Student's sleep data: 0.00390625 two-sided.
    values = np.stack([SLEEP_2, SLEEP_1], axis=1).ravel()
    result = randomisation_test(values, np.tile([True, False], 10), block_assignments(20, 2))
    assert result.pvalue == 0.00390625


@pytest.mark.parametrize("seed", range(12))
def test_equals_scipys_exhaustive_permutation(seed):
    # One block of 8 is scipy's "independent", pairs are its "samples"; whole scores bring ties.
    rng = np.random.default_rng(seed)
    values = rng.integers(0, 5, 8).astype(float)

    def difference(x, y, axis=-1):
        return x.mean(axis=axis) - y.mean(axis=axis)

    orders = block_assignments(8, 8)
    drawn = orders[rng.integers(len(orders))]
    for side, ours in (("greater", "pvalue_greater"), ("two-sided", "pvalue")):
        reference = permutation_test(
            (values[drawn], values[~drawn]), difference, permutation_type="independent",
            alternative="greater", n_resamples=np.inf,
        )  # fmt: skip
        found = getattr(randomisation_test(values, drawn, orders), ours)
        if side == "greater":
            assert found == pytest.approx(reference.pvalue, abs=1e-12)
        else:
            # scipy's two-sided p doubles the smaller tail; here both tails are counted
            null = np.abs(reference.null_distribution)
            assert found == pytest.approx((null >= abs(reference.statistic) - 1e-9).mean())
    pairs = block_assignments(8, 2)
    drawn = pairs[rng.integers(len(pairs))]
    paired = permutation_test(
        (values[drawn], values[~drawn]), difference, permutation_type="samples",
        alternative="greater", n_resamples=np.inf,
    )  # fmt: skip
    found = randomisation_test(values, drawn, pairs)
    assert found.pvalue_greater == pytest.approx(paired.pvalue, abs=1e-12)


@pytest.mark.parametrize(
    ("periods", "block", "count"), [(4, 2, 4), (8, 2, 16), (8, 4, 36), (8, 8, 70), (12, 6, 400)]
)
def test_every_order_of_a_block_design_once(periods, block, count):
    orders = block_assignments(periods, block)
    assert len({tuple(row) for row in orders.tolist()}) == len(orders) == count
    halves = orders.reshape(count, periods // block, block).sum(axis=2)
    assert (halves == block // 2).all()
    values = np.arange(periods) ** 2.0
    result = randomisation_test(values, orders[0], orders)
    assert result.min_pvalue == pytest.approx(2 / count)


def test_periods_that_fill_no_blocks():
    for periods, block in ((6, 4), (3, 3), (4, 0)):
        with pytest.raises(ValueError, match="cannot be halved"):
            block_assignments(periods, block)
