"""How far two sets of days overlap: easy to say in words, blind to the size of a difference."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from challenge.statistics.grid import without_noise
from challenge.statistics.inputs import Values, as_values


@dataclass(frozen=True, kw_only=True, slots=True)
class Overlap:
    """Non-overlap of all pairs of days (Parker and Vannest 2009).

    Attributes
    ----------
    n_reference, n_challenge
        Days.
    nap
        Chance that a challenge day is higher than a reference day, equal days counting half;
        0.5 when nothing differs. None without days on both sides.
    tau
        ``2 nap - 1``.
    reason
        Why there is no number, else None.
    """

    n_reference: int
    n_challenge: int
    nap: float | None
    tau: float | None
    reason: str | None = None


def overlap(reference: Values, challenge: Values) -> Overlap:
    """Compare every challenge day with every reference day (finite day values)."""
    low, high = as_values(reference, "reference"), as_values(challenge, "challenge")
    if low.size == 0 or high.size == 0:
        reason = "no reference days" if low.size == 0 else "no challenge days"
        return Overlap(
            n_reference=low.size, n_challenge=high.size, nap=None, tau=None, reason=reason
        )
    exact = without_noise(np.concatenate([low, high]))
    tau = float(np.sign(exact[low.size :, None] - exact[None, : low.size]).mean())
    return Overlap(n_reference=low.size, n_challenge=high.size, nap=(tau + 1) / 2, tau=tau)
