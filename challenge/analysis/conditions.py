"""Conditions of the data that forbid a suggestion, whatever the model says."""

from __future__ import annotations

import numpy as np

from challenge.analysis.evidence import Evidence
from challenge.analysis.result import Dose

_MIN_REFERENCE_DAYS = 3
_UNSETTLED_MARGINS = 2.0


def obstacles(evidence: Evidence, doses: tuple[Dose, ...]) -> tuple[str, ...]:
    """Return what forbids a suggestion for the group of these doses, in words."""
    found = []
    if len(evidence.references) < _MIN_REFERENCE_DAYS:
        found.append(
            f"only {len(evidence.references)} days can serve as reference; at least "
            f"{_MIN_REFERENCE_DAYS} are needed"
        )
    taken = [dose for dose in doses if dose.eaten_g is not None]
    scored = [d for d in taken if _scored(evidence, d)]
    if taken and 2 * len(scored) < len(taken):
        found.append(f"only {len(scored)} of {len(taken)} challenge days have enough scores")
    top = max(taken, key=lambda dose: (dose.cycle, dose.step), default=None)
    if top is not None and evidence.days.number(top.date) in evidence.excluded:
        reason = evidence.excluded[evidence.days.number(top.date)]
        found.append(f"the decisive day, {top.date}, is left out: {reason}")
    return tuple(found)


def _scored(evidence: Evidence, dose: Dose) -> bool:
    hour = dose.time.hour + dose.time.minute / 60 if dose.time else 8.0
    window = evidence.days.window(evidence.days.number(dose.date), hour)
    return bool(2 * np.isfinite(window).any(axis=1).sum() >= len(evidence.days.slots_kept))


def unsettled(evidence: Evidence, doses: tuple[Dose, ...]) -> tuple[str, ...]:
    """Say whether every challenge began before symptoms were back at their usual level."""
    raised = []
    starts = {c: min(d.date for d in doses if d.cycle == c) for c in {d.cycle for d in doses}}
    for start in starts.values():
        before = evidence.days.number(start) - 1
        if before < 0:
            continue
        rise = float(np.mean(evidence.values[before] - evidence.usual))
        limit = _UNSETTLED_MARGINS * evidence.settings.analysis.margin
        if np.isfinite(rise) and rise >= limit:
            raised.append(
                f"symptoms were {rise:.1f} points above their usual level on the day before the "
                f"challenge began ({evidence.days.date(before)})"
            )
    return tuple(raised) if len(raised) == len(starts) else ()
