import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from challenge.statistics.paired_t import paired_t
from challenge.statistics.serial import (
    level_constants,
    serial_level,
    serial_slope,
    slope_constants,
)
from tests.statistics.published import numbers

# Tang and Landes, PLOS ONE 2020;15(2):e0228077, supplement: amitriptyline minus placebo of six
# patients (Jaeschke 1991, table 1); outputs of the authors' functions recomputed in R and Python.
# patient: differences, mean, s, rho, n effective, SE, t, df, serial p, usual p (one-sided)
PATIENTS = {
    9: (
        [0.05, -0.22, 0.57, 0.36],
        [0.1900, 0.346891, 0.236782, 2.821119, 0.222615, 0.853491, 1.821119, 0.245398, 0.176694],
    ),
    18: (
        [0.64, 1.08, -0.36, 0.79, -0.64, 1.50],
        [
            *(0.501667, 0.834180, -0.489199, 14.439547, 0.207719, 2.415118, 13.439547),
            *(0.015319, 0.100358),
        ],
    ),
    23: (
        [1.22, 1.07, -0.08, 0.50],
        [0.677500, 0.592642, 0.380099, 2.296105, 0.450820, 1.502817, 1.296105, 0.165551, 0.053155],
    ),
    17: (
        [-0.08, 0.86, 1.07, 1.15],
        [0.750000, 0.566686, 0.406108, 2.212910, 0.445614, 1.683070, 1.212910, 0.153700, 0.038597],
    ),
    15: (
        [0.86, 1.43, 0.65, 1.86],
        [1.200000, 0.549727, -0.423555, 7.903991, 0.181187, 6.622981, 6.903991, 0.000158, 0.011111],
    ),
    12: (
        [4.29, 3.15, 0.78, 4.49],
        [3.177500, 1.703827, -0.066468, 4.421997, 0.797657, 3.983541, 3.421997, 0.011055, 0.016789],
    ),
}


@pytest.mark.parametrize("patient", PATIENTS)
def test_six_patients_as_published(patient):
    differences, expected = PATIENTS[patient]
    t = serial_level(differences, clamp=False)
    found = [t.estimate, t.sd, t.rho, t.n_effective, t.se, t.statistic, t.df, t.pvalue_greater]
    assert found == pytest.approx(expected[:-1], abs=6e-7)
    assert paired_t(differences).pvalue_greater == pytest.approx(expected[-1], abs=6e-7)


def test_negative_autocorrelation_never_makes_a_result_more_certain():
    # Patient 15: 0.00016 as published from four differences, whose exact test cannot pass 0.0625.
    differences = PATIENTS[15][0]
    t, usual = serial_level(differences), paired_t(differences)
    assert t.rho < 0 and t.rho_used == 0
    assert (t.pvalue, t.low, t.high) == pytest.approx((usual.pvalue, usual.low, usual.high))


@pytest.mark.parametrize(
    ("m", "rho", "c", "b", "n_effective"),
    # Tang and Landes' formulas, recomputed from the AR(1) matrix (n effective is 1 / c before
    # rounding: 1 / 0.3369659 would give 2.9676593 in the last line).
    [
        (4, 0.3, 0.388375, 0.8155, 2.5748310),
        (9, 0.3, 0.1912323, 0.9098636, 5.2292409),
        (9, 0.5, 0.2840471, 0.8054470, 3.5205433),
        (9, -0.3, 0.0642122, 1.0527612, 15.5733579),
        (12, 0.67, 0.3369659, 0.7233099, 2.9676591),
    ],
)
def test_level_constants(m, rho, c, b, n_effective):
    k = level_constants(m, rho)
    assert (k.c, k.b, k.n_effective) == pytest.approx((c, b, n_effective), abs=6e-8)


@pytest.mark.parametrize(
    ("m", "rho", "c", "b"),
    # The matrix form; the authors' longer closed form (0.6560, 0.8303, 0.5128) is mistaken.
    [
        (4, 0.3, 0.21434, 0.6874),
        (9, 0.3, 0.0243577, 0.8310638),
        (12, 0.67, 0.0172207, 0.5493850),
    ],
)
def test_slope_constants(m, rho, c, b):
    k = slope_constants(np.arange(m, dtype=float), rho)
    assert (k.c, k.b) == pytest.approx((c, b), abs=6e-8)


@given(st.integers(2, 60), st.floats(-0.9, 0.95))
def test_closed_form_equals_the_matrix(m, rho):
    days = np.arange(m)
    correlation = np.where(days[:, None] == days, 1.0, rho ** np.abs(days[:, None] - days))
    k = level_constants(m, rho)
    assert k.c == pytest.approx(correlation.sum() / m**2, rel=1e-9)
    assert k.n_effective == pytest.approx(1 / (1 - (m - 1) * k.b / m), rel=1e-6)


@given(st.lists(st.integers(-10, 10), min_size=3, max_size=12).filter(lambda d: len(set(d)) > 1))
def test_never_narrower_than_the_ordinary_interval(differences):
    t, usual = serial_level(differences), paired_t(differences)
    assert 0 <= t.rho_used <= 0.95
    assert t.se >= usual.se * (1 - 1e-9)
    assert t.df <= usual.df * (1 + 1e-9)
    swapped = serial_level([-d for d in differences])
    assert swapped.pvalue == pytest.approx(t.pvalue)
    assert swapped.estimate == -t.estimate


def test_standard_error_rises_with_rho():
    constants = [level_constants(9, rho) for rho in np.linspace(0, 0.95, 20)]
    errors = [np.sqrt(k.c / k.b) for k in constants]
    assert np.all(np.diff(errors) > 0)


def test_nist_norris_slope_without_autocorrelation():
    # NIST StRD, Norris: certified B1 and its standard deviation, residual standard deviation.
    y, x = numbers("nist_norris.txt").reshape(36, 2).T
    t = serial_slope(x, y, rho=0.0)
    assert t.estimate == pytest.approx(1.00211681802045, rel=1e-12)
    assert t.se == pytest.approx(0.000429796848199937, rel=1e-10)
    assert t.sd == pytest.approx(0.884796396144373, rel=1e-10)
    assert t.statistic**2 == pytest.approx(5436385.54079785, rel=1e-10)
    assert t.df == pytest.approx(34)


@pytest.mark.parametrize("seed", range(5))
def test_slope_equals_scipy_and_keeps_gaps(seed):
    rng = np.random.default_rng(seed)
    days = np.sort(rng.choice(60, 15, replace=False)).astype(float)
    values = rng.integers(0, 11, 15).astype(float)
    expected = stats.linregress(days, values)
    ordinary = serial_slope(days, values, rho=0.0)
    assert (ordinary.estimate, ordinary.se) == pytest.approx((expected.slope, expected.stderr))
    assert ordinary.pvalue == pytest.approx(expected.pvalue)
    # Closer days correlate more: spreading them out brings the ordinary result nearer.
    near = serial_slope(days, values, rho=0.5)
    far = serial_slope(days * 10, values, rho=0.5)
    assert far.se * 10 == pytest.approx(ordinary.se, rel=0.01)
    assert abs(near.se / ordinary.se - 1) > 0.02


@pytest.mark.slow
def test_false_alarms_under_autocorrelation():
    # Nominal 5 %, n = 6 differences with AR(1) 0.4: 9 % with rho held at 0 or more, against 17 %
    # for the ordinary t test (own simulation of 20 000; here 3 000).
    rng = np.random.default_rng(6)
    n, alarms, usual = 3000, 0, 0
    for _ in range(n):
        noise = rng.normal(size=6)
        series = [noise[0]]
        for e in noise[1:]:
            series.append(0.4 * series[-1] + np.sqrt(1 - 0.4**2) * e)
        alarms += serial_level(series).pvalue < 0.05
        usual += paired_t(series).pvalue < 0.05
    assert alarms / n == pytest.approx(0.091, abs=0.02)
    assert usual / n == pytest.approx(0.168, abs=0.025)
