"""Exact sign-flip test of paired differences (Fisher 1935, section 21; Pitman 1937).

If challenge and reference values can be swapped within each pair, every pattern of signs of the
differences is as likely as the one observed. The p-value is the share of patterns whose sum is
at least as far from 0. Zeros and ties need no convention: they change neither p nor its floor.
Exact under that exchangeability only; it is no protection against autocorrelation, nor against
differences that all share one reference value.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.statistics.counting import MOST_STEPS, all_subset_sums, subset_sums
from challenge.statistics.grid import tie_tolerance, whole_multiples
from challenge.statistics.inputs import Values, as_values

_MOST_ADDITIONS = 50_000_000  # about 50 ms
_MOST_ENUMERATED = 32  # two halves of 2**16 sums each
N_DRAWS = 99_999
"""Random sign patterns drawn when counting all of them is out of reach."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SignFlip:
    """A sign-flip test.

    Attributes
    ----------
    n, n_nonzero
        Differences given; those that are not 0.
    statistic
        Mean difference, in the units of the differences; None without any.
    pvalue, pvalue_greater, pvalue_less
        Two-sided, for a mean above 0, for a mean below 0; None without any difference.
    min_pvalue
        Smallest two-sided p-value that so many non-zero differences can reach.
    exact
        False when sign patterns were drawn at random.
    reason
        Why there is no p-value, else None.
    """

    n: int
    n_nonzero: int
    statistic: float | None
    pvalue: float | None
    pvalue_greater: float | None
    pvalue_less: float | None
    min_pvalue: float | None
    exact: bool
    reason: str | None = None


def floor_pvalue(n_nonzero: int) -> float:
    """Return the smallest two-sided p-value that ``n_nonzero`` differences can reach."""
    return min(1.0, 2.0 ** (1 - n_nonzero))


def sign_flip(differences: Values, *, seed: int = 0) -> SignFlip:
    """Test whether paired differences centre on 0 by flipping their signs.

    Parameters
    ----------
    differences
        One per pair, shape (n,), finite; positive means that the challenge value is higher.
    seed
        Seed of the random patterns. Used only when there are more than 32 non-zero differences
        that are not small fractions of a whole number (then `N_DRAWS` patterns are drawn and the
        observed one is counted among them, so that p is never 0).

    Examples
    --------
    >>> sign_flip([1, 2, 3]).pvalue
    0.25
    """
    values = as_values(differences, "differences")
    nonzero = values[values != 0]
    if values.size == 0:
        return SignFlip(
            n=0,
            n_nonzero=0,
            statistic=None,
            pvalue=None,
            pvalue_greater=None,
            pvalue_less=None,
            min_pvalue=None,
            exact=True,
            reason="no pairs",
        )

    whole = whole_multiples(nonzero)
    if whole is not None:
        nonzero = whole[whole != 0].astype(np.float64)
    else:
        nonzero = nonzero[np.abs(nonzero) > tie_tolerance(nonzero)]
    tail, exact = _tail(nonzero, on_grid=whole is not None, seed=seed)
    total = float(np.abs(nonzero).sum())
    positive = float(nonzero[nonzero > 0].sum())
    greater, less = tail(positive), tail(total - positive)

    return SignFlip(
        n=values.size,
        n_nonzero=nonzero.size,
        statistic=float(values.mean()),
        pvalue=min(1.0, 2 * min(greater, less)),
        pvalue_greater=greater,
        pvalue_less=less,
        min_pvalue=floor_pvalue(nonzero.size),
        exact=exact,
    )


def _tail(
    nonzero: NDArray[np.float64], *, on_grid: bool, seed: int
) -> tuple[Callable[[float], float], bool]:
    """Return a function for P(sum of a random subset of the sizes >= x), and whether it is exact.

    A sign pattern with positive part S has the sum 2 S - total, so subsets say all; and S has the
    same distribution as total - S, so one tail says both.
    """
    sizes = np.abs(nonzero)
    additions = sizes.size * float(sizes.sum())
    if on_grid and additions <= _MOST_ADDITIONS and sizes.size <= MOST_STEPS:
        return _tail_by_convolution([int(size) for size in sizes]), True
    if sizes.size <= _MOST_ENUMERATED:
        return _tail_by_enumeration(sizes), True
    return _tail_by_drawing(sizes, seed), False


def _tail_by_convolution(sizes: list[int]) -> Callable[[float], float]:
    counts = subset_sums(sizes)
    patterns = 2.0 ** len(sizes)
    return lambda x: float(counts[int(x) :].sum()) / patterns


def _tail_by_enumeration(sizes: NDArray[np.float64]) -> Callable[[float], float]:
    """Count pairs of half-subsets: 2**(n/2) sums on each side instead of 2**n."""
    half = sizes.size // 2
    left, right = all_subset_sums(sizes[:half]), np.sort(all_subset_sums(sizes[half:]))
    tolerance = tie_tolerance(sizes)

    def tail(x: float) -> float:
        too_small = np.searchsorted(right, x - tolerance - left, side="left")
        return float((right.size - too_small).sum()) / 2.0**sizes.size

    return tail


def _tail_by_drawing(sizes: NDArray[np.float64], seed: int) -> Callable[[float], float]:
    rng = np.random.default_rng(seed)
    blocks = np.array_split(np.arange(N_DRAWS), max(1, N_DRAWS * sizes.size // 4_000_000))
    sums = np.concatenate(
        [rng.integers(0, 2, (block.size, sizes.size)) @ sizes for block in blocks]
    )
    tolerance = tie_tolerance(sizes)
    return lambda x: (1 + int((sums >= x - tolerance).sum())) / (1 + N_DRAWS)
