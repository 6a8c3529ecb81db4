from itertools import permutations, product

import numpy as np
import pytest
from scipy import stats

from challenge.statistics.trend import page_trend

# Hollander and Wolfe 1999, table 7.5: cotton strength by potash 144, 108, 72, 54, 36.
COTTON = [
    [7.46, 7.17, 7.76, 8.14, 7.63],
    [7.68, 7.57, 7.73, 8.15, 8.00],
    [7.21, 7.80, 7.74, 7.87, 7.93],
]


def test_cotton_strength():
    # L = 158 in the book; exact p 0.0024925 from scipy's page_trend_test (no ties here).
    result = page_trend(COTTON)
    assert result.statistic == 158
    assert result.pvalue == pytest.approx(0.0024925, abs=5e-8)


def blocks_with(total, k, m):
    """Some m blocks of k doses in which Page's L is ``total``."""
    orders = {int(np.dot(p, range(1, k + 1))): p for p in permutations(range(1, k + 1))}
    reached = {0: []}
    for _ in range(m):
        reached = {
            so_far + more: [*blocks, order]
            for so_far, blocks in reached.items()
            for more, order in orders.items()
        }
    return reached[total]


@pytest.mark.parametrize(
    ("k", "m", "critical", "pvalue"),
    # Page, JASA 1963;58:216 (table as remembered), exact p by full enumeration.
    [
        (3, 2, 28, 0.02778),
        (3, 3, 41, 0.03241),
        (3, 3, 42, 0.00463),
        (3, 4, 54, 0.02546),
        (3, 4, 55, 0.00694),
        (3, 4, 56, 0.00077),
        (3, 5, 66, 0.03935),
        (3, 5, 68, 0.00656),
        (3, 5, 70, 0.00013),
        (3, 10, 128, 0.04664),
        (3, 10, 131, 0.00828),
        (3, 10, 134, 0.00074),
        (4, 2, 58, 0.03125),
        (4, 2, 60, 0.00174),
        (4, 3, 84, 0.04463),
        (4, 3, 87, 0.00702),
        (4, 3, 89, 0.00072),
        (4, 4, 111, 0.03370),
        (4, 4, 114, 0.00746),
        (4, 4, 117, 0.00070),
        (5, 3, 150, 0.04761),
        (5, 3, 155, 0.00972),
        (5, 3, 160, 0.00072),
    ],
)
def test_critical_values(k, m, critical, pvalue):
    result = page_trend(blocks_with(critical, k, m))
    assert result.statistic == critical
    assert result.pvalue == pytest.approx(pvalue, abs=5e-6)


@pytest.mark.parametrize(("m", "k", "floor"), [(1, 3, 1 / 6), (2, 3, 1 / 36), (2, 4, 1 / 576)])
def test_smallest_pvalue(m, k, floor):
    # One order in k! per block.
    result = page_trend([list(range(k))] * m)
    assert result.pvalue == result.min_pvalue == pytest.approx(floor)


def test_ties_are_counted_as_they_are():
    # Enumerated here; scipy's exact table ignores ties.
    blocks = [[0, 0, 1], [1, 1, 2], [0, 2, 2]]
    ranks = [stats.rankdata(row) for row in blocks]
    observed = sum(row @ [1, 2, 3] for row in ranks)
    orders = [[np.array(p) @ [1, 2, 3] for p in permutations(row)] for row in ranks]
    sums = [sum(chosen) for chosen in product(*orders)]
    result = page_trend(blocks)
    assert result.statistic == observed
    assert result.pvalue == pytest.approx(np.mean([s >= observed for s in sums]))


def test_all_tied_and_empty():
    assert page_trend([[1, 1, 1], [2, 2, 2]]).pvalue == 1
    assert page_trend(np.empty((0, 3))).reason == "no blocks"
    assert page_trend([[1.0], [2.0]]).reason == "a trend needs two doses"
