"""How often each group was tolerated at each step, and whether groups differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from challenge.statistics.blocks import BlockTest, cochran_q, mcnemar
from challenge.statistics.multiplicity import holm
from challenge.statistics.proportions import Proportion, proportion
from challenge.terms import CONTROL, GROUPS_AND_CONTROL

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True, slots=True)
class GroupShares:
    """One group over all clients.

    Attributes
    ----------
    fodmap_group
        The group.
    n, n_unclear
        Clients challenged with it; those among them with an unclear outcome.
    tolerated
        Of each step from 1: share of the clear outcomes that tolerate that step or more.
    reacted
        Share of the clear outcomes with a reaction within the doses tested.
    unclear
        Share of all that are unclear.
    """

    fodmap_group: str
    n: int
    n_unclear: int
    tolerated: tuple[Proportion, ...]
    reacted: Proportion
    unclear: Proportion


@dataclass(frozen=True, kw_only=True, slots=True)
class PairOfGroups:
    """Two groups compared within the clients who have a clear outcome in both.

    Attributes
    ----------
    first, second
        The groups.
    n
        Clients with both.
    only_first, only_second
        Clients who reacted to one of them alone.
    pvalue, pvalue_adjusted
        Exact McNemar test; adjusted by Holm over all pairs.
    """

    first: str
    second: str
    n: int
    only_first: int
    only_second: int
    pvalue: float
    pvalue_adjusted: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Comparison:
    """All groups compared: Cochran's Q over clients with every group clear, then the pairs."""

    groups: tuple[str, ...]
    overall: BlockTest | None
    pairs: tuple[PairOfGroups, ...]


def present(groups: pd.DataFrame) -> list[str]:
    """Return the groups in a table, in the order tables show them, the control last."""
    there = set(groups["fodmap_group"])
    return [group for group in GROUPS_AND_CONTROL if group in there]


def group_name(group: str) -> str:
    """Return a group's name as it is written out."""
    return "GOS" if group == "gos" else group


def shares(groups: pd.DataFrame) -> tuple[GroupShares, ...]:
    """Return the shares of every group.

    Parameters
    ----------
    groups
        ``Population.groups``.
    """
    return tuple(
        _shares(group, groups[groups["fodmap_group"] == group]) for group in present(groups)
    )


def _shares(name: str, rows: pd.DataFrame) -> GroupShares:
    clear = rows[rows["outcome"] != "unclear"]
    n_unclear = len(rows) - len(clear)
    steps = range(1, int(rows["n_steps"].max()) + 1)
    return GroupShares(
        fodmap_group=name,
        n=len(rows),
        n_unclear=n_unclear,
        tolerated=tuple(
            proportion(int((clear["suggested_step"] >= step).sum()), len(clear)) for step in steps
        ),
        reacted=proportion(int((clear["outcome"] == "reacted").sum()), len(clear)),
        unclear=proportion(n_unclear, len(rows)),
    )


def compare(groups: pd.DataFrame) -> Comparison:
    """Compare how often groups are reacted to, within clients; the control is left out."""
    clear = groups[(groups["outcome"] != "unclear") & (groups["fodmap_group"] != CONTROL)]
    names = present(clear)
    table = clear.assign(reacted=(clear["outcome"] == "reacted").astype(float)).pivot_table(
        index="client", columns="fodmap_group", values="reacted"
    )
    whole = table.reindex(columns=names).dropna()
    overall = cochran_q(whole.to_numpy()) if len(whole) > 1 and len(names) > 1 else None
    return Comparison(groups=tuple(names), overall=overall, pairs=_pairs(table, names))


def _pairs(table: pd.DataFrame, names: Sequence[str]) -> tuple[PairOfGroups, ...]:
    counted = []
    for first, second in combinations(names, 2):
        both = table[[first, second]].dropna()
        only_first = int((both[first] > both[second]).sum())
        only_second = int((both[first] < both[second]).sum())
        pvalue = mcnemar(only_first, only_second).pvalue_exact
        counted.append((first, second, len(both), only_first, only_second, pvalue))
    adjusted = holm([entry[-1] for entry in counted])
    return tuple(
        PairOfGroups(
            first=first,
            second=second,
            n=n,
            only_first=only_first,
            only_second=only_second,
            pvalue=pvalue,
            pvalue_adjusted=float(fixed or 0.0),
        )
        for (first, second, n, only_first, only_second, pvalue), fixed in zip(
            counted, adjusted, strict=True
        )
    )
