"""How well answers agree with the truth: kappa, and whether stated chances come true."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from challenge.statistics.inputs import Values, as_confidence, as_values
from challenge.statistics.proportions import proportion


@dataclass(frozen=True, kw_only=True, slots=True)
class Agreement:
    """Agreement of two ratings on the same ordered steps.

    Attributes
    ----------
    n
        Cases rated twice.
    exact
        Share with the same rating; None without cases.
    kappa
        Weighted kappa, linear weights: 1 for perfect, 0 for what chance gives. None when both
        raters used one and the same step throughout.
    se
        Large-sample standard error of ``kappa`` (Fleiss, Cohen and Everitt 1969).
    low, high, confidence
        Normal interval of ``kappa``, cut at -1 and 1.
    reason
        Why a number is None, else None.
    """

    n: int
    exact: float | None
    kappa: float | None
    se: float | None
    low: float | None
    high: float | None
    confidence: float
    reason: str | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class CalibrationBin:
    """Cases with a similar stated chance.

    Attributes
    ----------
    lower, upper
        Stated chances from ``lower`` up to ``upper``.
    n
        Cases.
    stated, happened
        Mean stated chance, and share in which it came true.
    low, high
        Wilson interval of ``happened``.
    """

    lower: float
    upper: float
    n: int
    stated: float
    happened: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Calibration:
    """Whether stated chances come true.

    Attributes
    ----------
    n
        Cases.
    bins
        Those with at least one case.
    error
        Mean distance of ``happened`` from ``stated``, weighted by cases; above 0 by chance alone.
        Compare it with ``error_by_chance``. None without cases.
    error_by_chance
        Expected ``error`` if every stated chance were right (normal approximation per bin).
    brier
        Mean squared distance of the stated chance from what happened (0 or 1); lower is better.
    reason
        Why a number is None, else None.
    """

    n: int
    bins: tuple[CalibrationBin, ...]
    error: float | None
    error_by_chance: float | None
    brier: float | None
    reason: str | None = None


def weighted_kappa(table: ArrayLike, *, confidence: float = 0.95) -> Agreement:
    """Measure agreement on ordered steps, a miss by two steps counting twice a miss by one.

    Parameters
    ----------
    table
        Counts, shape (k, k), k >= 2: first rating by second rating, steps in order.
    confidence
        Of the interval of kappa.
    """
    counts = np.asarray(table, dtype=np.float64)
    confidence = as_confidence(confidence)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or counts.shape[0] < 2:
        raise ValueError("the table must be square, with at least two steps")
    if not np.isfinite(counts).all() or (counts < 0).any():
        raise ValueError("counts must be finite and not below 0")
    n = round(float(counts.sum()))
    if n == 0:
        return _no_kappa(0, None, confidence, "no cases")
    shares = counts / n
    exact = float(np.trace(shares))

    k = len(shares)
    weights = 1 - np.abs(np.subtract.outer(np.arange(k), np.arange(k))) / (k - 1)
    first, second = shares.sum(axis=1), shares.sum(axis=0)
    by_chance = float(first @ weights @ second)
    if 1 - by_chance < 1e-12:
        return _no_kappa(n, exact, confidence, "only one step was ever used")
    observed = float((weights * shares).sum())
    kappa = (observed - by_chance) / (1 - by_chance)
    margins = (weights @ second)[:, None] + (first @ weights)[None, :]
    spread = float((shares * (weights - margins * (1 - kappa)) ** 2).sum())
    variance = spread - (kappa - by_chance * (1 - kappa)) ** 2
    se = math.sqrt(max(variance, 0.0) / n) / (1 - by_chance)

    half = float(ndtri(0.5 + confidence / 2)) * se
    return Agreement(
        n=n,
        exact=exact,
        kappa=kappa,
        se=se,
        low=max(-1.0, kappa - half),
        high=min(1.0, kappa + half),
        confidence=confidence,
    )


def calibration(
    stated: Values, happened: ArrayLike, *, n_bins: int = 10, confidence: float = 0.95
) -> Calibration:
    """Compare stated chances with what happened, in bins of equal width.

    Parameters
    ----------
    stated
        Chances between 0 and 1, shape (n,).
    happened
        True where it came true, shape (n,).
    n_bins
        Bins between 0 and 1.
    confidence
        Of the interval in each bin.
    """
    chances = as_values(stated, "stated")
    outcomes = np.asarray(happened, dtype=bool)
    confidence = as_confidence(confidence)
    if outcomes.shape != chances.shape:
        raise ValueError(f"{chances.size} chances but {outcomes.size} outcomes")
    if ((chances < 0) | (chances > 1)).any():
        raise ValueError("chances must lie between 0 and 1")
    n = chances.size
    if n == 0:
        return Calibration(
            n=0, bins=(), error=None, error_by_chance=None, brier=None, reason="no cases"
        )

    edges = np.arange(n_bins + 1) / n_bins
    which = np.clip(np.searchsorted(edges, chances, side="right") - 1, 0, n_bins - 1)
    bins, error, by_chance = [], 0.0, 0.0
    for i in np.unique(which):
        inside = which == i
        found = _bin(chances[inside], outcomes[inside], edges[i : i + 2], confidence)
        bins.append(found)
        error += found.n / n * abs(found.happened - found.stated)
        spread = math.sqrt(float((chances[inside] * (1 - chances[inside])).sum()))
        by_chance += math.sqrt(2 / math.pi) * spread / n

    return Calibration(
        n=n,
        bins=tuple(bins),
        error=error,
        error_by_chance=by_chance,
        brier=float(((chances - outcomes) ** 2).mean()),
    )


def _no_kappa(n: int, exact: float | None, confidence: float, reason: str) -> Agreement:
    return Agreement(
        n=n,
        exact=exact,
        kappa=None,
        se=None,
        low=None,
        high=None,
        confidence=confidence,
        reason=reason,
    )


def _bin(
    chances: NDArray[np.float64],
    outcomes: NDArray[np.bool_],
    edges: NDArray[np.float64],
    confidence: float,
) -> CalibrationBin:
    share = proportion(int(outcomes.sum()), outcomes.size, confidence=confidence)
    assert share.estimate is not None and share.low is not None and share.high is not None
    return CalibrationBin(
        lower=float(edges[0]),
        upper=float(edges[1]),
        n=outcomes.size,
        stated=float(chances.mean()),
        happened=share.estimate,
        low=share.low,
        high=share.high,
    )
