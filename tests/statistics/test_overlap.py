import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from challenge.statistics.overlap import overlap

days = st.lists(st.integers(0, 10), min_size=1, max_size=12)


def test_published_examples():
    # Parker and Vannest 2009: NAP 38.5/42, Tau 35/42; Parker et al. 2011: Tau 16/20.
    result = overlap([20, 20, 26, 25, 22, 23], [28, 25, 24, 27, 30, 30, 29])
    assert (result.nap, result.tau) == pytest.approx((38.5 / 42, 35 / 42))
    assert overlap([3, 3, 4, 5], [4, 5, 6, 7, 7]).tau == pytest.approx(0.80)


@given(days, days)
def test_properties(reference, challenge):
    result, swapped = overlap(reference, challenge), overlap(challenge, reference)
    assert result.nap + swapped.nap == pytest.approx(1)
    assert result.tau == pytest.approx(2 * result.nap - 1)
    u = stats.mannwhitneyu(challenge, reference, method="asymptotic", use_continuity=True)
    assert result.nap == pytest.approx(u.statistic / (len(reference) * len(challenge)))
    thirds = overlap([d / 3 for d in reference], [d / 3 for d in challenge])
    assert thirds == result
