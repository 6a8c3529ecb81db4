"""Conditions of the data that forbid a suggestion, whatever the model says."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from challenge.analysis.evidence import Evidence
from challenge.analysis.result import Dose, EarlyStop
from challenge.terms import SCORE_MAX
from challenge.wording import Statement, statement

_MIN_REFERENCE_DAYS = 3
# below this share of scored challenge days the model's word rests on the other days alone; between
# a third and a half it was still right as often as it said (simulated diaries)
_MIN_SCORED_SHARE = 1 / 3
_UNSETTLED_MARGINS = 2.0
_NO_ROOM_ABOVE = SCORE_MAX - 2.0  # points; a reaction to any step would be lost at the ceiling


def obstacles(
    evidence: Evidence,
    doses: tuple[Dose, ...],
    stops: Sequence[EarlyStop] = (),
    stopped_at: int | None = None,
) -> tuple[Statement, ...]:
    """Return what forbids a suggestion for the group of these doses."""
    found = []
    if len(evidence.references) < _MIN_REFERENCE_DAYS:
        found.append(
            statement("few-reference-days", n=len(evidence.references), needed=_MIN_REFERENCE_DAYS)
        )
    usual = evidence.usual[np.isfinite(evidence.usual)]
    if len(usual) and usual.min() > _NO_ROOM_ABOVE:
        found.append(statement("no-room", level=float(usual.min())))
    taken = [dose for dose in doses if dose.eaten_g is not None]
    scored = [d for d in taken if _scored(evidence, d)]
    if len(scored) < _MIN_SCORED_SHARE * len(taken):
        found.append(statement("few-scores", scored=len(scored), n=len(taken)))
    decisive = _decisive(
        evidence, taken, [s for s in stops if stopped_at is not None and s.step >= stopped_at]
    )
    if decisive is not None:
        why = statement("disturbed", event=evidence.excluded[evidence.days.number(decisive)])
        found.append(statement("decisive-day-left-out", day=decisive, why=why))
    return tuple(found)


def _decisive(
    evidence: Evidence, taken: Sequence[Dose], stops: Sequence[EarlyStop]
) -> dt.date | None:
    """The last day of the highest step eaten, if all its days are left out.

    A stop on a day that counts decides by itself.
    """
    highest = max((dose.step for dose in taken), default=None)
    dates = [dose.date for dose in taken if dose.step == highest]
    left_out = [date for date in dates if evidence.days.number(date) in evidence.excluded]
    stopped = any(evidence.days.number(stop.date) not in evidence.excluded for stop in stops)
    return left_out[-1] if left_out and len(left_out) == len(dates) and not stopped else None


def _scored(evidence: Evidence, dose: Dose) -> bool:
    hour = dose.time.hour + dose.time.minute / 60 if dose.time else 8.0
    window = evidence.days.window(evidence.days.number(dose.date), hour)
    return bool(2 * np.isfinite(window).any(axis=1).sum() >= len(evidence.days.slots_kept))


def unsettled(evidence: Evidence, doses: tuple[Dose, ...]) -> tuple[Statement, ...]:
    """Say whether every challenge began before symptoms were back at their usual level."""
    raised = []
    taken = [dose for dose in doses if dose.eaten_g is not None]
    starts = {c: min(d.date for d in taken if d.cycle == c) for c in {d.cycle for d in taken}}
    for start in starts.values():
        before = evidence.days.number(start) - 1
        if before < 0:
            continue
        rise = float(np.mean(evidence.values[before] - evidence.usual))
        limit = _UNSETTLED_MARGINS * evidence.settings.analysis.margin
        if np.isfinite(rise) and rise >= limit:
            raised.append(statement("unsettled", rise=rise, day=evidence.days.date(before)))
    return tuple(raised) if starts and len(raised) == len(starts) else ()
