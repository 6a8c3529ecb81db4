import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score

from challenge.practice.operating import calibration_of, kappa, operating, worth
from challenge.practice.truth import Calls


def calls(truth, suggested, probability=None, client=None, rise=None):
    n = len(truth)
    if probability is None:
        probability = np.full((n, 4), 0.25)
    nothing = np.full((n, 3), np.nan)
    rise = nothing if rise is None else rise
    return Calls(
        client=np.arange(n) if client is None else np.asarray(client),
        group=np.full(n, "lactose"),
        truth=np.asarray(truth),
        suggested=np.asarray(suggested),
        probability=np.asarray(probability, dtype=float),
        rise=rise,
        low=rise - 1.0,
        high=rise + 1.0,
        true_rise=np.zeros((n, 3)),
        top=np.full(n, 3),
        design=np.full(n, "1 cycle"),
        spread=np.full(n, np.nan),
    )


def test_shares_and_utility_by_hand():
    # one of each: right, one too low, unclear, one too high, two too high
    found = operating(calls([3, 3, 2, 1, 0], [3, 2, -1, 2, 2]))
    assert found.exact.value == pytest.approx(0.2)
    assert found.too_low.value == pytest.approx(0.2)
    assert found.too_high.value == pytest.approx(0.4)
    assert found.unclear.value == pytest.approx(0.2)
    assert found.utility.value == pytest.approx((1 + 0.5 + 0.4 + 0.25 + 0) / 5)
    # of the two groups that tolerate everything, one was called lower
    assert found.false_reaction.value == pytest.approx(0.5)
    assert list(worth(calls([0, 3], [3, 0]))) == [0.0, 0.0]


def test_kappa_is_that_of_scikit_learn():
    # scikit-learn's cohen_kappa_score(weights="linear") as the reference implementation
    rng = np.random.default_rng(3)
    for _ in range(20):
        first = rng.integers(0, 4, 60)
        second = np.clip(first + rng.integers(-1, 2, 60), 0, 3)
        expected = cohen_kappa_score(first, second, weights="linear")
        assert kappa(calls(first, second)) == pytest.approx(expected)


def test_kappa_leaves_unclear_out_and_is_none_without_variation():
    assert operating(calls([3, 3], [3, 3])).kappa.value is None
    with_unclear = operating(calls([0, 1, 2, 3, 1], [0, 1, 2, 3, -1]))
    assert with_unclear.kappa.value == pytest.approx(1.0)


def test_error_of_a_share_is_the_binomial_one_when_clients_have_one_group():
    rng = np.random.default_rng(1)
    truth = np.full(400, 3)
    suggested = np.where(rng.random(400) < 0.8, 3, 2)
    found = operating(calls(truth, suggested)).exact
    binomial = np.sqrt(found.value * (1 - found.value) / 399)
    assert found.error == pytest.approx(binomial, rel=1e-6)


def test_no_error_is_claimed_where_all_are_alike():
    found = operating(calls([3, 3, 3], [3, 3, 3]))
    assert (found.exact.value, found.exact.error) == (1.0, None)
    assert (found.too_high.value, found.too_high.error) == (0.0, None)


def test_error_counts_clients_not_groups():
    truth = np.full(400, 3)
    suggested = np.repeat(np.where(np.arange(100) % 2, 3, 2), 4)
    alone = operating(calls(truth, suggested)).exact.error
    together = operating(calls(truth, suggested, client=np.repeat(np.arange(100), 4))).exact.error
    assert together == pytest.approx(2 * alone, rel=0.02)


def test_calibrated_statements_have_a_small_error_and_boasts_a_large_one():
    rng = np.random.default_rng(2)
    n = 4000
    top = rng.uniform(0.4, 1.0, n)
    probability = np.column_stack((top, *[(1 - top) / 3] * 3))
    truth = np.where(rng.random(n) < top, 0, rng.integers(1, 4, n))
    honest = operating(calls(truth, np.zeros(n, dtype=int), probability))
    assert honest.calibration_error.value < 0.03
    boast = np.column_stack((np.full(n, 0.97), *[np.full(n, 0.01)] * 3))
    found = operating(calls(truth, np.zeros(n, dtype=int), boast))
    assert found.calibration_error.value == pytest.approx(0.97 - np.mean(truth == 0), abs=1e-9)
    (only,) = calibration_of(calls(truth, np.zeros(n, dtype=int), boast)).bins
    assert only.low < only.happened < only.high
    assert only.n == n


def test_coverage_counts_only_rises_with_an_interval():
    rise = np.array([[0.5, 0.5, np.nan], [2.0, 0.0, np.nan]])
    found = operating(calls([3, 3], [3, 3], rise=rise))
    assert found.coverage.value == pytest.approx(3 / 4)
