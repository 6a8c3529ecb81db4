"""Rising doses: Page's test for a trend.

In an escalating challenge dose and day rise together. A trend may be accumulation, a late effect
of the smaller dose or drift, and the words beside it should say so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from challenge.statistics.grid import without_noise
from challenge.statistics.signed_rank import doubled_ranks

_MOST_DOSES = 8  # 8! = 40 320 orders within a block


@dataclass(frozen=True, kw_only=True, slots=True)
class PageTrend:
    """Page's test for a rise across ordered doses, repeated in blocks (cycles).

    Attributes
    ----------
    n_blocks, n_doses
        Rows and columns.
    statistic
        Page's L: sum over the doses of dose number times rank sum; None without data.
    pvalue
        One-sided for a rise, exact, conditional on the ties within each block.
    min_pvalue
        Smallest p-value that these blocks, with their ties, can reach.
    reason
        Why there is no p-value, else None.
    """

    n_blocks: int
    n_doses: int
    statistic: float | None
    pvalue: float | None
    min_pvalue: float | None
    reason: str | None = None


def page_trend(blocks: ArrayLike) -> PageTrend:
    """Test for a rise across doses that were each given once per block (Page 1963).

    Parameters
    ----------
    blocks
        Shape (n_blocks, n_doses), finite, columns in rising order of dose, at most 8 of them.
    """
    table = np.asarray(blocks, dtype=np.float64)
    if table.ndim != 2 or not np.isfinite(table).all():
        raise ValueError("blocks must be a table of finite numbers")
    n_blocks, n_doses = table.shape
    if n_doses > _MOST_DOSES:
        raise ValueError(f"at most {_MOST_DOSES} doses, not {n_doses}")
    if n_blocks == 0 or n_doses < 2:
        return PageTrend(
            n_blocks=n_blocks,
            n_doses=n_doses,
            statistic=None,
            pvalue=None,
            min_pvalue=None,
            reason="no blocks" if n_blocks == 0 else "a trend needs two doses",
        )

    ranks = [doubled_ranks(without_noise(row)) for row in table]
    doubled = int(sum(row @ np.arange(1, n_doses + 1) for row in ranks))
    chances = np.ones(1)
    for row in ranks:
        chances = np.convolve(chances, _block_chances(row))
    # Entry 0 of each block's chances stands for its lowest possible value.
    offset = sum(_lowest(row) for row in ranks)

    return PageTrend(
        n_blocks=n_blocks,
        n_doses=n_doses,
        statistic=doubled / 2,
        pvalue=min(1.0, float(chances[doubled - offset :].sum())),
        min_pvalue=float(chances[-1]),
    )


def _lowest(ranks: NDArray[np.int64]) -> int:
    return int(np.sort(ranks)[::-1] @ np.arange(1, ranks.size + 1))


def _block_chances(ranks: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the chances of each value of sum(position * rank), from the lowest upwards.

    Built up position by position over the sets of ranks already placed, so that 8! orders cost
    no more than 2**8 sets.
    """
    n = ranks.size
    sums: dict[int, dict[int, int]] = {0: {0: 1}}  # set of ranks placed -> value -> orders
    for position in range(1, n + 1):
        longer: dict[int, dict[int, int]] = {}
        for placed, values in sums.items():
            for i in range(n):
                if placed >> i & 1:
                    continue
                target = longer.setdefault(placed | 1 << i, {})
                step = position * int(ranks[i])
                for value, orders in values.items():
                    target[value + step] = target.get(value + step, 0) + orders
        sums = longer
    orders_by_value = sums[(1 << n) - 1]
    lowest = min(orders_by_value)
    chances = np.zeros(max(orders_by_value) - lowest + 1)
    for value, orders in orders_by_value.items():
        chances[value - lowest] = orders
    chances /= chances.sum()
    return chances
