"""t tests that allow for serial correlation (Tang and Landes, PLOS ONE 2020;15(2):e0228077).

The errors are taken as a first-order autoregression with correlation rho between neighbours. By
default rho is held between 0 and 0.95: a negative rho estimated from a handful of values would
make the test more certain than independence does, and that is never wanted here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.statistics.autocorrelation import small_sample_lag1
from challenge.statistics.inputs import Values, as_confidence, as_values, is_constant
from challenge.statistics.student import TEstimate, t_parts

LARGEST_RHO = 0.95
_LEAST_DF = 0.5  # a guard only: the formula can give less than that from very few values


@dataclass(frozen=True, kw_only=True)
class SerialT(TEstimate):
    """A serial t test: `TEstimate`, with the autocorrelation it allowed for.

    Attributes
    ----------
    n
        Values.
    sd
        Residual standard deviation, not corrected for autocorrelation.
    rho, rho_used
        Lag-1 autocorrelation estimated (small-sample corrected); the one used.
    n_effective
        Independent values that would be worth as much.
    """

    n: int
    sd: float | None = None
    rho: float | None = None
    rho_used: float | None = None
    n_effective: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Constants:
    """Variance of an estimate and expectation of s**2, both in units of the error variance."""

    c: float
    b: float
    n_effective: float


def level_constants(m: int, rho: float) -> Constants:
    """Return the constants for the mean of ``m`` values in a row."""
    total = (m + 2 * rho ** (m + 1) - m * rho**2 - 2 * rho) / (1 - rho) ** 2
    c = total / m**2
    return Constants(c=c, b=(m - total / m) / (m - 1), n_effective=1 / c)


def slope_constants(days: NDArray[np.float64], rho: float) -> Constants:
    """Return the constants for the least-squares slope on ``days`` (at least 3 distinct days).

    The matrix form; one of the closed forms in the authors' supplement does not agree with it.
    """
    m = days.size
    x = days - days.mean()
    squares = float(x @ x)
    gaps = np.abs(days[:, None] - days[None, :])
    correlation = np.where(gaps == 0, 1.0, rho**gaps) if rho else np.eye(m)
    c = float(x @ correlation @ x) / squares**2
    explained = float(correlation.sum()) / m + float(x @ correlation @ x) / squares
    b = (m - explained) / (m - 2)
    return Constants(c=c, b=b, n_effective=2 / (1 - b * (m - 2) / m))


def serial_level(differences: Values, *, confidence: float = 0.90, clamp: bool = True) -> SerialT:
    """Estimate the mean of differences that follow one another in time.

    Parameters
    ----------
    differences
        In order of time, equally spaced, shape (n,), finite.
    confidence
        Of the two-sided interval.
    clamp
        Hold rho between 0 and 0.95. Without it the method is as published.
    """
    values = as_values(differences, "differences")
    confidence = as_confidence(confidence)
    n = values.size
    if n < 2 or is_constant(values):
        reason = ("no pairs", "only one pair")[n] if n < 2 else "all differences are equal"
        estimate = float(values.mean()) if n else None
        return SerialT(n=n, estimate=estimate, confidence=confidence, reason=reason)

    rho = small_sample_lag1(values)
    used = _used(rho, clamp)
    k = level_constants(n, used)
    sd = float(values.std(ddof=1))
    df = max(k.n_effective - 1, _LEAST_DF)

    return SerialT(
        n=n,
        sd=sd,
        rho=rho,
        rho_used=used,
        n_effective=k.n_effective,
        **t_parts(float(values.mean()), sd * math.sqrt(k.c / k.b), df, confidence),
    )


def serial_slope(
    days: Values,
    values: Values,
    *,
    confidence: float = 0.90,
    rho: float | None = None,
    clamp: bool = True,
) -> SerialT:
    """Estimate a drift: the least-squares slope of day values on the day, per unit of ``days``.

    Parameters
    ----------
    days, values
        Shapes (n,), days in rising order and possibly with gaps; errors a gap apart correlate by
        rho to the power of the gap. rho is estimated from neighbours as if there were no gaps.
    confidence
        Of the two-sided interval.
    rho
        Known autocorrelation; 0 gives ordinary least squares. None to estimate it.
    clamp
        Hold an estimated rho between 0 and 0.95.
    """
    x, y = as_values(days, "days"), as_values(values, "values")
    confidence = as_confidence(confidence)
    if x.size != y.size:
        raise ValueError(f"{x.size} days but {y.size} values")
    if x.size < 3 or is_constant(x):
        return SerialT(n=x.size, estimate=None, confidence=confidence, reason="too few days")
    centred = x - x.mean()
    slope = float(centred @ (y - y.mean())) / float(centred @ centred)
    residuals = y - y.mean() - slope * centred
    if np.abs(residuals).max() <= 1e-12 * max(1.0, float(np.abs(y).max())):
        reason = "the values lie on a straight line"
        return SerialT(n=x.size, estimate=slope, confidence=confidence, reason=reason)

    estimated = small_sample_lag1(residuals) if rho is None else rho
    used = _used(estimated, clamp) if rho is None else rho
    k = slope_constants(x, used)
    sd = math.sqrt(float(residuals @ residuals) / (x.size - 2))

    return SerialT(
        n=x.size,
        sd=sd,
        rho=estimated,
        rho_used=used,
        n_effective=k.n_effective,
        **t_parts(slope, sd * math.sqrt(k.c / k.b), max(k.n_effective - 2, _LEAST_DF), confidence),
    )


def _used(rho: float | None, clamp: bool) -> float:
    if rho is None:
        return 0.0
    return min(max(rho, 0.0), LARGEST_RHO) if clamp else rho
