"""Hodges-Lehmann estimate of paired differences and the exact interval that belongs to it.

The interval turns the Wilcoxon signed-rank test round: its ends are Walsh averages (means of all
pairs of differences, each with itself too). It can have only certain levels of confidence, and
says which. With ties or zeros the closed interval has at least that confidence (Noether 1967).
Source: Hollander, Wolfe, Nonparametric Statistical Methods, 1999, section 3.3.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from challenge.statistics.counting import MOST_STEPS, subset_sums
from challenge.statistics.grid import without_noise
from challenge.statistics.inputs import Values, as_confidence, as_values


@dataclass(frozen=True, kw_only=True, slots=True)
class HodgesLehmann:
    """A median difference with its exact interval.

    Attributes
    ----------
    n
        Pairs.
    estimate
        Median of the Walsh averages, in the units of the differences.
    low, high
        Closed interval; None when so few pairs cannot reach the confidence asked for.
    confidence
        Asked for.
    attained_confidence
        Of the interval given: the smallest attainable level that is not below ``confidence``.
    tied
        True when differences are 0 or tied in size: the interval then has at least the attained
        confidence, not exactly.
    reason
        Why there is no estimate or no interval, else None.
    """

    n: int
    estimate: float | None
    low: float | None = None
    high: float | None = None
    confidence: float
    attained_confidence: float | None = None
    tied: bool = False
    reason: str | None = None


def hodges_lehmann(differences: Values, *, confidence: float = 0.90) -> HodgesLehmann:
    """Estimate the centre of paired differences without assuming a normal distribution.

    Parameters
    ----------
    differences
        One per pair, shape (n,), finite, at most 1000 of them.
    confidence
        Least confidence of the two-sided interval.

    Examples
    --------
    >>> result = hodges_lehmann([1.0, 2.0, 3.0, 4.0, 5.0])
    >>> result.estimate, result.low, result.high, result.attained_confidence
    (3.0, 1.0, 5.0, 0.9375)
    """
    values = as_values(differences, "differences")
    confidence = as_confidence(confidence)
    n = values.size
    if n == 0:
        return HodgesLehmann(n=0, estimate=None, confidence=confidence, reason="no pairs")
    if n > MOST_STEPS:
        raise ValueError(f"at most {MOST_STEPS} pairs, not {n}")

    averages = walsh_averages(values)
    estimate = float(np.median(averages))
    cut, attained = _cut(n, confidence)
    if cut is None:
        most = max(0.0, 1 - 2.0 ** (1 - n))
        return HodgesLehmann(
            n=n,
            estimate=estimate,
            confidence=confidence,
            reason=f"{n} pairs allow a confidence of at most {most:.1%}",
        )

    return HodgesLehmann(
        n=n,
        estimate=estimate,
        low=float(averages[cut]),
        high=float(averages[averages.size - 1 - cut]),
        confidence=confidence,
        attained_confidence=attained,
        tied=_tied(values),
    )


def walsh_averages(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the n (n + 1) / 2 means of every pair of values, sorted."""
    rows, columns = _upper_triangle(values.size)
    averages = (values[rows] + values[columns]) / 2
    averages.sort()
    return averages


@lru_cache(maxsize=64)
def _upper_triangle(n: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    return np.triu_indices(n)


@lru_cache(maxsize=256)
def _cut(n: int, confidence: float) -> tuple[int | None, float | None]:
    """Return the largest c with 1 - 2 P(W <= c) >= confidence, and that level.

    W is the signed-rank statistic of n pairs without ties; the interval runs from the Walsh
    average number c + 1 from below to number c + 1 from above.
    """
    tails = np.cumsum(subset_sums(range(1, n + 1))) / 2.0**n
    # A level may equal the one asked for but for rounding: 0.9375 asked of five pairs.
    cut = int(np.searchsorted(tails, (1 - confidence) / 2 * (1 + 1e-12), side="right")) - 1
    return (None, None) if cut < 0 else (cut, 1 - 2 * float(tails[cut]))


def _tied(values: NDArray[np.float64]) -> bool:
    sizes = np.abs(without_noise(values))
    return bool((sizes == 0).any()) or np.unique(sizes).size < sizes.size
