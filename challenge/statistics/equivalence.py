"""The other question: is a rise small enough? Absence of significance does not answer it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from challenge.statistics.inputs import Values
from challenge.statistics.paired_t import PairedT, paired_t
from challenge.statistics.student import upper_tail

Finding = Literal["within margin", "beyond margin", "undecided"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Equivalence:
    """Two one-sided t tests of paired differences against two bounds.

    Attributes
    ----------
    t
        The estimate with its two-sided 1 - 2 alpha interval; ``t.high`` is the one-sided upper
        bound at 1 - alpha that non-inferiority looks at.
    statistic_low, statistic_high
        t of the estimate above the lower and below the upper bound.
    pvalue
        Larger of the two one-sided p-values: the mean lies between the bounds.
    pvalue_below
        One-sided p-value for a mean below the upper bound (non-inferiority).
    reason
        Why there is no p-value, else None.
    """

    t: PairedT
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


def tost_paired(
    differences: Values, low: float, high: float, *, alpha: float = 0.05
) -> Equivalence:
    """Test whether a mean difference lies between two bounds (Schuirmann 1987).

    Parameters
    ----------
    differences
        One per pair, shape (n,), finite.
    low, high
        Bounds fixed before the data were seen, in the units of the differences.
    alpha
        Of each one-sided test; the interval that agrees with it has confidence 1 - 2 alpha.

    Raises
    ------
    ValueError
        If the bounds are the wrong way round.
    """
    if not low < high:
        raise ValueError(f"the lower bound {low} must lie below the upper bound {high}")
    t = paired_t(differences, confidence=1 - 2 * alpha)
    if t.estimate is None or t.se is None or t.df is None:
        return Equivalence(t=t, reason=t.reason)

    above = (t.estimate - low) / t.se
    below = (t.estimate - high) / t.se
    pvalue_below = upper_tail(-below, t.df)

    return Equivalence(
        t=t,
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
