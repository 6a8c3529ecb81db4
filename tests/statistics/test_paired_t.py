import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from challenge.statistics.paired_t import paired_t
from tests.statistics.published import DARWIN, DEPRESSION, SLEEP


def test_students_sleep():
    # Student, Biometrika 1908;6:1; digits from R's t.test, equal to scipy's.
    t = paired_t(SLEEP, confidence=0.95)
    assert t.estimate == pytest.approx(1.58)
    assert t.sd == pytest.approx(1.2299955, abs=5e-8)
    assert (t.statistic, t.df) == (pytest.approx(4.0621277, abs=5e-8), 9)
    assert t.pvalue == pytest.approx(0.0028329, abs=5e-8)
    assert t.pvalue_greater == pytest.approx(0.0014164, abs=6e-8)
    assert (t.low, t.high) == pytest.approx((0.7001142, 2.4598858), abs=5e-8)
    # Student's own standard deviation has the divisor n: 1.167.
    assert t.sd * np.sqrt(0.9) == pytest.approx(1.167, abs=5e-4)


def test_darwins_maize():
    # Fisher, Design of Experiments: t = 2.148, on the other side of 5 % than the exact test.
    t = paired_t(DARWIN, confidence=0.95)
    assert (t.statistic, t.df) == (pytest.approx(2.1479875, abs=5e-8), 14)
    assert t.pvalue == pytest.approx(0.0497029, abs=5e-8)
    assert (t.low, t.high) == pytest.approx((0.0311933, 41.8354733), abs=5e-8)


def test_depression_data():
    # Hollander and Wolfe 1973, example 3.1; t recomputed in R.
    t = paired_t(DEPRESSION)
    assert (t.statistic, t.df) == (pytest.approx(3.0353754, abs=5e-8), 8)
    assert t.pvalue == pytest.approx(0.0161766, abs=5e-8)


def test_bland_and_altman_peak_flow():
    # Bland and Altman, Lancet 1986: mean -2.1, SD 38.8, limits of agreement with 2 SD -79.7 and
    # 75.5 (from rounded numbers); 95 % interval of the bias recomputed.
    wright = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
    mini = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]
    t = paired_t(np.subtract(wright, mini), confidence=0.95)
    assert t.estimate == pytest.approx(-2.1176471, abs=5e-8)
    assert t.sd == pytest.approx(38.7651299, abs=5e-8)
    limits = (t.estimate - 2 * t.sd, t.estimate + 2 * t.sd)
    assert limits == pytest.approx((-79.65, 75.41), abs=5e-3)
    assert (t.low, t.high) == pytest.approx((-22.0488, 17.8135), abs=5e-5)


@given(st.lists(st.integers(-10, 10), min_size=2, max_size=30), st.sampled_from([0.8, 0.9, 0.99]))
def test_equals_scipy(differences, confidence):
    t = paired_t(differences, confidence=confidence)
    if len(set(differences)) == 1:
        assert t.pvalue is None and t.reason == "all differences are equal"
        return
    expected = stats.ttest_1samp(differences, 0)
    assert t.pvalue == pytest.approx(expected.pvalue, abs=1e-12)
    assert (t.low, t.high) == pytest.approx(
        tuple(expected.confidence_interval(confidence)), abs=1e-9
    )
    swapped = paired_t([-d for d in differences], confidence=confidence)
    assert (swapped.low, swapped.high) == pytest.approx((-t.high, -t.low))
    assert swapped.pvalue == pytest.approx(t.pvalue)


def test_equal_but_for_rounding_is_constant():
    assert paired_t([0.1 + 0.2, 0.3, 0.3]).pvalue is None
