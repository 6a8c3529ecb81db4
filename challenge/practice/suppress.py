"""Small numbers kept out of a report, so that no single client can be made out in it."""

from __future__ import annotations

from dataclasses import replace

from challenge.practice.tolerated import GroupShares
from challenge.statistics.proportions import Proportion


def is_small(count: int, least: int) -> bool:
    """Whether a count is to be hidden: at least one client, but fewer than ``least``."""
    return 0 < count < least


def count_text(count: int, least: int) -> str:
    """Return the count, or that it is too small to show."""
    return f"< {least}" if is_small(count, least) else str(count)


def share_text(share: Proportion, least: int) -> str:
    """Return ``12 of 40 (30 %, 18 to 45 %)``, or that it is hidden or unknown.

    A share is hidden when those with the property or those without it are few: either count would
    give the other away.
    """
    if share.estimate is None or share.low is None or share.high is None:
        return "no clients"
    if is_hidden(share, least):
        return f"hidden (fewer than {least} clients)"
    return (
        f"{share.count} of {share.n} ({100 * share.estimate:.0f}\N{NO-BREAK SPACE}%, "
        f"{100 * share.low:.0f} to {100 * share.high:.0f}\N{NO-BREAK SPACE}%)"
    )


def is_hidden(share: Proportion, least: int) -> bool:
    """Whether a share would give away a small number."""
    return is_small(share.count, least) or is_small(share.n - share.count, least)


def without_small(shares: tuple[GroupShares, ...], least: int) -> tuple[GroupShares, ...]:
    """Return shares for a figure, with those left out that would give away a small number."""
    return tuple(
        replace(
            group,
            tolerated=tuple(_blank(share, least) for share in group.tolerated),
            reacted=_blank(group.reacted, least),
        )
        for group in shares
    )


def _blank(share: Proportion, least: int) -> Proportion:
    if not is_hidden(share, least):
        return share
    return replace(share, estimate=None, low=None, high=None, reason="small number")
