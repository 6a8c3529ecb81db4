"""p-values adjusted for being one of several: Holm, valid under any dependence.

A test that could not be made (None) keeps its place in the family: it is counted as a p-value of
1, so that leaving tests out never makes the others look better. Its adjusted value is None.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

PValues = Sequence[float | None]


def holm(pvalues: PValues) -> tuple[float | None, ...]:
    """Step down from the smallest p-value (Holm 1979).

    Raises
    ------
    ValueError
        If a p-value does not lie between 0 and 1.

    Examples
    --------
    >>> holm([0.01, 0.02, None])
    (0.03, 0.04, None)
    """
    known = np.array([1.0 if p is None else p for p in pvalues], dtype=np.float64)
    if not ((known >= 0) & (known <= 1)).all():
        raise ValueError("p-values must lie between 0 and 1")
    order = np.argsort(known, kind="stable")
    stepped = np.maximum.accumulate(known[order] * np.arange(known.size, 0, -1))
    adjusted = np.empty_like(known)
    adjusted[order] = np.minimum(stepped, 1.0)
    return tuple(
        None if p is None else float(value) for p, value in zip(pvalues, adjusted, strict=True)
    )
