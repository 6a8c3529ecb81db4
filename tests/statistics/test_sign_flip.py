from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from challenge.statistics.sign_flip import N_DRAWS, floor_pvalue, sign_flip
from tests.statistics.published import DARWIN, DEPRESSION, SLEEP, SLEEP_1, SLEEP_2

scores = st.integers(-10, 10)
day_values = st.builds(Fraction, st.integers(-30, 30), st.sampled_from([1, 2, 3, 4, 6]))


def brute_force(differences):
    """Share of sign patterns at least as extreme, in exact fractions: two-sided and greater."""
    exact = [Fraction(d) for d in differences]
    observed = sum(exact)
    sums = [
        sum(sign * d for sign, d in zip(signs, exact, strict=True))
        for signs in product((1, -1), repeat=len(exact))
    ]
    two_sided = sum(abs(s) >= abs(observed) for s in sums) / len(sums)
    return two_sided, sum(s >= observed for s in sums) / len(sums)


def test_darwins_maize():
    # Fisher, Design of Experiments 1935, section 21: 5.267 % (counts 863 and 1726 of 32768
    # from memory of the literature, reproduced by R's perm.test and by enumeration).
    result = sign_flip(DARWIN)
    assert result.pvalue == 1726 / 32768
    assert result.pvalue_greater == 863 / 32768
    assert result.exact
    assert result.statistic == pytest.approx(314 / 15)


def test_students_sleep_with_a_zero_and_a_tie():
    # R exactRankTests perm.test: 0.00390625; 2 of 1024 patterns one-sided.
    result = sign_flip(SLEEP)
    assert (result.n, result.n_nonzero) == (10, 9)
    assert result.pvalue == 0.00390625
    assert result.pvalue_greater == 2 / 1024


def test_depression_data():
    # 14 of 512 patterns: R exactRankTests perm.test = enumeration.
    assert sign_flip(DEPRESSION).pvalue == 14 / 512


@pytest.mark.parametrize(
    ("differences", "pvalue"),
    # One-sided p of the six patients of Tang and Landes, PLOS ONE 2020, data of Jaeschke 1991;
    # sign-flip values recomputed by enumeration in R.
    [
        ([0.05, -0.22, 0.57, 0.36], 0.1875),
        ([0.64, 1.08, -0.36, 0.79, -0.64, 1.50], 0.109375),
        ([1.22, 1.07, -0.08, 0.50], 0.125),
        ([-0.08, 0.86, 1.07, 1.15], 0.125),
        ([0.86, 1.43, 0.65, 1.86], 0.0625),
        ([4.29, 3.15, 0.78, 4.49], 0.0625),
    ],
)
def test_fibromyalgia_patients(differences, pvalue):
    assert sign_flip(differences).pvalue_greater == pvalue


@pytest.mark.parametrize(
    ("n", "floor"),
    # 2 ** (1 - n), by counting patterns.
    [
        (2, 0.5),
        (3, 0.25),
        (4, 0.125),
        (5, 0.0625),
        (6, 0.03125),
        (7, 0.015625),
        (8, 0.0078125),
        (9, 0.00390625),
        (10, 0.001953125),
        (12, 0.00048828125),
    ],
)
def test_smallest_pvalue(n, floor):
    result = sign_flip([1.0] * n + [0.0])
    assert result.pvalue == result.min_pvalue == floor


@pytest.mark.parametrize(("family", "least"), [(1, 6), (6, 8), (24, 10), (30, 11)])
def test_pairs_needed_before_a_family_of_tests_can_reject(family, least):
    # Counted: the first n whose floor is at most 0.05 / family.
    assert floor_pvalue(least) <= 0.05 / family < floor_pvalue(least - 1)


@pytest.mark.parametrize("seed", range(30))
def test_equals_scipys_full_permutation(seed):
    # scipy.stats.permutation_test over all 2**n patterns, scores with ties and zeros.
    rng = np.random.default_rng(seed)
    differences = rng.integers(-4, 5, size=rng.integers(2, 11))
    for alternative, attribute in (
        ("two-sided", "pvalue"),
        ("greater", "pvalue_greater"),
        ("less", "pvalue_less"),
    ):
        expected = stats.permutation_test(
            (differences,),
            np.sum,
            permutation_type="samples",
            n_resamples=np.inf,
            alternative=alternative,
        )
        assert getattr(sign_flip(differences), attribute) == pytest.approx(
            expected.pvalue, abs=1e-15
        )


@settings(max_examples=60, deadline=None)
@given(st.lists(day_values, min_size=1, max_size=10))
def test_equals_brute_force_in_exact_fractions(differences):
    result = sign_flip([float(d) for d in differences])
    assert (result.pvalue, result.pvalue_greater) == brute_force(differences)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(-6, 6), min_size=1, max_size=10))
def test_multiples_of_an_irrational_number_tie_as_their_factors_do(factors):
    # No common unit: counted by halves, within a tolerance.
    result = sign_flip([factor * np.pi for factor in factors])
    assert (result.pvalue, result.pvalue_greater) == brute_force(factors)
    assert result.exact


def test_means_of_three_slots_tie_in_spite_of_rounding():
    # 0.1 + 0.2 = 0.3 and 1/3 + 2/3 = 1 are ties, which binary floating point does not see.
    assert sign_flip([0.1, 0.2, -0.3]).pvalue == 1.0
    assert sign_flip([1 / 3, 1 / 3, 1 / 3, -1.0]).pvalue == 1.0
    assert sign_flip([0.3 - 0.1, -0.2]).pvalue == 1.0


@given(st.lists(scores, min_size=1, max_size=15))
def test_properties(differences):
    result = sign_flip(differences)
    assert floor_pvalue(result.n_nonzero) <= result.pvalue <= 1
    assert sign_flip([*differences, 0]).pvalue == result.pvalue
    assert sign_flip([d * 0.7 for d in differences]).pvalue == pytest.approx(result.pvalue)
    swapped = sign_flip([-d for d in differences])
    assert swapped.pvalue == result.pvalue
    assert swapped.pvalue_greater == result.pvalue_less
    assert swapped.statistic == -result.statistic
    # One-sided tails share only the observed pattern's ties.
    assert result.pvalue_greater + result.pvalue_less >= 1


def test_swapping_challenge_and_baseline_flips_the_sign():
    swapped = sign_flip([a - b for a, b in zip(SLEEP_1, SLEEP_2, strict=True)])
    assert swapped.statistic == -sign_flip(SLEEP).statistic
    assert swapped.pvalue == sign_flip(SLEEP).pvalue


def test_all_zero():
    result = sign_flip([0, 0, 0])
    assert (result.pvalue, result.min_pvalue, result.n_nonzero) == (1.0, 1.0, 0)


def test_two_hundred_day_values_are_still_counted_exactly():
    rng = np.random.default_rng(1)
    differences = rng.integers(-30, 31, 200) / 3 + 0.5
    result = sign_flip(differences)
    assert result.exact
    # Normal limit of the permutation distribution, from its exact variance.
    z = differences.sum() / np.sqrt((differences**2).sum())
    assert result.pvalue == pytest.approx(2 * stats.norm.sf(abs(z)), abs=0.003)


def test_random_patterns_only_when_counting_is_out_of_reach():
    rng = np.random.default_rng(2)
    differences = rng.normal(0.3, 1, 60)
    result = sign_flip(differences, seed=5)
    assert not result.exact
    assert result == sign_flip(differences, seed=5)
    z = differences.sum() / np.sqrt((differences**2).sum())
    error = 4 * np.sqrt(result.pvalue / N_DRAWS)
    assert result.pvalue == pytest.approx(2 * stats.norm.sf(abs(z)), abs=0.004 + error)
    # Never 0: the observed pattern is one of those counted.
    assert sign_flip(np.abs(differences), seed=5).pvalue == 2 / (1 + N_DRAWS)


def test_counting_by_halves_equals_counting_by_sums():
    whole = np.random.default_rng(3).integers(-9, 10, 24)
    assert sign_flip(whole * np.sqrt(2)).pvalue == pytest.approx(sign_flip(whole).pvalue, abs=1e-14)
