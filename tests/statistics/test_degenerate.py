"""Too few or equal values give None and a reason: no NaN, no warning (warnings are errors)."""

import math
from dataclasses import fields, is_dataclass

import pytest

from challenge.statistics.equivalence import equivalence
from challenge.statistics.grid import whole_multiples, without_noise
from challenge.statistics.inputs import as_values
from challenge.statistics.overlap import overlap
from challenge.statistics.paired_t import paired_t
from challenge.statistics.serial import serial_level, serial_slope
from challenge.statistics.sign_flip import sign_flip
from challenge.statistics.signed_rank import signed_rank
from challenge.statistics.two_sample import day_permutation, pooled_t, single_day, welch_t
from challenge.statistics.walsh import hodges_lehmann

SAMPLES = [[], [0.0], [2.5], [0.0, 0.0], [1 / 3] * 7, [0.1 + 0.2, 0.3, 0.3], [1.0, 2.0]]
ONE = [
    sign_flip,
    signed_rank,
    hodges_lehmann,
    paired_t,
    serial_level,
    lambda d: serial_level(d, clamp=False),
    lambda d: equivalence(paired_t(d), -1, 1),
    lambda d: serial_slope(range(len(d)), d),
    lambda d: single_day(d, 3.0),
]
TWO = [pooled_t, welch_t, day_permutation, overlap]


def assert_honest(result):
    values = [getattr(result, f.name) for f in fields(result)]
    assert not any(isinstance(v, float) and not math.isfinite(v) for v in values)
    for value in values:
        if is_dataclass(value):
            assert_honest(value)
    if any(v is None for v in (getattr(result, "pvalue", 0), getattr(result, "low", 0))):
        assert result.reason


@pytest.mark.parametrize("function", ONE)
@pytest.mark.parametrize("values", SAMPLES)
def test_one_sample(function, values):
    assert_honest(function(values))


@pytest.mark.parametrize("function", TWO)
@pytest.mark.parametrize("reference", SAMPLES)
@pytest.mark.parametrize("challenge", SAMPLES)
def test_two_samples(function, reference, challenge):
    assert_honest(function(reference, challenge))


@pytest.mark.parametrize("function", ONE)
def test_missing_values_are_a_mistake(function):
    with pytest.raises(ValueError, match="finite"):
        function([1.0, float("nan"), 2.0])


def test_tables_are_not_rows():
    with pytest.raises(ValueError, match="one row"):
        as_values([[1.0, 2.0]])


def test_common_units():
    assert whole_multiples(as_values([0.1, 0.2, 0.3])).tolist() == [1, 2, 3]
    assert whole_multiples(as_values([1 / 7, 5 / 11, -0.25])).tolist() == [44, 140, -77]
    assert whole_multiples(as_values([0.0, 0.0])).tolist() == [0, 0]
    assert whole_multiples(as_values([])).tolist() == []
    assert whole_multiples(as_values([math.pi, 1.0])) is None
    assert whole_multiples(as_values([1e300, 1.0])) is None
    tied = without_noise(as_values([math.pi, math.pi * 3 / 3 + 1e-15, 4.0]))
    assert tied[0] == tied[1] != tied[2]
