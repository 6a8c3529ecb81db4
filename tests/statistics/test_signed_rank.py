from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from challenge.statistics.counting import subset_sums
from challenge.statistics.signed_rank import signed_rank
from tests.statistics.published import DARWIN, DEPRESSION, PRATT, SLEEP


def test_darwins_maize():
    # Wilcoxon, Biometrics Bull 1945;1:80: T = 24; exact p in scipy's documentation and R.
    result = signed_rank(DARWIN)
    assert result.statistic == 96
    assert result.pvalue == 0.041259765625
    assert result.pvalue_greater == 0.0206298828125


def test_depression_data():
    # Hollander and Wolfe 1973, example 3.1: V = 40, printed p 0.0391 (R's regression tests).
    result = signed_rank(DEPRESSION)
    assert result.statistic == 40
    assert (result.pvalue, result.pvalue_greater) == (0.0390625, 0.01953125)
    assert signed_rank([-d for d in DEPRESSION]).statistic == 5


def test_students_sleep_with_a_zero_and_a_tie():
    # R exactRankTests wilcox.exact: V = 45, p = 2 / 2**9.
    result = signed_rank(SLEEP, zeros="wilcoxon")
    assert (result.statistic, result.pvalue) == (45, 0.00390625)


def test_pratts_paradox():
    # Pratt, JASA 1959;54:655. Inclusive counts by enumeration; scipy agrees to 7 digits.
    dropped = signed_rank(PRATT, zeros="wilcoxon")
    assert (dropped.statistic, dropped.pvalue_greater) == (66, 70 / 4096)
    kept = signed_rank(PRATT)
    assert (kept.statistic, kept.pvalue_greater) == (77, 49 / 4096)
    # A smaller value lowers the p-value of the test that drops zeros: that is the paradox.
    shifted = signed_rank([d - 1 if d <= 0 else d for d in PRATT], zeros="wilcoxon")
    assert shifted.pvalue_greater == 109 / 8192 < dropped.pvalue_greater


# Largest T with two-sided p at most alpha, n = 5..20: the usual handbook table (from memory),
# recomputed from the generating function.
CRITICAL = {
    0.10: [0, 2, 3, 5, 8, 10, 13, 17, 21, 25, 30, 35, 41, 47, 53, 60],
    0.05: [None, 0, 2, 3, 5, 8, 10, 13, 17, 21, 25, 29, 34, 40, 46, 52],
    0.02: [None, None, 0, 1, 3, 5, 7, 9, 12, 15, 19, 23, 27, 32, 37, 43],
    0.01: [None, None, None, 0, 1, 3, 5, 7, 9, 12, 15, 19, 23, 27, 32, 37],
}


@pytest.mark.parametrize("alpha", CRITICAL)
def test_critical_values(alpha):
    for n, critical in zip(range(5, 21), CRITICAL[alpha], strict=True):
        tails = 2 * np.cumsum(subset_sums(range(1, n + 1))) / 2.0**n
        allowed = np.flatnonzero(tails <= alpha)
        assert (int(allowed[-1]) if allowed.size else None) == critical


@pytest.mark.parametrize("n", [6, 8, 11])
def test_critical_values_through_the_test_itself(n):
    # The table's T at 5 %: negative ranks that add up to it are significant, one more is not.
    critical = CRITICAL[0.05][n - 5]
    ranks = np.arange(1, n + 1)
    for total, significant in ((critical, True), (critical + 1, False)):
        signs = next(
            s for s in product((1, -1), repeat=n) if -ranks[np.array(s) < 0].sum() == -total
        )
        assert (signed_rank(ranks * np.array(signs)).pvalue <= 0.05) is significant


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize(("zeros", "method"), [("wilcoxon", "wilcox"), ("pratt", "pratt")])
def test_equals_scipys_full_permutation(seed, zeros, method):
    # scipy.stats.wilcoxon over all sign patterns of mid-ranks, scores with ties and zeros.
    rng = np.random.default_rng(seed)
    differences = rng.integers(-3, 4, size=rng.integers(3, 9))
    if not differences.any():
        differences[0] = 1
    for alternative, attribute in (("two-sided", "pvalue"), ("greater", "pvalue_greater")):
        expected = stats.wilcoxon(
            differences,
            zero_method=method,
            alternative=alternative,
            method=stats.PermutationMethod(n_resamples=np.inf),
        ).pvalue
        assert getattr(signed_rank(differences, zeros=zeros), attribute) == pytest.approx(expected)


@settings(deadline=None)
@given(st.lists(st.integers(-10, 10), min_size=1, max_size=15))
def test_properties(differences):
    result = signed_rank(differences, zeros="wilcoxon")
    assert result.min_pvalue <= result.pvalue <= 1
    assert signed_rank([*differences, 0], zeros="wilcoxon").pvalue == result.pvalue
    assert signed_rank([-d for d in differences], zeros="wilcoxon").pvalue == result.pvalue
    assert signed_rank([d / 3 for d in differences], zeros="wilcoxon").pvalue == result.pvalue


def test_ties_between_fractions_survive_rounding():
    assert signed_rank([0.3 - 0.1, -0.2, 1.0]) == signed_rank([2, -2, 10])
