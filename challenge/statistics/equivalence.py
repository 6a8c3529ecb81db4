"""The other question: is a rise small enough? Absence of significance does not answer it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from challenge.statistics.student import TEstimate, upper_tail

Finding = Literal["within margin", "beyond margin", "undecided"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Equivalence:
    """Two one-sided t tests of an estimate against two bounds.

    Attributes
    ----------
    statistic_low, statistic_high
        t of the estimate above the lower and below the upper bound.
    pvalue
        Larger of the two one-sided p-values: the mean lies between the bounds. It is under alpha
        exactly when the two-sided interval at confidence 1 - 2 alpha lies between them.
    pvalue_below
        One-sided p-value for a mean below the upper bound (non-inferiority).
    reason
        Why there is no p-value, else None.
    """

    statistic_low: float | None = None
    statistic_high: float | None = None
    pvalue: float | None = None
    pvalue_below: float | None = None
    reason: str | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class MarginVerdict:
    """What an interval says about a margin.

    Attributes
    ----------
    finding
        ``within margin``, ``beyond margin`` or ``undecided``.
    real_rise
        True when the whole interval lies above 0: a small real rise may be within the margin.
    """

    finding: Finding
    real_rise: bool


def equivalence(t: TEstimate, low: float, high: float) -> Equivalence:
    """Test whether a mean lies between two bounds (Schuirmann 1987).

    Parameters
    ----------
    t
        The estimate, with whatever standard error and df it was given.
    low, high
        Bounds fixed before the data were seen, in the units of the estimate.

    Raises
    ------
    ValueError
        If the bounds are the wrong way round.
    """
    if not low < high:
        raise ValueError(f"the lower bound {low} must lie below the upper bound {high}")
    if t.estimate is None or t.se is None or t.df is None:
        return Equivalence(reason=t.reason)

    above = (t.estimate - low) / t.se
    below = (t.estimate - high) / t.se
    pvalue_below = upper_tail(-below, t.df)

    return Equivalence(
        statistic_low=above,
        statistic_high=below,
        pvalue=max(upper_tail(above, t.df), pvalue_below),
        pvalue_below=pvalue_below,
    )


def judge_margin(
    estimate: float | None,
    low: float | None,
    high: float | None,
    margin: float,
    *,
    stopped_early: bool = False,
) -> MarginVerdict:
    """Say whether a rise is within a margin, beyond it, or not yet known.

    Parameters
    ----------
    estimate, low, high
        The rise and its two-sided 90 % interval (one-sided 95 % bounds); None where unknown.
    margin
        Smallest rise that matters, fixed beforehand, above 0.
    stopped_early
        The challenge was stopped because of symptoms: an outcome, not a missing value.

    Raises
    ------
    ValueError
        If the margin is not above 0.
    """
    if not margin > 0:
        raise ValueError(f"the margin must be above 0, not {margin}")
    real_rise = low is not None and low > 0
    if stopped_early:
        return MarginVerdict(finding="beyond margin", real_rise=real_rise)
    if high is not None and high < margin:
        return MarginVerdict(finding="within margin", real_rise=real_rise)
    if real_rise and estimate is not None and estimate >= margin:
        return MarginVerdict(finding="beyond margin", real_rise=True)
    return MarginVerdict(finding="undecided", real_rise=real_rise)
