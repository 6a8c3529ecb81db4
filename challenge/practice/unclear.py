"""Why a group stayed unclear, in a few kinds that can be counted over a practice."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

KINDS: Final = {
    "no dose of this challenge": "no dose logged as eaten",
    "can serve as reference": "too few reference days",
    "have enough scores": "challenge days without enough scores",
    "the decisive day": "decisive day disturbed",
    "above their usual level": "washout not settled",
    "explains them better otherwise": "stopped early, yet the diary points elsewhere",
    "no step stands out": "no step stands out",
    "believed before": "answer hangs on what is believed beforehand",
}
"""Words of a reason -> the kind that it is counted as. Data first: a missing dose explains more
than the spread of the probabilities that follows from it."""
OTHER: Final = "other"


def why_unclear(reasons: Iterable[str]) -> str:
    """Return the kind of the first reason that tells why, or ``other``."""
    told = [reason.casefold() for reason in reasons]
    for words, kind in KINDS.items():
        if any(words in reason for reason in told):
            return kind
    return OTHER
