"""Randomisation test: the assignment really drawn against all that could have been drawn.

Valid because of the draw and of nothing else (Edgington, Onghena, Randomization Tests, 2007):
only for periods assigned at random from a set of admissible assignments that was stored.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from numpy.typing import ArrayLike, NDArray

from challenge.statistics.grid import tie_tolerance
from challenge.statistics.inputs import Values, as_values


@dataclass(frozen=True, kw_only=True, slots=True)
class Randomisation:
    """A randomisation test.

    Attributes
    ----------
    n_periods, n_assignments
        Periods; admissible assignments, the one drawn among them.
    statistic
        Mean of the treated minus mean of the other periods; None without periods.
    pvalue, pvalue_greater
        Two-sided (at least as far from 0); one-sided for treated periods that are higher.
    min_pvalue
        Smallest two-sided p-value that these values could give under any admissible assignment.
    reason
        Why there is no p-value, else None.
    """

    n_periods: int
    n_assignments: int
    statistic: float | None
    pvalue: float | None
    pvalue_greater: float | None
    min_pvalue: float | None
    reason: str | None = None


def block_assignments(n_periods: int, block: int) -> NDArray[np.bool_]:
    """Return every assignment that treats half of the periods of each block, shape (m, n).

    Parameters
    ----------
    n_periods
        Periods, a multiple of ``block``.
    block
        Periods in a block, even.

    Raises
    ------
    ValueError
        If the periods do not fill whole blocks, or a block cannot be halved.
    """
    if block < 2 or block % 2 or n_periods % block:
        raise ValueError(f"{n_periods} periods cannot be halved in blocks of {block}")
    halves = list(combinations(range(block), block // 2))
    rows = [
        [place in half for half in chosen for place in range(block)]
        for chosen in product(halves, repeat=n_periods // block)
    ]
    return np.array(rows, dtype=bool).reshape(len(rows), n_periods)


def randomisation_test(values: Values, assigned: ArrayLike, admissible: ArrayLike) -> Randomisation:
    """Test treated against other periods over the admissible assignments.

    Parameters
    ----------
    values
        One per period, shape (n,), finite.
    assigned
        True where the period was treated, shape (n,).
    admissible
        Every assignment that could have been drawn, each equally likely, shape (m, n); a row may
        come twice if it was twice as likely. ``assigned`` must be one of them.

    Raises
    ------
    ValueError
        If the shapes disagree, the assignment drawn is not admissible, or an assignment treats
        all periods or none.
    """
    periods = as_values(values)
    drawn, possible = np.asarray(assigned, dtype=bool), np.asarray(admissible, dtype=bool)
    n = periods.size
    if n == 0:
        return Randomisation(
            n_periods=0,
            n_assignments=0,
            statistic=None,
            pvalue=None,
            pvalue_greater=None,
            min_pvalue=None,
            reason="no periods",
        )
    if drawn.shape != (n,) or possible.ndim != 2 or possible.shape[1] != n:
        raise ValueError(f"{n} periods, but assignments of shape {drawn.shape}, {possible.shape}")
    same = (possible == drawn).all(axis=1)
    if not same.any():
        raise ValueError("the assignment drawn is not among the admissible ones")
    treated = possible.sum(axis=1)
    if ((treated == 0) | (treated == n)).any():
        raise ValueError("every assignment must treat some periods and leave others")

    sums = possible @ periods
    contrasts = sums / treated - (periods.sum() - sums) / (n - treated)
    observed = float(contrasts[same][0])
    tolerance = tie_tolerance(periods)
    distance = np.abs(contrasts)

    return Randomisation(
        n_periods=n,
        n_assignments=len(possible),
        statistic=observed,
        pvalue=float((distance >= abs(observed) - tolerance).mean()),
        pvalue_greater=float((contrasts >= observed - tolerance).mean()),
        min_pvalue=float((distance >= distance.max() - tolerance).mean()),
    )
