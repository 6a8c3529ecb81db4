"""Student's t: p-values and intervals from an estimate, its standard error and its df."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypedDict

from scipy.special import stdtr, stdtrit


@dataclass(frozen=True, kw_only=True)
class TEstimate:
    """An estimate with its t interval and t test of 0.

    Attributes
    ----------
    estimate, se
        Estimate and standard error, in the units of the data.
    df
        Degrees of freedom.
    statistic
        Estimate over standard error.
    pvalue, pvalue_greater
        Two-sided; one-sided for an estimate above 0.
    low, high, confidence
        Two-sided interval at that confidence level.
    reason
        Why a number is None, else None.
    """

    estimate: float | None
    se: float | None = None
    df: float | None = None
    statistic: float | None = None
    pvalue: float | None = None
    pvalue_greater: float | None = None
    low: float | None = None
    high: float | None = None
    confidence: float
    reason: str | None = None


class TParts(TypedDict):
    """The fields of `TEstimate` that follow from a positive standard error."""

    estimate: float
    se: float
    df: float
    statistic: float
    pvalue: float
    pvalue_greater: float
    low: float
    high: float
    confidence: float


def upper_tail(statistic: float, df: float) -> float:
    """Return P(T >= statistic)."""
    return float(stdtr(df, -statistic))


def t_parts(estimate: float, se: float, df: float, confidence: float) -> TParts:
    """Return the fields of `TEstimate` that follow from a positive standard error."""
    statistic = estimate / se
    half = float(stdtrit(df, 0.5 + confidence / 2)) * se
    return {
        "estimate": estimate,
        "se": se,
        "df": df,
        "statistic": statistic,
        "pvalue": min(1.0, 2 * upper_tail(abs(statistic), df)),
        "pvalue_greater": upper_tail(statistic, df),
        "low": estimate - half,
        "high": estimate + half,
        "confidence": confidence,
    }
