"""How the client's usual level moves from day to day: told, and nothing decided by it."""

from __future__ import annotations

import numpy as np

from challenge.analysis.evidence import Evidence
from challenge.analysis.result import Drift
from challenge.statistics.serial import serial_slope
from challenge.wording import statement

_WEEK = 7.0  # days
_UNRELIABLE_BELOW = 10


def reference_drift(evidence: Evidence) -> Drift | None:
    """Return slope and serial correlation of the primary symptom over the reference days.

    The slope allows for correlated days and for the gaps between them; a correlation below 0 is
    not believed. Pairs of neighbouring days are the guard against drift, so this is a description:
    choosing a method by it would spoil that method's error rates (Freeman 1989, from memory).
    """
    days = np.array(evidence.references, dtype=int)
    values = evidence.values[days, evidence.primary]
    seen = np.isfinite(values)
    confidence = evidence.settings.analysis.confidence
    t = serial_slope(days[seen].astype(np.float64), values[seen], confidence=confidence)
    if t.estimate is None or t.low is None or t.high is None:
        return None
    slope, low, high = (_WEEK * value for value in (t.estimate, t.low, t.high))
    return Drift(
        n_days=t.n,
        slope=slope,
        low=low,
        high=high,
        confidence=confidence,
        correlation=t.rho,
        words=statement(
            "drift-few" if t.n < _UNRELIABLE_BELOW else "drift",
            symptom=evidence.days.symptoms[evidence.primary],
            n=t.n,
            slope=slope,
            low=low,
            high=high,
            correlation=t.rho,
        ),
    )
