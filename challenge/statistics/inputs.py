"""The first step of every function here: check that these are numbers to work with."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Values: TypeAlias = Sequence[float] | NDArray[np.float64]
"""A row of numbers: one per day, pair or cycle."""


def as_values(values: Values, name: str = "values") -> NDArray[np.float64]:
    """Return ``values`` as a one-dimensional array of finite floats.

    Missing values are for the caller to leave out and to count; here they are a mistake.

    Raises
    ------
    ValueError
        If the values are not one-dimensional or not all finite.
    """
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1:
        raise ValueError(f"{name} must be one row of numbers, not {array.ndim}-dimensional")
    if not np.isfinite(array).all():
        raise ValueError(f"{name} must be finite: leave missing values out beforehand")
    return array


def as_confidence(confidence: float) -> float:
    """Return a confidence level that lies between 0 and 1.

    Raises
    ------
    ValueError
        If it does not.
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie between 0 and 1, not {confidence}")
    return float(confidence)


def is_constant(values: NDArray[np.float64]) -> bool:
    """Say whether all values are equal up to floating-point noise (true of 0 or 1 values)."""
    if values.size < 2:
        return True
    spread = float(values.max() - values.min())
    return spread <= 1e-12 * max(1.0, float(np.abs(values).max()))
