"""Challenge days against reference days that are not paired: t intervals and day permutation.

The day is the replicate; slots within a day are not. The permutation test assumes that days are
exchangeable when nothing happens: no trend, no autocorrelation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from challenge.statistics.counting import subset_sums_of_size
from challenge.statistics.grid import tie_tolerance, whole_multiples
from challenge.statistics.inputs import Values, as_confidence, as_values, is_constant
from challenge.statistics.student import TEstimate, t_parts

_MOST_ADDITIONS = 50_000_000  # about 50 ms
_MOST_ENUMERATED = 200_000
N_DRAWS = 9_999
"""Random arrangements drawn when counting all of them is out of reach."""


@dataclass(frozen=True, kw_only=True)
class TwoSampleT(TEstimate):
    """`TEstimate` of mean challenge minus mean reference, with the numbers of days."""

    n_reference: int
    n_challenge: int


@dataclass(frozen=True, kw_only=True, slots=True)
class DayPermutation:
    """A permutation test of challenge against reference days.

    Attributes
    ----------
    n_reference, n_challenge
        Days.
    statistic
        Mean challenge minus mean reference; None without days on both sides.
    pvalue
        Two-sided: share of arrangements whose difference is at least as far from 0.
    pvalue_greater
        One-sided, for challenge days that are higher.
    min_pvalue
        Smallest two-sided p-value that these day values could give in any arrangement; a lower
        bound of it when arrangements were drawn at random.
    exact
        False when arrangements were drawn at random.
    reason
        Why there is no p-value, else None.
    """

    n_reference: int
    n_challenge: int
    statistic: float | None
    pvalue: float | None
    pvalue_greater: float | None
    min_pvalue: float | None
    exact: bool
    reason: str | None = None


def pooled_t(reference: Values, challenge: Values, *, confidence: float = 0.90) -> TwoSampleT:
    """Compare means with one pooled standard deviation, assumed equal on both sides.

    Parameters
    ----------
    reference, challenge
        Day values, shapes (n_reference,) and (n_challenge,), finite. One day on one side is
        enough when there are two on the other.
    confidence
        Of the two-sided interval.
    """
    low, high = as_values(reference, "reference"), as_values(challenge, "challenge")
    confidence = as_confidence(confidence)
    if unusable := _degenerate(low, high, confidence, n_least=1):
        return unusable

    df = low.size + high.size - 2
    squares = float(((low - low.mean()) ** 2).sum() + ((high - high.mean()) ** 2).sum())
    se = math.sqrt(squares / df * (1 / low.size + 1 / high.size))

    return TwoSampleT(
        n_reference=low.size,
        n_challenge=high.size,
        **t_parts(float(high.mean() - low.mean()), se, df, confidence),
    )


def welch_t(reference: Values, challenge: Values, *, confidence: float = 0.90) -> TwoSampleT:
    """Compare means without assuming equal spread (Welch 1947). Needs two days on each side."""
    low, high = as_values(reference, "reference"), as_values(challenge, "challenge")
    confidence = as_confidence(confidence)
    if unusable := _degenerate(low, high, confidence, n_least=2):
        return unusable

    part_low = float(low.var(ddof=1)) / low.size
    part_high = float(high.var(ddof=1)) / high.size
    total = part_low + part_high
    df = total**2 / (part_low**2 / (low.size - 1) + part_high**2 / (high.size - 1))

    return TwoSampleT(
        n_reference=low.size,
        n_challenge=high.size,
        **t_parts(float(high.mean() - low.mean()), math.sqrt(total), df, confidence),
    )


def single_day(reference: Values, challenge: float, *, confidence: float = 0.90) -> TwoSampleT:
    """Ask whether one challenge day is unusual among the reference days.

    A prediction contrast, not a mean effect: t = (day - mean) / (sd sqrt(1 + 1/n)) on n - 1 df
    (the form of Crawford and Howell 1998). It is the pooled t of one day against n.
    """
    return pooled_t(reference, [challenge], confidence=confidence)


def day_permutation(reference: Values, challenge: Values, *, seed: int = 0) -> DayPermutation:
    """Test challenge against reference days by exchanging the days' labels.

    Parameters
    ----------
    reference, challenge
        Day values, finite.
    seed
        Seed of the random arrangements. Used only when the values are not small fractions of a
        whole number and there are more than 200 000 arrangements (then `N_DRAWS` are drawn and
        the observed one is counted among them).
    """
    low, high = as_values(reference, "reference"), as_values(challenge, "challenge")
    if low.size == 0 or high.size == 0:
        return DayPermutation(
            n_reference=low.size,
            n_challenge=high.size,
            statistic=None,
            pvalue=None,
            pvalue_greater=None,
            min_pvalue=None,
            exact=True,
            reason="no reference days" if low.size == 0 else "no challenge days",
        )

    deviations, weights, observed, tolerance, exact = _arrangements(low, high, seed)
    total = float(weights.sum())
    distance = np.abs(deviations)

    def share(chosen: NDArray[np.bool_]) -> float:
        return float(weights[chosen].sum()) / total

    return DayPermutation(
        n_reference=low.size,
        n_challenge=high.size,
        statistic=float(high.mean() - low.mean()),
        pvalue=share(distance >= abs(observed) - tolerance),
        pvalue_greater=share(deviations >= observed - tolerance),
        min_pvalue=share(distance >= float(distance.max()) - tolerance)
        if exact
        else 1 / math.comb(low.size + high.size, high.size),
        exact=exact,
    )


def _degenerate(
    low: NDArray[np.float64], high: NDArray[np.float64], confidence: float, *, n_least: int
) -> TwoSampleT | None:
    smaller = min(low.size, high.size)
    reason, estimate = None, None
    if smaller == 0:
        reason = "no reference days" if low.size == 0 else "no challenge days"
    else:
        estimate = float(high.mean() - low.mean())
        if smaller < n_least or low.size + high.size < 3:
            reason = "too few days"
        elif is_constant(low) and is_constant(high):
            reason = "no variation within the reference or the challenge days"
    if reason is None:
        return None
    return TwoSampleT(
        n_reference=low.size,
        n_challenge=high.size,
        estimate=estimate,
        confidence=confidence,
        reason=reason,
    )


def _arrangements(
    low: NDArray[np.float64], high: NDArray[np.float64], seed: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], float, float, bool]:
    """Return deviations of the challenge sum from its expectation, times the number of days.

    Also how many arrangements have each, the observed one, the tolerance within which two of them
    tie, and whether all arrangements were counted.
    """
    days = np.concatenate([low, high])
    size, n = high.size, low.size + high.size
    whole = whole_multiples(days - days.min())
    if whole is not None:
        steps = [int(step) for step in whole]
        if size * n * sum(steps) <= _MOST_ADDITIONS:
            counts = subset_sums_of_size(steps, size)
            sums = np.flatnonzero(counts)
            expected = size * sum(steps)
            observed = n * sum(steps[low.size :]) - expected
            return (n * sums - expected).astype(np.float64), counts[sums], observed, 0.0, True

    centred = days - days.mean()
    distance = n * float(centred[low.size :].sum())
    exact = math.comb(n, size) <= _MOST_ENUMERATED
    if exact:
        chosen = np.array(list(combinations(range(n), size)))
    else:
        rng = np.random.default_rng(seed)
        order = rng.permuted(np.tile(np.arange(n), (N_DRAWS, 1)), axis=1)
        chosen = np.vstack([order[:, :size], np.arange(low.size, n)])
    deviations = n * centred[chosen].sum(axis=1)
    return deviations, np.ones(deviations.size), distance, n * tie_tolerance(centred), exact
