"""Secondary views of one group on the primary symptom, told in words: overlap, trend over doses."""

from __future__ import annotations

import numpy as np

from challenge.analysis.pairs import PairedDays
from challenge.analysis.tests import Backdrop
from challenge.statistics.overlap import overlap
from challenge.statistics.trend import page_trend

_BLOCKS = 2


def secondary_sentences(
    pairs: PairedDays, backdrop: Backdrop, column: int, symptom: str
) -> tuple[str, ...]:
    """Return the sentences that can be said."""
    found = (_overlap(backdrop, column, symptom), _trend(pairs, column, symptom))
    return tuple(sentence for sentence in found if sentence)


def _overlap(backdrop: Backdrop, column: int, symptom: str) -> str:
    """Non-overlap of all pairs (Parker and Vannest 2009)."""
    challenge = backdrop.challenge[:, column]
    seen = np.isfinite(challenge)
    if not seen.any():
        return ""
    reference = backdrop.reference[int(np.flatnonzero(seen)[0]), :, column]
    reference = reference[np.isfinite(reference)]
    share = overlap(reference, challenge[seen]).nap
    if share is None:
        return ""
    return (
        f"Set against all {len(reference)} reference days, {symptom} was higher after a dose in "
        f"{share:.0%} of the comparisons (equal days counted half; 50 % means no "
        "difference).".replace("%", " %", 1)
    )


def _trend(pairs: PairedDays, column: int, symptom: str) -> str:
    """Page's test over the cycles in which every step has a pair."""
    differences = pairs.challenge[:, column] - pairs.reference[:, column]
    steps = np.unique(pairs.step)
    blocks = []
    for cycle in np.unique(pairs.cycle):
        row = [
            differences[(pairs.cycle == cycle) & (pairs.step == step)].tolist() for step in steps
        ]
        if all(len(days) and np.isfinite(days).all() for days in row):
            blocks.append([float(np.mean(days)) for days in row])
    if len(blocks) < _BLOCKS or len(steps) < 2:
        return ""
    page = page_trend(np.array(blocks))
    if page.pvalue is None or page.min_pvalue is None:
        return ""
    return (
        f"Trend of {symptom} over the doses in {len(blocks)} cycles (Page): p {page.pvalue:.2g}, "
        f"and so many cycles cannot give less than {page.min_pvalue:.2g}; a trend may be "
        "the dose or the days."
    )
