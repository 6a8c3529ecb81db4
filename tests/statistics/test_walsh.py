import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from challenge.statistics.walsh import hodges_lehmann, walsh_averages
from tests.statistics.published import DARWIN, DEPRESSION


def test_depression_data():
    # Hollander and Wolfe 1999, pp. 40 and 53: -0.46, (-0.786, -0.010), confidence 0.961.
    result = hodges_lehmann([-d for d in DEPRESSION], confidence=0.95)
    assert result.estimate == pytest.approx(-0.46)
    assert (result.low, result.high) == pytest.approx((-0.786, -0.010))
    assert result.attained_confidence == pytest.approx(0.9609375, abs=1e-15)
    assert not result.tied


def test_next_shorter_interval_of_the_depression_data():
    # The next level down is 0.9453 with (-0.771, -0.1415), as R gives it.
    result = hodges_lehmann([-d for d in DEPRESSION], confidence=0.945)
    assert (result.low, result.high) == pytest.approx((-0.771, -0.1415))
    assert result.attained_confidence == pytest.approx(0.9453125)


def test_darwins_maize():
    # R wilcox.test(conf.int = TRUE): 25, 4.0 to 41.5.
    result = hodges_lehmann(DARWIN, confidence=0.95)
    assert (result.estimate, result.low, result.high) == (25, 4.0, 41.5)


@pytest.mark.parametrize(("n", "confidence"), [(5, 0.90), (6, 0.95), (8, 0.99)])
def test_fewest_pairs_that_allow_an_interval(n, confidence):
    # Most confidence of n pairs is 1 - 2**(1 - n): first reached at these n.
    assert hodges_lehmann(range(n), confidence=confidence).low == 0
    short = hodges_lehmann(range(n - 1), confidence=confidence)
    assert short.low is None and short.high is None
    assert "confidence of at most" in short.reason


def test_confidence_that_is_just_attainable_is_not_missed():
    result = hodges_lehmann([1, 2, 3, 4, 5], confidence=0.9375)
    assert (result.low, result.high, result.attained_confidence) == (1, 5, 0.9375)


def test_walsh_averages():
    assert walsh_averages(np.array([3.0, 1.0, 2.0])).tolist() == [1, 1.5, 2, 2, 2.5, 3]


@pytest.mark.parametrize("scores", [5, 50])
def test_tied_data_are_covered_at_least_as_often_as_claimed(scores):
    # Noether, J Am Stat Assoc 1967;62:184 (from memory): the closed interval is conservative.
    rng = np.random.default_rng(4)
    hits, n = 0, 2000
    for _ in range(n):
        result = hodges_lehmann(rng.integers(-scores, scores + 1, 9), confidence=0.90)
        hits += result.low <= 0 <= result.high
    attained = hodges_lehmann(range(9), confidence=0.90).attained_confidence
    assert hits / n >= attained - 3 * np.sqrt(attained * (1 - attained) / n)


@given(st.lists(st.integers(-10, 10), min_size=1, max_size=20))
def test_properties(differences):
    result = hodges_lehmann(differences)
    swapped = hodges_lehmann([-d for d in differences])
    assert swapped.estimate == -result.estimate
    sizes = [abs(d) for d in differences]
    assert result.low is None or result.tied == (0 in sizes or len(set(sizes)) < len(sizes))
    if result.low is not None:
        assert result.low <= result.estimate <= result.high
        assert (swapped.low, swapped.high) == (-result.high, -result.low)
        assert result.attained_confidence >= 0.90
