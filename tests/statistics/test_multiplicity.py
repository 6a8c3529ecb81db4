import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from challenge.statistics.multiplicity import benjamini_hochberg, bonferroni, hochberg, holm

# Benjamini and Hochberg, J R Stat Soc B 1995;57:289: 15 p-values.
PUBLISHED = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240]
PUBLISHED += [0.4262, 0.5719, 0.6528, 0.7590, 1.0000]

METHODS = {
    bonferroni: ("bonferroni", [0.0015, 0.0060, 0.0285, 0.1425], 3),
    holm: ("holm", [0.0015, 0.0056, 0.0247, 0.1140, 0.2211, 0.2780, 0.2780, 0.2780, 0.3213, 1], 3),
    hochberg: (
        "simes-hochberg",
        [0.0015, 0.0056, 0.0247, 0.1140, 0.2211, 0.2682, 0.2682, 0.2752, 0.3213, 1],
        3,
    ),
    benjamini_hochberg: (
        "fdr_bh",
        [
            *(0.0015, 0.0030, 0.0095, 0.035625, 0.0603, 0.0638571, 0.0638571, 0.0645, 0.0765),
            *(0.4860, 0.5811818, 0.714875, 0.7532308, 0.8132143, 1),
        ],
        4,
    ),
}
pvalue_lists = st.lists(st.floats(0, 1), min_size=1, max_size=30)


@pytest.mark.parametrize("method", METHODS)
def test_published_pvalues(method):
    # Adjusted values from R's p.adjust; the paper rejects 3 by Bonferroni and 4 by its own rule.
    _, expected, n_rejected = METHODS[method]
    adjusted = method(PUBLISHED)
    assert adjusted[: len(expected)] == pytest.approx(expected, abs=5e-8)
    assert sum(p <= 0.05 for p in adjusted) == n_rejected


@pytest.mark.parametrize("method", METHODS)
@given(pvalues=pvalue_lists)
def test_equals_statsmodels(method, pvalues):
    expected = multipletests(pvalues, method=METHODS[method][0])[1]
    assert method(pvalues) == pytest.approx(expected, abs=1e-14)


@given(pvalue_lists)
def test_order_of_the_methods(pvalues):
    for raw, most, step, up, rate in zip(
        *(m(pvalues) for m in (tuple, bonferroni, holm, hochberg, benjamini_hochberg)),
        strict=True,
    ):
        assert raw <= step <= most <= 1
        assert rate <= up + 1e-15 and up <= step + 1e-15
    adjusted = holm(sorted(pvalues))
    assert list(adjusted) == sorted(adjusted)


def test_an_untestable_hypothesis_stays_in_the_family():
    assert holm([0.01, None, 0.02]) == (pytest.approx(0.03), None, pytest.approx(0.04))
    assert bonferroni([None, 0.01]) == (None, pytest.approx(0.02))
    assert holm([None, None]) == (None, None)
    for method in METHODS:
        # Never smaller than when the untestable one is given the p-value 1.
        assert method([0.01, None, 0.04])[0] == method([0.01, 1.0, 0.04])[0]
        assert method([]) == ()


def test_no_pvalue():
    with pytest.raises(ValueError, match="between 0 and 1"):
        holm([0.2, 1.2])
    with pytest.raises(ValueError, match="between 0 and 1"):
        holm([0.2, float("nan")])
