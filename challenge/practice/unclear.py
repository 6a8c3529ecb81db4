"""Why a group stayed unclear, in a few kinds that can be counted over a practice."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from challenge.wording import Statement

KINDS: Final = {
    "not-eaten": "no dose logged as eaten",
    "few-reference-days": "too few reference days",
    "no-room": "symptoms near the top of the scale",
    "few-scores": "challenge days without enough scores",
    "decisive-day-left-out": "decisive day disturbed",
    "unsettled": "washout not settled",
    "stopped": "stopped early, yet the diary points elsewhere",
    "only-up-to": "likeliest step was not eaten",
    "spread": "no step stands out",
    "prior-sensitive": "answer hangs on what is believed beforehand",
}
"""Code of a reason -> the kind that it is counted as. Data first: a missing dose explains more
than the spread of the probabilities that follows from it."""


def kind_of_unclear(why: Sequence[Statement]) -> str | None:
    """Return the kind of the reason that explains most; None for a group that is not unclear.

    A reason of no known kind is counted as its code.
    """
    codes = [reason.code for reason in why]
    known = next((kind for code, kind in KINDS.items() if code in codes), None)
    return known or (codes[0].replace("-", " ") if codes else None)
