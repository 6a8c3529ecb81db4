"""How many ways there are to reach a sum: the reference distributions of the exact tests.

Counts are held as floats. They are exact below 2**53 (53 pairs) and carry full relative
precision beyond it, because only positive numbers are added.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

MOST_STEPS = 1000
"""Largest number of steps: 2**1000 still fits in a float."""


def subset_sums(steps: Sequence[int]) -> NDArray[np.float64]:
    """Count the subsets of ``steps`` by their sum.

    Parameters
    ----------
    steps
        Whole numbers of at least 0, at most `MOST_STEPS` of them.

    Returns
    -------
    array
        Shape (sum of steps + 1,); entry s is the number of subsets that add up to s.
    """
    counts = np.zeros(sum(steps) + 1)
    counts[0] = 1.0
    reach = 0
    for step in sorted(steps):
        counts[step : reach + step + 1] += counts[: reach + 1]
        reach += step
    return counts


def subset_sums_of_size(steps: Sequence[int], size: int) -> NDArray[np.float64]:
    """Count the subsets of exactly ``size`` of the ``steps`` by their sum.

    Returns
    -------
    array
        Shape (sum of the ``size`` largest steps + 1,).
    """
    ordered = sorted(steps)
    counts = np.zeros((size + 1, sum(ordered[len(ordered) - size :]) + 1))
    counts[0, 0] = 1.0
    width = counts.shape[1]
    for step in ordered:
        if step < width:
            counts[1:, step:] += counts[:-1, : width - step]
    chosen: NDArray[np.float64] = counts[size]
    return chosen


def all_subset_sums(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the sums of all subsets of ``values``, shape (2**n,), in no particular order."""
    sums = np.zeros(1)
    for value in values:
        sums = np.concatenate([sums, sums + value])
    return sums
