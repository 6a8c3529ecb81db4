import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from challenge.statistics.proportions import binomial_pvalue, proportion
from tests.statistics.published import DARWIN, DEPRESSION, SLEEP


@pytest.mark.parametrize(
    ("count", "n", "wilson"),
    # Newcombe, Stat Med 1998;17:857, table I (score method).
    [
        (81, 263, (0.2553, 0.3662)),
        (15, 148, (0.0624, 0.1605)),
        (0, 20, (0.0000, 0.1611)),
        (1, 29, (0.0061, 0.1718)),
    ],
)
def test_newcombes_table(count, n, wilson):
    score = proportion(count, n)
    assert (score.low, score.high) == pytest.approx(wilson, abs=5.1e-5)
    assert score.low >= 0


def test_mendelian_plants():
    # Conover 1971, p. 97 (R help, binom.test): 682 of 925 against 3/4.
    assert binomial_pvalue(682, 925, 0.75) == pytest.approx(0.3824916, abs=5e-8)


@pytest.mark.parametrize(
    ("differences", "pvalue"),
    # Sign tests: statsmodels sign_test; Hollander and Wolfe; R.
    [(SLEEP, 0.00390625), (DARWIN, 0.0073852539), (DEPRESSION, 0.1796875)],
)
def test_sign_tests(differences, pvalue):
    nonzero = [d for d in differences if d != 0]
    found = binomial_pvalue(sum(d > 0 for d in nonzero), len(nonzero))
    assert found == pytest.approx(pvalue, abs=5e-11)


@pytest.mark.parametrize(
    ("alpha", "critical"),
    # Largest number of the rarer sign, n = 5..20: usual table (from memory), recomputed.
    [
        (0.05, [None, 0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 4, 4, 4, 5]),
        (0.01, [None, None, None, 0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3]),
    ],
)
def test_sign_test_table(alpha, critical):
    for n, expected in zip(range(5, 21), critical, strict=True):
        allowed = [k for k in range(n // 2) if binomial_pvalue(k, n) <= alpha]
        assert (allowed[-1] if allowed else None) == expected


@given(st.integers(0, 40), st.integers(0, 40), st.sampled_from([0.0, 0.1, 0.5, 0.75, 1.0]))
def test_equals_scipy(count, more, share):
    n = count + more
    if n == 0:
        assert binomial_pvalue(0, 0, share) is None
        assert proportion(0, 0).reason == "no cases"
        return
    expected = stats.binomtest(count, n, share)
    assert binomial_pvalue(count, n, share) == pytest.approx(expected.pvalue, abs=1e-12)
    ours, theirs = proportion(count, n), expected.proportion_ci(method="wilson")
    assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


def test_impossible_counts():
    with pytest.raises(ValueError, match="between 0 and 3"):
        proportion(4, 3)
