"""Shares of days or clients: intervals and the exact binomial test."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln, ndtri, xlog1py, xlogy

from challenge.statistics.inputs import as_confidence


@dataclass(frozen=True, kw_only=True, slots=True)
class Proportion:
    """A share with its interval.

    Attributes
    ----------
    count, n
        Cases with the property; all cases.
    estimate, low, high, confidence
        Share and two-sided interval, 0 to 1; None when there are no cases.
    reason
        Why a number is None, else None.
    """

    count: int
    n: int
    estimate: float | None
    low: float | None
    high: float | None
    confidence: float
    reason: str | None = None


def proportion(count: int, n: int, *, confidence: float = 0.95) -> Proportion:
    """Estimate a share with its score interval (Wilson 1927), about right on average.

    Parameters
    ----------
    count, n
        ``count`` of ``n`` cases.
    confidence
        Of the two-sided interval.

    Raises
    ------
    ValueError
        Unless 0 <= count <= n.
    """
    _check(count, n)
    confidence = as_confidence(confidence)
    if n == 0:
        return Proportion(
            count=0,
            n=0,
            estimate=None,
            low=None,
            high=None,
            confidence=confidence,
            reason="no cases",
        )
    low, high = _wilson(count, n, confidence)
    return Proportion(
        count=count, n=n, estimate=count / n, low=low, high=high, confidence=confidence
    )


def binomial_pvalue(count: int, n: int, share: float = 0.5) -> float | None:
    """Return the exact two-sided p-value of ``count`` of ``n`` against a known share.

    Adds up all outcomes that are no more likely than the one seen; of differences above 0 among
    those that are not 0, against one half, this is the sign test.

    Returns
    -------
    float or None
        None when there are no cases.
    """
    _check(count, n)
    if not 0 <= share <= 1:
        raise ValueError(f"a share must lie between 0 and 1, not {share}")
    if n == 0:
        return None
    k = np.arange(n + 1)
    logs = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)
    chances = np.exp(logs + xlogy(k, share) + xlog1py(n - k, -share))
    # Equally likely outcomes differ by rounding only.
    return min(1.0, float(chances[chances <= chances[count] * (1 + 1e-7)].sum()))


def _check(count: int, n: int) -> None:
    if not 0 <= count <= n:
        raise ValueError(f"the count must lie between 0 and {n}, not {count}")


def _wilson(count: int, n: int, confidence: float) -> tuple[float, float]:
    z = float(ndtri(0.5 + confidence / 2))
    share, width = count / n, z * z / n
    centre = share + width / 2
    half = z * math.sqrt((share * (1 - share) + width / 4) / n)
    low, high = (centre - half) / (1 + width), (centre + half) / (1 + width)
    # Exactly 0 and 1 at the ends, where rounding would leave 1e-17.
    return (0.0 if count == 0 else low), (1.0 if count == n else high)
