"""p-values adjusted for being one of several.

A test that could not be made (None) keeps its place in the family: it is counted as a p-value of
1, so that leaving tests out never makes the others look better. Its adjusted value is None.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

PValues = Sequence[float | None]


def bonferroni(pvalues: PValues) -> tuple[float | None, ...]:
    """Multiply every p-value by the size of the family."""
    return _adjust(pvalues, lambda p, m: p * m)


def holm(pvalues: PValues) -> tuple[float | None, ...]:
    """Step down from the smallest p-value (Holm 1979): valid under any dependence.

    Examples
    --------
    >>> holm([0.01, 0.02, None])
    (0.03, 0.04, None)
    """
    return _adjust(pvalues, lambda p, m: np.maximum.accumulate(p * np.arange(m, 0, -1)))


def hochberg(pvalues: PValues) -> tuple[float | None, ...]:
    """Step up from the largest p-value (Hochberg 1988): needs non-negative dependence."""
    return _adjust(pvalues, lambda p, m: _from_above(p * np.arange(m, 0, -1)))


def benjamini_hochberg(pvalues: PValues) -> tuple[float | None, ...]:
    """Control the false discovery rate (Benjamini, Hochberg 1995): for lists to explore."""
    return _adjust(pvalues, lambda p, m: _from_above(p * m / np.arange(1, m + 1)))


def _from_above(values: NDArray[np.float64]) -> NDArray[np.float64]:
    lowest: NDArray[np.float64] = np.minimum.accumulate(values[::-1])[::-1]
    return lowest


def _adjust(
    pvalues: PValues, rule: Callable[[NDArray[np.float64], int], NDArray[np.float64]]
) -> tuple[float | None, ...]:
    known = np.array([1.0 if p is None else p for p in pvalues], dtype=np.float64)
    if not ((known >= 0) & (known <= 1)).all():
        raise ValueError("p-values must lie between 0 and 1")
    order = np.argsort(known, kind="stable")
    adjusted = np.empty_like(known)
    adjusted[order] = np.minimum(rule(known[order], known.size), 1.0)
    return tuple(
        None if p is None else float(value) for p, value in zip(pvalues, adjusted, strict=True)
    )
