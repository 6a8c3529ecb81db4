import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from challenge.statistics.blocks import cochran_q, mcnemar


def diphtheria():
    # Cochran, Biometrika 1950;37:256, p. 260: media A-D on 69 specimens.
    patterns = {"1111": 4, "1101": 2, "0111": 3, "0101": 1, "0000": 59}
    return np.array([[int(c) for c in p] for p, n in patterns.items() for _ in range(n)])


def test_cochran_diphtheria_media():
    # Q = 8.05 in the paper; p from statsmodels.
    table = diphtheria()
    result = cochran_q(table)
    assert table.sum(axis=0).tolist() == [6, 10, 7, 10]
    assert (result.statistic, result.df) == (pytest.approx(8.0526316, abs=5e-8), 3)
    assert result.pvalue == pytest.approx(0.0449364, abs=5e-8)
    informative = table[(table.sum(axis=1) > 0) & (table.sum(axis=1) < 4)]
    assert cochran_q(informative).statistic == pytest.approx(result.statistic)


def test_mcnemar_cabinet_support():
    # Aoki, Gunma University, McNemar-test-r.html: R's mcnemar.test(correct = FALSE) on
    # 48, 28, 35, 53 gives 0.7778, p 0.3778; binom.test(c(35, 28)) gives 0.45.
    result = mcnemar(28, 35)
    assert (result.statistic, result.pvalue) == pytest.approx((0.7778, 0.3778), abs=5e-5)
    assert result.pvalue_exact == pytest.approx(0.45, abs=5e-3)
    assert mcnemar(35, 28) == result


@given(st.lists(st.tuples(st.booleans(), st.booleans()), min_size=1, max_size=30))
def test_cochran_q_of_two_columns_is_mcnemar(rows):
    table = np.array(rows, dtype=int)
    changed = [int(((table == pattern).all(axis=1)).sum()) for pattern in ((1, 0), (0, 1))]
    if not sum(changed):
        assert cochran_q(table).pvalue is None
        assert mcnemar(0, 0).pvalue_exact == 1
        return
    assert cochran_q(table).statistic == pytest.approx(mcnemar(*changed).statistic)
    assert mcnemar(*changed).pvalue_exact == pytest.approx(
        stats.binomtest(changed[0], sum(changed)).pvalue
    )


def test_nothing_to_compare():
    assert cochran_q(np.zeros((3, 3))).reason == "no block in which treatments differ"
    assert cochran_q(np.empty((0, 3))).pvalue is None
    with pytest.raises(ValueError, match="0 and 1"):
        cochran_q([[0, 2]])
