"""Fractions told apart from floating-point noise, so that ties are ties.

Means of a few whole scores are fractions with a small denominator. Written as whole multiples
of a common unit they can be added and compared without error: 0.3 - 0.1 is then 0.2.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

# 60 holds halves to sixths, tenths and twelfths; 27720 every denominator to 12 and their
# products with 7 or 14 days; 360360 adds 13; then decimals to three and six places.
_DENOMINATORS = (60, 1000, 27_720, 360_360, 1_000_000)
_NOISE = 1e-6  # of a unit: over a hundred times the error of a sum of scores, at the finest unit
_LARGEST = 2.0**53  # whole floats are exact below this


def whole_multiples(values: NDArray[np.float64]) -> NDArray[np.int64] | None:
    """Return the smallest whole numbers in the same proportion as ``values``.

    Parameters
    ----------
    values
        Finite numbers, shape (n,).

    Returns
    -------
    array or None
        Whole numbers without a common divisor, shape (n,); None when the values are no fractions
        with a common denominator up to a million that this module knows.

    Examples
    --------
    >>> whole_multiples(np.array([0.5, 1 / 3, -1.0])).tolist()
    [3, 2, -6]
    """
    largest = float(np.abs(values).max(initial=0.0))
    for denominator in _DENOMINATORS:
        if largest * denominator >= _LARGEST:
            continue
        scaled = values * denominator
        whole = np.rint(scaled)
        if np.abs(scaled - whole).max(initial=0.0) <= _NOISE:
            numbers = whole.astype(np.int64)
            divisor = int(np.gcd.reduce(numbers)) if numbers.size else 0
            return numbers // divisor if divisor > 1 else numbers
    return None


def tie_tolerance(values: NDArray[np.float64]) -> float:
    """Return how far apart two sums of ``values`` may lie and still count as tied.

    Used only where there is no common unit; far above rounding error, far below any score.
    """
    return 1e-10 * float(np.abs(values).sum())


def without_noise(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return numbers in the same order as ``values`` in which ties are exact."""
    whole = whole_multiples(values)
    if whole is not None:
        return whole.astype(np.float64)
    unit = tie_tolerance(values)
    return np.rint(values / unit) if unit > 0 else values
