"""Yes or no to several treatments in the same people: Cochran's Q, McNemar."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc

from challenge.statistics.proportions import binomial_pvalue


@dataclass(frozen=True, kw_only=True, slots=True)
class BlockTest:
    """A chi-squared test over blocks.

    Attributes
    ----------
    n_blocks, n_treatments
        Rows and columns.
    statistic, df, pvalue
        Chi-squared, its degrees of freedom, approximate p-value; None where they do not exist.
    reason
        Why not, else None.
    """

    n_blocks: int
    n_treatments: int
    statistic: float | None = None
    df: int | None = None
    pvalue: float | None = None
    reason: str | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class McNemar:
    """A test of paired yes/no answers.

    Attributes
    ----------
    n_discordant
        Pairs that changed.
    statistic, pvalue
        Chi-squared without continuity correction (1 df) and its p-value; None without change.
    pvalue_exact
        Binomial p-value, two-sided; 1 without change.
    reason
        Why a number is None, else None.
    """

    n_discordant: int
    statistic: float | None
    pvalue: float | None
    pvalue_exact: float
    reason: str | None = None


def cochran_q(blocks: ArrayLike) -> BlockTest:
    """Compare shares of yes between treatments in the same blocks (Cochran 1950).

    Parameters
    ----------
    blocks
        Shape (n_blocks, n_treatments) of 0 and 1. Blocks that are all 0 or all 1 say nothing.
    """
    table = _table(blocks)
    n, k = table.shape
    if not np.isin(table, (0, 1)).all():
        raise ValueError("blocks must hold 0 and 1 only")
    yes = table.sum(axis=1)
    spread = float((yes * (k - yes)).sum())
    if k < 2 or spread == 0:
        return BlockTest(n_blocks=n, n_treatments=k, reason="no block in which treatments differ")
    totals = table.sum(axis=0)
    between = float(((totals - totals.mean()) ** 2).sum())
    return _chi_squared(n, k, k * (k - 1) * between / spread)


def mcnemar(only_first: int, only_second: int) -> McNemar:
    """Compare two yes/no answers by the pairs in which they differ (McNemar 1947).

    Parameters
    ----------
    only_first, only_second
        Pairs with yes to the first only, and to the second only.
    """
    changed = only_first + only_second
    exact = binomial_pvalue(only_first, changed)
    if exact is None:
        return McNemar(
            n_discordant=0, statistic=None, pvalue=None, pvalue_exact=1.0, reason="no pair changed"
        )
    statistic = (only_first - only_second) ** 2 / changed
    return McNemar(
        n_discordant=changed,
        statistic=statistic,
        pvalue=float(chdtrc(1, statistic)),
        pvalue_exact=exact,
    )


def _table(blocks: ArrayLike) -> NDArray[np.float64]:
    table = np.asarray(blocks, dtype=np.float64)
    if table.ndim != 2 or not np.isfinite(table).all():
        raise ValueError("blocks must be a table of finite numbers")
    return table


def _chi_squared(n: int, k: int, statistic: float) -> BlockTest:
    pvalue = float(chdtrc(k - 1, statistic))
    return BlockTest(n_blocks=n, n_treatments=k, statistic=statistic, df=k - 1, pvalue=pvalue)
