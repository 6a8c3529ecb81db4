"""Why a group stayed unclear, in a few kinds that can be counted over a practice."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

KINDS: Final = {
    "no dose of this challenge": "no dose logged as eaten",
    "can serve as reference": "too few reference days",
    "have enough scores": "challenge days without enough scores",
    "the decisive day": "decisive day disturbed",
    "above their usual level": "washout not settled",
    "explains them better otherwise": "stopped early, yet the diary points elsewhere",
    "is the likeliest answer, but only": "likeliest step was not eaten",
    "no step stands out": "no step stands out",
    "believed before": "answer hangs on what is believed beforehand",
}
"""Words of a reason -> the kind that it is counted as. Data first: a missing dose explains more
than the spread of the probabilities that follows from it."""
OTHER: Final = "other"
_NUMBERS = re.compile(r"[+-]?\d[\d.,:/-]*")


def why_unclear(reasons: Iterable[str]) -> str:
    """Return the kind of the first reason that tells why.

    A reason of no known kind is counted as itself without its numbers and dates; ``other`` when
    there is none.
    """
    sentences = list(reasons)
    told = [reason.casefold() for reason in sentences]
    for words, kind in KINDS.items():
        if any(words in reason for reason in told):
            return kind
    if len(sentences) < 2:
        return OTHER
    # the first sentence is the headline, the second tells why
    return _NUMBERS.sub("...", sentences[1]).rstrip(".").lower()
