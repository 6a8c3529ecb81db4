"""How much a series resembles itself one step later."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from challenge.statistics.inputs import Values, as_values, is_constant


def lag1(series: Values) -> float | None:
    """Return the lag-1 autocorrelation r(1), with one overall mean and the full sum of squares.

    Parameters
    ----------
    series
        Values in order of time, equally spaced, shape (n,), finite. Below about 10 values the
        result is unreliable; say so beside it.

    Returns
    -------
    float or None
        None for fewer than 2 values or values that are all equal.

    Notes
    -----
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.12. This is not the correlation
    of the series with its shifted self, which divides by other sums of squares.
    """
    values = as_values(series, "series")
    return None if is_constant(values) else _lag1(values - values.mean())


def small_sample_lag1(series: Values) -> float | None:
    """Return r + (1 - r**2) / (n - 1): r(1) corrected for its bias in short series (Fuller).

    None where r(1) is None. Source: Tang and Landes, PLOS ONE 2020;15(2):e0228077.
    """
    r = lag1(series)
    return None if r is None else r + (1 - r * r) / (len(series) - 1)


def _lag1(deviations: NDArray[np.float64]) -> float:
    return float(deviations[1:] @ deviations[:-1]) / float(deviations @ deviations)
