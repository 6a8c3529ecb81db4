"""Wilcoxon signed-rank test, exact with ties and zeros.

Tied sizes share their mean rank; the p-value counts every pattern of signs of these ranks, so it
is exact for the data at hand where printed tables (and scipy's ``method="exact"``) are not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from challenge.statistics.counting import MOST_STEPS, subset_sums
from challenge.statistics.grid import without_noise
from challenge.statistics.inputs import Values, as_values
from challenge.statistics.sign_flip import floor_pvalue

Zeros = Literal["pratt", "wilcoxon"]


@dataclass(frozen=True, kw_only=True, slots=True)
class SignedRank:
    """A signed-rank test.

    Attributes
    ----------
    n, n_nonzero
        Differences given; those that are not 0.
    statistic
        Sum of the ranks of the differences above 0; None without any difference.
    pvalue, pvalue_greater
        Two-sided; one-sided for differences above 0.
    min_pvalue
        Smallest two-sided p-value that so many non-zero differences can reach.
    reason
        Why there is no p-value, else None.
    """

    n: int
    n_nonzero: int
    statistic: float | None
    pvalue: float | None
    pvalue_greater: float | None
    min_pvalue: float | None
    reason: str | None = None


def signed_rank(differences: Values, *, zeros: Zeros = "pratt") -> SignedRank:
    """Test whether paired differences centre on 0 by the ranks of their sizes.

    Parameters
    ----------
    differences
        One per pair, shape (n,), finite, at most 1000 of them.
    zeros
        ``pratt`` ranks zeros with the others and then drops their ranks (Pratt 1959);
        ``wilcoxon`` drops them first, which can let a smaller value lower the p-value.
    """
    values = without_noise(as_values(differences, "differences"))
    n = values.size
    if n > MOST_STEPS:
        raise ValueError(f"at most {MOST_STEPS} pairs, not {n}")
    if n == 0:
        return SignedRank(
            n=0,
            n_nonzero=0,
            statistic=None,
            pvalue=None,
            pvalue_greater=None,
            min_pvalue=None,
            reason="no pairs",
        )

    nonzero = values != 0
    if zeros == "pratt":
        ranks = doubled_ranks(np.abs(values))[nonzero]
    else:
        ranks = doubled_ranks(np.abs(values[nonzero]))
    counts = subset_sums([int(rank) for rank in ranks])
    positive = int(ranks[values[nonzero] > 0].sum())
    patterns = 2.0**ranks.size
    greater = float(counts[positive:].sum()) / patterns
    less = float(counts[: positive + 1].sum()) / patterns

    return SignedRank(
        n=n,
        n_nonzero=ranks.size,
        statistic=positive / 2,
        pvalue=min(1.0, 2 * min(greater, less)),
        pvalue_greater=greater,
        min_pvalue=floor_pvalue(ranks.size),
    )


def doubled_ranks(values: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return twice the mid-ranks of ``values``: whole numbers, ties sharing theirs."""
    _, which, counts = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    doubled: NDArray[np.int64] = (2 * last - counts + 1)[which]
    return doubled
