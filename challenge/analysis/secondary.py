"""Secondary views of one group on the primary symptom: overlap, trend over doses."""

from __future__ import annotations

import numpy as np

from challenge.analysis.pairs import PairedDays
from challenge.analysis.tests import Backdrop
from challenge.statistics.overlap import overlap
from challenge.statistics.trend import page_trend
from challenge.wording import Statement, statement

_BLOCKS = 2


def secondary_views(
    pairs: PairedDays, backdrop: Backdrop, column: int, symptom: str
) -> tuple[Statement, ...]:
    """Return what can be said."""
    found = (_overlap(backdrop, column, symptom), _trend(pairs, column, symptom))
    return tuple(view for view in found if view is not None)


def _overlap(backdrop: Backdrop, column: int, symptom: str) -> Statement | None:
    """Non-overlap of all pairs (Parker and Vannest 2009)."""
    challenge = backdrop.challenge[:, column]
    seen = np.isfinite(challenge)
    if not seen.any():
        return None
    reference = backdrop.reference[int(np.flatnonzero(seen)[0]), :, column]
    reference = reference[np.isfinite(reference)]
    share = overlap(reference, challenge[seen]).nap
    if share is None:
        return None
    return statement("overlap", n=len(reference), symptom=symptom, share=share)


def _trend(pairs: PairedDays, column: int, symptom: str) -> Statement | None:
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
        return None
    page = page_trend(np.array(blocks))
    if page.pvalue is None or page.min_pvalue is None:
        return None
    return statement("trend", symptom=symptom, n=len(blocks), p=page.pvalue, least=page.min_pvalue)
