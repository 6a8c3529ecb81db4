from itertools import combinations
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from challenge.statistics.paired_t import paired_t
from challenge.statistics.two_sample import day_permutation, pooled_t, single_day, welch_t
from tests.statistics.published import SLEEP_1, SLEEP_2

days = st.lists(st.integers(0, 10), min_size=1, max_size=6)


def brute_force(reference, challenge):
    """Shares of arrangements at least as extreme, in whole numbers: two-sided and greater."""
    values = [*reference, *challenge]
    n, size, total = len(values), len(challenge), sum(values)
    deviations = [n * sum(chosen) - size * total for chosen in combinations(values, size)]
    observed = n * sum(challenge) - size * total
    two_sided = sum(abs(d) >= abs(observed) for d in deviations) / len(deviations)
    return two_sided, sum(d >= observed for d in deviations) / len(deviations)


def test_students_sleep_as_if_unpaired():
    # R t.test(var.equal = TRUE) and Welch = scipy: the pairing matters.
    t = pooled_t(SLEEP_1, SLEEP_2, confidence=0.95)
    assert (t.statistic, t.df) == (pytest.approx(1.8608135, abs=5e-8), 18)
    assert t.pvalue == pytest.approx(0.0791867, abs=5e-8)
    assert (t.low, t.high) == pytest.approx((-0.2038740, 3.3638740), abs=5e-8)
    welch = welch_t(SLEEP_1, SLEEP_2)
    assert welch.df == pytest.approx(17.7764735, abs=5e-7)
    assert welch.pvalue == pytest.approx(0.0793941, abs=5e-8)


def halves(rows):
    """Half the difference of period 1 minus period 2: a crossover's unit."""
    return [(first - second) / 2 for first, second in rows]


def test_crossover_of_bronchodilators():
    # Senn, Cross-over Trials in Clinical Research, 2002, chapter 3 (data in the SAS
    # documentation); Senn prints 46.6 with standard error 10.8, the digits are recomputed.
    formoterol_first = [(310, 270), (310, 260), (370, 300), (410, 390), (250, 210), (380, 350)]
    formoterol_first.append((330, 365))
    salbutamol_first = [(370, 385), (310, 400), (380, 410), (290, 320), (260, 340), (90, 220)]
    t = pooled_t(halves(salbutamol_first), halves(formoterol_first), confidence=0.95)
    assert (t.estimate, t.se, t.statistic) == pytest.approx((46.6071429, 10.7765596, 4.3248629))
    assert (t.df, t.pvalue) == (11, pytest.approx(0.0012048, abs=5e-8))
    assert (t.low, t.high) == pytest.approx((22.8880950, 70.3261907))
    carryover = pooled_t([a + b for a, b in salbutamol_first], [a + b for a, b in formoterol_first])
    assert carryover.statistic == pytest.approx(0.1791519, abs=5e-8)
    assert carryover.pvalue == pytest.approx(0.8611, abs=5e-5)
    # Salbutamol first, its halves turned round: what is left is the period.
    period = pooled_t([-d for d in halves(salbutamol_first)], halves(formoterol_first))
    assert period.statistic == pytest.approx(-1.4747617, abs=5e-8)
    assert period.pvalue == pytest.approx(0.1683, abs=5e-5)
    # Pairs without regard to the order are biased by the unequal groups.
    naive = [a - b for a, b in formoterol_first] + [b - a for a, b in salbutamol_first]
    t = paired_t(naive)
    assert (t.estimate, t.statistic, t.df) == pytest.approx((45.3846, 4.0311952, 12), abs=5e-5)
    assert t.pvalue == pytest.approx(0.0016656, abs=5e-8)


def test_crossover_of_enuresis():
    # Hills and Armitage, Br J Clin Pharmacol 1979;8:7 (data via Armitage and Berry), recomputed.
    drug = [8, 14, 8, 9, 11, 3, 6, 0, 13, 10, 7, 13, 8, 7, 9, 10, 2]
    then_placebo = [5, 10, 0, 7, 6, 5, 0, 0, 12, 2, 5, 13, 10, 7, 0, 6, 2]
    placebo = [12, 6, 13, 8, 8, 4, 8, 2, 8, 9, 7, 7]
    then_drug = [11, 8, 9, 8, 9, 8, 14, 4, 13, 7, 10, 6]
    first = halves(zip(drug, then_placebo, strict=True))
    second = halves(zip(placebo, then_drug, strict=True))
    t = pooled_t(second, first, confidence=0.95)
    assert (t.estimate, t.se, t.statistic) == pytest.approx((2.0367647, 0.6186000, 3.2925390))
    assert (t.df, t.pvalue) == (27, pytest.approx(0.0027725, abs=5e-8))
    assert (t.low, t.high) == pytest.approx((0.7675023, 3.3060271))
    period = pooled_t([-d for d in second], first)
    assert period.estimate == pytest.approx(0.7867647)
    assert period.statistic == pytest.approx(1.2718472, abs=5e-8)
    carryover = pooled_t(np.add(placebo, then_drug), np.add(drug, then_placebo))
    assert carryover.statistic == pytest.approx(-1.2996733, abs=5e-8)
    assert carryover.pvalue == pytest.approx(0.2047, abs=5e-5)
    naive = paired_t([*np.subtract(drug, then_placebo), *np.subtract(then_drug, placebo)])
    assert (naive.statistic, naive.df) == (pytest.approx(3.5265333, abs=5e-8), 28)
    assert naive.pvalue == pytest.approx(0.0014713, abs=5e-8)


def test_two_short_series():
    # Tang and Landes, PLOS ONE 2020, errors of the authors' figure script: ordinary pooled t.
    before = np.array([-1.1535625, -1.2990488, -0.4307985, -0.6368679, -0.3788991]) / 3
    after = [-0.5491445, -0.3542094, -0.6961421, 1.3830632, 0.1664940, -0.5992540, -0.3068639]
    t = pooled_t(before, 1 + np.array(after) / 3)
    assert t.estimate == pytest.approx(1.2144186, abs=5e-8)
    assert t.statistic == pytest.approx(9.9796525, abs=5e-7)


@pytest.mark.parametrize(
    ("case", "statistic", "pvalue"),
    # Form of Crawford and Howell 1998; values recomputed with the t distribution.
    [(10, 3.0522204, 0.0185252), (7, 2.1008790, 0.0737754)],
)
def test_single_day(case, statistic, pvalue):
    t = single_day([0, -2, 5, 2, 1, 3, -4, -2], case)
    assert (t.statistic, t.df) == (pytest.approx(statistic, abs=5e-8), 7)
    assert t.pvalue == pytest.approx(pvalue, abs=5e-8)
    assert t.pvalue_greater == pytest.approx(pvalue / 2, abs=5e-8)


@pytest.mark.parametrize(
    ("n_reference", "n_challenge", "floor"),
    # 1 / C(N, n).
    [(3, 3, 0.05), (4, 4, 0.0142857), (7, 3, 0.0083333), (14, 3, 0.0014706)],
)
def test_smallest_one_sided_pvalue(n_reference, n_challenge, floor):
    result = day_permutation(range(n_reference), range(50, 50 + n_challenge))
    assert result.pvalue_greater == pytest.approx(floor, abs=5e-8)
    assert result.pvalue_greater == 1 / comb(n_reference + n_challenge, n_challenge)


@settings(deadline=None)
@given(days, days)
def test_day_permutation_equals_brute_force(reference, challenge):
    result = day_permutation(reference, challenge)
    assert (result.pvalue, result.pvalue_greater) == pytest.approx(
        brute_force(reference, challenge), abs=1e-14
    )
    assert result.exact and result.min_pvalue <= result.pvalue
    swapped = day_permutation(challenge, reference)
    assert swapped.pvalue == pytest.approx(result.pvalue, abs=1e-14)
    assert swapped.statistic == -result.statistic
    # Thirds, and multiples of an irrational number, tie as whole numbers do.
    for factor in (1 / 3, np.pi):
        scaled = day_permutation(np.multiply(reference, factor), np.multiply(challenge, factor))
        assert scaled.pvalue == pytest.approx(result.pvalue, abs=1e-14)


@pytest.mark.parametrize("seed", range(8))
def test_day_permutation_equals_scipy(seed):
    rng = np.random.default_rng(seed)
    reference, challenge = rng.integers(0, 6, 7), rng.integers(1, 8, 3)
    expected = stats.permutation_test(
        (challenge, reference),
        lambda a, b: a.mean() - b.mean(),
        n_resamples=np.inf,
        alternative="greater",
    )
    assert day_permutation(reference, challenge).pvalue_greater == pytest.approx(expected.pvalue)


def test_random_arrangements_when_counting_is_out_of_reach():
    rng = np.random.default_rng(9)
    reference, challenge = rng.normal(0, 1, 30), rng.normal(0.8, 1, 12)
    result = day_permutation(reference, challenge, seed=3)
    assert not result.exact
    assert result == day_permutation(reference, challenge, seed=3)
    assert result.pvalue == pytest.approx(pooled_t(reference, challenge).pvalue, abs=0.02)
    far = day_permutation(reference, challenge + 100)
    assert far.pvalue == 1 / 10_000


@given(
    st.lists(st.integers(0, 10), min_size=2, max_size=12).filter(lambda d: len(set(d)) > 1),
    st.lists(st.integers(0, 10), min_size=2, max_size=12).filter(lambda d: len(set(d)) > 1),
)
def test_t_tests_equal_scipy(reference, challenge):
    for ours, equal in ((pooled_t, True), (welch_t, False)):
        t = ours(reference, challenge)
        expected = stats.ttest_ind(challenge, reference, equal_var=equal)
        assert t.pvalue == pytest.approx(expected.pvalue)
        interval = expected.confidence_interval(0.90)
        assert (t.low, t.high) == pytest.approx((interval.low, interval.high))
        swapped = ours(challenge, reference)
        assert (swapped.low, swapped.high) == pytest.approx((-t.high, -t.low))
        assert swapped.pvalue == pytest.approx(t.pvalue)
