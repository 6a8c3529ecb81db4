import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from challenge.statistics.multiplicity import holm

# Benjamini and Hochberg, J R Stat Soc B 1995;57:289: 15 p-values.
PUBLISHED = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240]
PUBLISHED += [0.4262, 0.5719, 0.6528, 0.7590, 1.0000]
# R's p.adjust(method = "holm"); the three equal values show that order is kept.
ADJUSTED = [0.0015, 0.0056, 0.0247, 0.1140, 0.2211, 0.2780, 0.2780, 0.2780, 0.3213, *[1.0] * 6]

pvalue_lists = st.lists(st.floats(0, 1), min_size=1, max_size=30)


def test_published_pvalues():
    adjusted = holm(PUBLISHED)
    assert adjusted == pytest.approx(ADJUSTED, abs=5e-8)
    assert sum(p <= 0.05 for p in adjusted) == 3


@given(pvalue_lists)
def test_equals_statsmodels(pvalues):
    expected = multipletests(pvalues, method="holm")[1]
    assert holm(pvalues) == pytest.approx(expected, abs=1e-14)


@given(pvalue_lists)
def test_between_the_raw_and_the_bonferroni_value_and_in_order(pvalues):
    for raw, adjusted in zip(pvalues, holm(pvalues), strict=True):
        assert raw <= adjusted <= min(1.0, raw * len(pvalues))
    ordered = holm(sorted(pvalues))
    assert list(ordered) == sorted(ordered)


def test_an_untestable_hypothesis_stays_in_the_family():
    assert holm([0.01, None, 0.02]) == (pytest.approx(0.03), None, pytest.approx(0.04))
    assert holm([None, None]) == (None, None)
    # Never smaller than when the untestable one is given the p-value 1.
    assert holm([0.01, None, 0.04])[0] == holm([0.01, 1.0, 0.04])[0]
    assert holm([]) == ()


def test_no_pvalue():
    with pytest.raises(ValueError, match="between 0 and 1"):
        holm([0.2, 1.2])
    with pytest.raises(ValueError, match="between 0 and 1"):
        holm([0.2, float("nan")])
