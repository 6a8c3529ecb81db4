"""Secondary tests: through the project's own functions against published values and scipy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from challenge.analysis.analyse import analyse
from challenge.analysis.secondary import secondary_tests, secondary_views
from challenge.statistics.serial import serial_level
from challenge.wording import statement
from tests.statistics.published import DEPRESSION, SLEEP_1, SLEEP_2

from .making import backdrop_of, make_diary, make_plan, paired


def named_tests(pairs, backdrop, margin=1.0, confidence=0.9):
    return {t.name: t for t in secondary_tests(pairs, backdrop, 0, margin, confidence)}


def test_page_trend_from_two_cycles_on():
    """Two cycles in perfect order of three doses: (1/3!)^2 of the orders are as extreme."""
    empty = backdrop_of([], [np.nan] * 6)
    pairs = paired([0, 1, 2, 0, 1, 3], cycle=[1, 1, 1, 2, 2, 2], step=[1, 2, 3, 1, 2, 3])
    tests = secondary_tests(pairs, empty, 0, 1.0, 0.9)
    page = named_tests(pairs, empty)["page"]
    assert page.statistic == 28  # largest L of 3 doses in 2 blocks: Page, JASA 1963;58:216
    assert page.pvalue == page.min_pvalue == pytest.approx(1 / 36)
    (trend,) = secondary_views(tests, empty, 0, "pain")
    assert "p 0.028, and so many cycles cannot give less than 0.028" in str(trend)
    assert "page" not in named_tests(paired([0, 1, 2]), backdrop_of([], [np.nan] * 3))


def test_overlap_is_told_in_words():
    (shared,) = secondary_views((), backdrop_of([1, 2], [2, 3, np.nan]), 0, "pain")
    assert "88% of the comparisons" in str(shared)  # 3.5 of 4


def test_signed_rank_of_the_depression_data():
    """Hollander and Wolfe 1999, pp. 40 and 53 (as in R's regression tests), for y - x."""
    ranks = named_tests(paired([-d for d in DEPRESSION]), backdrop_of([], []), confidence=0.95)[
        "signed-rank"
    ]
    assert (ranks.statistic, ranks.pvalue) == (5, pytest.approx(0.0390625))
    assert ranks.estimate == pytest.approx(-0.46)
    assert (ranks.low, ranks.high) == pytest.approx((-0.786, -0.010))
    assert ranks.confidence == pytest.approx(0.9609375)
    assert ranks.min_pvalue == 2**-8


def test_equivalence_of_three_pairs():
    """Schuirmann's two one-sided tests written out with scipy's t; three pairs are not serial."""
    x, y = np.array([2.84, 2.51, 2.41]), np.array([2.60, 2.82, 2.18])
    within = named_tests(paired(x - y), backdrop_of([], []), margin=0.6)["equivalence"]
    d = x - y
    below = (d.mean() + 0.6) / stats.sem(d), (d.mean() - 0.6) / stats.sem(d)
    expected = max(stats.t.sf(below[0], 2), stats.t.cdf(below[1], 2))
    assert within.pvalue == pytest.approx(expected)
    assert within.min_pvalue is None


@given(
    st.lists(st.integers(-4, 4), min_size=2, max_size=10).filter(lambda d: len(set(d)) > 1),
    st.floats(0.5, 4),
)
@settings(deadline=None)
def test_equivalence_agrees_with_the_interval_beside_it(differences, margin):
    within = named_tests(paired(differences), backdrop_of([], []), margin=margin)["equivalence"]
    gap = min(abs(margin - within.high), abs(margin + within.low))
    inside = -margin < within.low and within.high < margin
    assert gap < 1e-9 or (within.pvalue < 0.05) == inside


def test_serial_t_holds_the_correlation_at_nought_or_more():
    """Patient 15 of Tang and Landes 2020: estimated at -0.42; as published p would be 0.00032."""
    values = [0.86, 1.43, 0.65, 1.86]
    t = named_tests(paired(values), backdrop_of([], []))["serial-t"]
    assert t.method.values["estimated"] == pytest.approx(-0.423555, abs=5e-7)
    assert t.method.values["used"] == 0
    assert t.pvalue == pytest.approx(2 * 0.011111, abs=2e-6)  # the usual p, same table
    assert t.method.code == "secondary-serial-few"
    assert "unreliable from so few" in str(t.method)
    assert "serial-t" not in named_tests(paired(values[:3]), backdrop_of([], []))
    many = named_tests(paired(np.arange(12) % 5), backdrop_of([], []))["serial-t"]
    assert many.method.code == "secondary-serial"
    assert many.pvalue == serial_level(np.arange(12) % 5).pvalue


def test_days_as_two_samples():
    """Student 1908, as if unpaired: Welch's interval and p as in R's t.test (p 0.0793941)."""
    days = named_tests(paired([]), backdrop_of(SLEEP_1, SLEEP_2), confidence=1 - 0.0793941)[
        "day-permutation"
    ]
    assert days.estimate == days.statistic == pytest.approx(1.58, abs=1 / 60)
    # the interval at confidence 1 - p touches 0; values stand to the 60th of a point
    assert days.low == pytest.approx(0, abs=0.02)
    assert "assumes that days are exchangeable" in str(days.method)


@pytest.mark.parametrize("seed", range(20))
def test_exact_p_equals_scipys_full_permutation(seed):
    """scipy.stats over all sign patterns and all exchanges of days: whole scores, ties, zeros."""
    rng = np.random.default_rng(seed)
    differences = rng.integers(-3, 4, int(rng.integers(3, 9)))
    differences[0] = 1
    reference, challenge = rng.integers(0, 6, 7), rng.integers(0, 8, int(rng.integers(2, 5)))
    found = named_tests(paired(differences), backdrop_of(reference / 3, challenge / 3))
    every = stats.PermutationMethod(n_resamples=np.inf)
    ranks = stats.wilcoxon(differences, zero_method="pratt", method=every)
    assert found["signed-rank"].pvalue == pytest.approx(ranks.pvalue)
    days = stats.permutation_test(
        # sums of whole numbers, so that scipy sees every tie
        (challenge, reference),
        lambda a, b: len(reference) * a.sum() - len(challenge) * b.sum(),
        n_resamples=np.inf,
        vectorized=False,
    )
    two_sided = (np.abs(days.null_distribution) >= abs(days.statistic)).mean()
    assert found["day-permutation"].pvalue == pytest.approx(two_sided)


@given(
    st.lists(st.tuples(st.integers(0, 10), st.integers(0, 10)), min_size=1, max_size=9),
    st.integers(1, 4),
)
@settings(deadline=None, max_examples=60)
def test_swapping_challenge_and_reference_flips_the_sign(rows, n_cycles):
    a, b = np.array(rows, dtype=float).T / 3
    pairs = replace(
        paired(a, cycle=np.arange(len(a)) % n_cycles + 1),
        challenge=a[:, None],
        reference=b[:, None],
    )
    swapped = replace(pairs, challenge=b[:, None], reference=a[:, None])
    found = named_tests(pairs, backdrop_of(b, a))
    other = named_tests(swapped, backdrop_of(a, b))
    assert set(found) == set(other)
    for name in set(found) - {"page"}:  # a rise has a direction
        one, two = found[name], other[name]
        assert one.estimate == pytest.approx(-two.estimate)
        assert one.pvalue == pytest.approx(two.pvalue)
        assert one.min_pvalue == pytest.approx(two.min_pvalue)
        assert (one.low is None) == (two.low is None)
        if one.low is not None:
            assert (one.low, one.high) == pytest.approx((-two.high, -two.low))
        if name == "signed-rank":
            continue
        # the nearer limit changes sides, and of two equally near ones the lower is told
        assert abs(one.statistic) == pytest.approx(abs(two.statistic))


@pytest.mark.slow
def test_days_that_resemble_each_other_are_not_exchangeable():
    """Why the words beside it say what is assumed: 7 reference days, then 6 challenge days.

    Nominal 5 %; with AR(1) of 0.4 from day to day 17.6 % in an own simulation of 4000 elsewhere.
    """
    rng, n = np.random.default_rng(5), 1500
    alarms = {0.0: 0, 0.4: 0}
    for rho in alarms:
        noise = rng.normal(size=(n, 13))
        for i in range(1, 13):
            noise[:, i] = rho * noise[:, i - 1] + np.sqrt(1 - rho**2) * noise[:, i]
        for row in 4 + noise:
            found = named_tests(paired([]), backdrop_of(row[:7], row[7:]))["day-permutation"]
            alarms[rho] += found.pvalue <= 0.05
    assert alarms[0.0] / n == pytest.approx(0.05, abs=0.02)
    assert alarms[0.4] / n == pytest.approx(0.176, abs=0.03)


def test_no_pair_no_test():
    assert secondary_tests(paired([]), backdrop_of([1, 2], []), 0, 1.0, 0.9) == ()


def test_one_pair_gives_what_it_can():
    found = named_tests(paired([2]), backdrop_of([1, 2, 1, 3], [5]))
    assert set(found) == {"day-permutation", "signed-rank"}
    assert found["signed-rank"].pvalue == found["signed-rank"].min_pvalue == 1
    assert found["day-permutation"].pvalue == found["day-permutation"].min_pvalue == 1 / 5
    assert found["day-permutation"].low is None and found["day-permutation"].confidence is None


def test_of_the_primary_symptom_in_every_group_and_never_among_the_tests():
    plan = make_plan(groups=("lactose", "sorbitol"), cycles=2)
    analysis = analyse(make_diary(plan), plan)
    for group in analysis.groups:
        names = [test.name for test in group.secondary_tests]
        assert names == ["day-permutation", "signed-rank", "serial-t", "equivalence", "page"]
        main = next(
            t for t in group.tests if t.step is None and t.symptom == analysis.primary_symptom
        )
        serial = group.secondary_tests[2]
        assert (serial.estimate, serial.low, serial.high) == (main.difference, main.low, main.high)
        assert all(test.method.code.startswith("method-") for test in group.tests)
        assert group.secondary_tests[3].method.values["margin"] == 1.0
    assert analysis.groups[0].secondary_tests[1].method == statement(
        "secondary-ranks", unit=statement("unit-pairs")
    )
    three = make_plan(cycles=3)
    by_cycle = analyse(make_diary(three), three).group("lactose").secondary_tests
    assert next(t for t in by_cycle if t.name == "signed-rank").n == 3
