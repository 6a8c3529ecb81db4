"""Paired t test and interval."""

from __future__ import annotations

import math
from dataclasses import dataclass

from challenge.statistics.inputs import Values, as_confidence, as_values, is_constant
from challenge.statistics.student import TEstimate, t_parts


@dataclass(frozen=True, kw_only=True)
class PairedT(TEstimate):
    """A paired t test: `TEstimate` of the mean difference, with what belongs to pairs.

    Attributes
    ----------
    n
        Pairs.
    sd
        Standard deviation of the differences (divisor n - 1), in their units.
    """

    n: int
    sd: float | None = None


def paired_t(differences: Values, *, confidence: float = 0.90) -> PairedT:
    """Estimate the mean of paired differences with a t interval.

    Parameters
    ----------
    differences
        One per pair, shape (n,), finite.
    confidence
        Of the two-sided interval.

    Returns
    -------
    PairedT
        The estimate alone, with a reason, for one pair or differences that are all equal.
    """
    values = as_values(differences, "differences")
    confidence = as_confidence(confidence)
    n = values.size
    if n == 0:
        return PairedT(n=0, estimate=None, confidence=confidence, reason="no pairs")
    mean = float(values.mean())
    if n == 1:
        return PairedT(n=1, estimate=mean, confidence=confidence, reason="only one pair")
    if is_constant(values):
        return PairedT(
            n=n, estimate=mean, sd=0.0, confidence=confidence, reason="all differences are equal"
        )

    sd = float(values.std(ddof=1))

    return PairedT(
        n=n,
        sd=sd,
        **t_parts(mean, sd / math.sqrt(n), n - 1, confidence),
    )
