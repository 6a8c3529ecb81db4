import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from challenge.statistics.equivalence import equivalence, judge_margin
from challenge.statistics.paired_t import paired_t


def test_tost_against_r():
    # R package equivalence, stored in statsmodels' tests: p = 0.003166881.
    x = [2.84, 2.51, 2.41, 2.95, 3.14, 3.79, 4.14, 3.85, 3.02, 3.45, 5.37, 3.81, 4.19, 3.16, 3.84]
    y = [2.60, 2.82, 2.18, 3.46, 4.01, 3.04, 3.47, 4.06, 2.91, 3.59, 4.51, 3.16, 3.86, 3.31, 3.02]
    t = paired_t(np.subtract(x, y), confidence=0.90)
    result = equivalence(t, -0.6, 0.6)
    assert t.estimate == pytest.approx(0.1646667, abs=5e-8)
    assert t.se == pytest.approx(0.1357514, abs=5e-8)
    assert (t.low, t.high) == pytest.approx((-0.0744337, 0.4037670), abs=5e-8)
    assert result.pvalue == pytest.approx(0.003166881, abs=1e-9)
    assert result.statistic_low == pytest.approx(5.6328452, abs=5e-8)
    assert result.statistic_high == pytest.approx(-3.2068422, abs=5e-8)


def test_tost_of_lognormal_pairs():
    # Wellek, Testing Statistical Hypotheses of Equivalence, 2003, p. 212 (data in the SAS
    # documentation): ratio within 0.80 to 1.25; values recomputed.
    test = [103.4, 59.92, 68.17, 94.54, 69.48, 72.17, 74.37, 84.44, 96.74, 94.26, 48.52, 95.68]
    ref = [90.11, 77.71, 77.71, 97.51, 58.21, 101.3, 79.84, 96.06, 89.30, 97.22, 61.62, 85.80]
    t = paired_t(np.log(test) - np.log(ref), confidence=0.90)
    result = equivalence(t, np.log(0.80), np.log(1.25))
    assert np.exp(t.estimate) == pytest.approx(0.9411989, abs=5e-8)
    assert np.exp([t.low, t.high]) == pytest.approx([0.8633735, 1.0260396], abs=5e-8)
    assert result.statistic_low == pytest.approx(3.3822029, abs=5e-7)
    assert result.statistic_high == pytest.approx(-5.9041738, abs=5e-7)
    assert (t.df, result.pvalue) == (11, pytest.approx(0.0030593, abs=5e-8))


@given(
    st.lists(st.integers(-5, 5), min_size=3, max_size=12).filter(lambda d: len(set(d)) > 1),
    st.floats(0.5, 4),
    st.sampled_from([0.01, 0.05, 0.1]),
)
def test_agrees_with_the_interval(differences, margin, alpha):
    t = paired_t(differences, confidence=1 - 2 * alpha)
    result = equivalence(t, -margin, margin)
    inside = -margin < t.low and t.high < margin
    gap = min(abs(margin - t.high), abs(margin + t.low))
    assert gap < 1e-9 or (result.pvalue < alpha) == inside
    assert gap < 1e-9 or (result.pvalue_below < alpha) == (t.high < margin)
    assert result.pvalue >= result.pvalue_below


@pytest.mark.parametrize(
    ("estimate", "low", "high", "finding", "real_rise"),
    # One row per line of the decision rule with margin 2, and its borders.
    [
        (0.2, -1.0, 1.4, "within margin", False),
        (1.0, 0.3, 1.7, "within margin", True),
        (3.0, 1.0, 5.0, "beyond margin", True),
        (2.0, 0.1, 3.9, "beyond margin", True),
        (1.9, 0.1, 3.7, "undecided", True),
        (2.5, 0.0, 5.0, "undecided", False),
        (0.5, -1.0, 2.0, "undecided", False),
        (-0.5, -6.0, 5.0, "undecided", False),
        (1.0, None, None, "undecided", False),
        (None, None, None, "undecided", False),
    ],
)
def test_verdict(estimate, low, high, finding, real_rise):
    verdict = judge_margin(estimate, low, high, 2.0)
    assert (verdict.finding, verdict.real_rise) == (finding, real_rise)


def test_stopping_because_of_symptoms_is_an_outcome():
    assert judge_margin(None, None, None, 2.0, stopped_early=True).finding == "beyond margin"
    assert judge_margin(0.0, -0.5, 0.5, 2.0, stopped_early=True).finding == "beyond margin"


def test_mistaken_bounds():
    with pytest.raises(ValueError, match="margin must be above 0"):
        judge_margin(0.0, -1.0, 1.0, 0.0)
    with pytest.raises(ValueError, match="must lie below"):
        equivalence(paired_t([1, 2, 3]), 1.0, -1.0)
