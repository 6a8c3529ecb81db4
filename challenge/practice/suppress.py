"""Small numbers kept out of a report, so that no single client can be made out in it.

A count from 1 to ``least`` - 1 is hidden, and so is what would give it away by subtraction within
the same table. Tables of other reports, or knowledge of the clients, can still uncover something.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from challenge.practice.tolerated import GroupShares
from challenge.statistics.proportions import Proportion

OTHER = "other"
HIDDEN = "hidden"


def is_small(count: int, least: int) -> bool:
    """Whether a count is to be hidden: at least one client, but fewer than ``least``."""
    return 0 < count < least


def count_text(count: int, least: int) -> str:
    """Return the count, or that it is too small to show."""
    return f"< {least}" if is_small(count, least) else str(count)


def share_text(share: Proportion, least: int) -> str:
    """Return ``12 of 40 (30 %, 18 to 45 %)``, or that it is hidden or that there is nobody.

    A share is hidden when those with the property or those without it are few: either count would
    give the other away.
    """
    if share.n and (share.estimate is None or is_hidden(share, least)):
        return HIDDEN
    if share.estimate is None or share.low is None or share.high is None:
        return "no clients"
    return (
        f"{share.count} of {share.n} ({100 * share.estimate:.0f}\N{NO-BREAK SPACE}%, "
        f"{100 * share.low:.0f} to {100 * share.high:.0f}\N{NO-BREAK SPACE}%)"
    )


def is_hidden(share: Proportion, least: int) -> bool:
    """Whether a share would give away a small number."""
    return is_small(share.count, least) or is_small(share.n - share.count, least)


def without_small(shares: Sequence[GroupShares], least: int) -> tuple[GroupShares, ...]:
    """Return shares without those that would give away a small number.

    Steps of a group are cumulative, so the difference of two that are shown is a count as well;
    the later one is hidden when that is small. With reactions it is the same, for who neither
    reacted nor tolerates the top step did not eat it. Reactions go first: they are what is laid
    beside published work.
    """
    return tuple(_group_without_small(group, least) for group in shares)


def _group_without_small(group: GroupShares, least: int) -> GroupShares:
    reacted = _blank(group.reacted) if is_hidden(group.reacted, least) else group.reacted
    kept: list[Proportion] = []
    shown = [] if reacted.estimate is None else [reacted.n - reacted.count]
    for share in group.tolerated:
        hide = is_hidden(share, least) or any(is_small(abs(n - share.count), least) for n in shown)
        kept.append(_blank(share) if hide else share)
        shown += [] if hide else [share.count]
    return replace(
        group,
        tolerated=tuple(kept),
        reacted=reacted,
        unclear=_blank(group.unclear) if is_hidden(group.unclear, least) else group.unclear,
    )


def _blank(share: Proportion) -> Proportion:
    return replace(share, estimate=None, low=None, high=None, reason="small number")


def pooled(counts: Sequence[tuple[str, int]], least: int) -> tuple[tuple[str, int], ...]:
    """Put small counts together with each other, and if need be with the next larger ones.

    A single hidden count could be had from the total; so what is left under ``other`` is at least
    ``least``, unless everything together is less.
    """
    ordered = sorted(counts, key=lambda item: -item[1])
    rest = 0
    while ordered and (is_small(ordered[-1][1], least) or is_small(rest, least)):
        rest += ordered.pop()[1]
    return (*ordered, *([(OTHER, rest)] if rest else []))


def bins_without_small(values: Sequence[float], least: int) -> int:
    """Return into how many equal parts shares from 0 to 1 can be counted; 0 if not even into one.

    The finest of 20, 10, 5, 4, 2 and 1 parts in which no count is small.
    """
    for parts in (20, 10, 5, 4, 2, 1):
        counts = [0] * parts
        for value in values:
            counts[min(int(value * parts), parts - 1)] += 1
        if not any(is_small(count, least) for count in counts):
            return parts
    return 0
