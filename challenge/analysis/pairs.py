"""Challenge days and the reference days they are compared with: an explicit key, fixed in advance.

Rule: the k-th eaten day of a challenge is paired with the k-th reference day counted back from the
first dose eaten of that challenge. Reference days are baseline days and settled washout days (from
the second day after the last dose). Each reference day is used once per group.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.days import DayScores
from challenge.analysis.result import DayLeftOut, Dose
from challenge.wording import Statement, statement

Floats = NDArray[np.float64]

SETTLED_AFTER_DAYS = 2


@dataclass(frozen=True, kw_only=True)
class PairedDays:
    """Pairs of one group.

    Attributes
    ----------
    cycle, step, challenge_day, reference_day
        (n,) what each pair is.
    challenge, reference
        (n, symptoms) means over the slots scored on both days [points]; NaN with too few.
    n_missing
        Challenge days eaten for which no pair could be made.
    left_out
        Days that could not be used, with the reason.
    alike
        Every cycle was planned with the same steps, so that their means can be compared.
    """

    cycle: NDArray[np.int64]
    step: NDArray[np.int64]
    challenge_day: NDArray[np.int64]
    reference_day: NDArray[np.int64]
    challenge: Floats
    reference: Floats
    n_missing: int
    left_out: tuple[DayLeftOut, ...]
    alike: bool = True


def reference_days(
    days: DayScores, dose_days: Collection[int], excluded: Collection[int]
) -> list[int]:
    """Return day numbers that can serve as reference, in order."""
    eaten = np.array(sorted(dose_days), dtype=int)
    chosen = []
    for day, planned in enumerate(days.plan):
        if planned is None or planned.phase not in ("baseline", "washout") or day in excluded:
            continue
        last = eaten[eaten <= day]
        if len(last) and day - last[-1] < SETTLED_AFTER_DAYS:
            continue
        if np.isfinite(days.scores[day]).any():
            chosen.append(day)
    return chosen


def pair_days(
    days: DayScores,
    doses: tuple[Dose, ...],
    references: list[int],
    excluded: dict[int, str],
) -> PairedDays:
    """Pair the eaten challenge days of one group.

    Parameters
    ----------
    references
        Day numbers from `reference_days`.
    excluded
        Days left out, with what disturbed them.
    """
    free = list(references)
    rows, left_out, n_missing = [], [], 0
    for cycle in sorted({dose.cycle for dose in doses}):
        mine = [dose for dose in doses if dose.cycle == cycle]
        # a dose that was missed and laid again later did not begin the challenge
        eaten = [dose for dose in mine if dose.eaten_g is not None] or mine
        start = days.number(min(dose.date for dose in eaten))
        for dose in mine:
            day = days.number(dose.date)
            if dose.eaten_g is None:
                left_out.append(DayLeftOut(date=dose.date, reason=statement("dose-not-eaten")))
                continue
            if day in excluded:
                why = statement("disturbed", event=excluded[day])
                left_out.append(DayLeftOut(date=dose.date, reason=why))
                n_missing += 1
                continue
            found = _first_match(days, dose, day, [r for r in reversed(free) if r < start])
            if found is None:
                n_missing += 1
                left_out.append(DayLeftOut(date=dose.date, reason=_why_unpaired(days, dose, day)))
                continue
            reference, challenge_mean, reference_mean = found
            free.remove(reference)
            rows.append((cycle, dose.step, day, reference, challenge_mean, reference_mean))
    k = len(days.symptoms)
    return PairedDays(
        cycle=np.array([row[0] for row in rows], dtype=np.int64),
        step=np.array([row[1] for row in rows], dtype=np.int64),
        challenge_day=np.array([row[2] for row in rows], dtype=np.int64),
        reference_day=np.array([row[3] for row in rows], dtype=np.int64),
        challenge=np.array([row[4] for row in rows]).reshape(len(rows), k),
        reference=np.array([row[5] for row in rows]).reshape(len(rows), k),
        n_missing=n_missing,
        left_out=tuple(left_out),
        alike=steps_alike((dose.cycle, dose.step) for dose in doses),
    )


def steps_alike(planned: Iterable[tuple[int, int]]) -> bool:
    """Whether every cycle has the same steps, from (cycle, step) of the planned doses."""
    steps: dict[int, set[int]] = {}
    for cycle, step in planned:
        steps.setdefault(cycle, set()).add(step)
    return len({frozenset(of_cycle) for of_cycle in steps.values()}) <= 1


def dose_hour(dose: Dose) -> float:
    """Clock time at which a dose was eaten [h]; 8 when that was not written down."""
    return dose.time.hour + dose.time.minute / 60 if dose.time is not None else 8.0


def _first_match(
    days: DayScores, dose: Dose, day: int, candidates: list[int]
) -> tuple[int, Floats, Floats] | None:
    """Return the nearest earlier reference day that shares at least half of the slots."""
    hour = dose_hour(dose)
    challenge = days.window(day, hour)
    for reference in candidates:
        other = days.window(reference, hour)
        both = np.isfinite(challenge) & np.isfinite(other)
        count = both.sum(axis=0)
        if not (2 * count >= len(days.slots_kept)).any():
            continue
        enough = 2 * count >= len(days.slots_kept)
        divisor = np.maximum(count, 1)
        mine = np.where(enough, np.where(both, challenge, 0.0).sum(axis=0) / divisor, np.nan)
        theirs = np.where(enough, np.where(both, other, 0.0).sum(axis=0) / divisor, np.nan)
        return reference, mine, theirs
    return None


def _why_unpaired(days: DayScores, dose: Dose, day: int) -> Statement:
    given = np.isfinite(days.window(day, dose_hour(dose))).any(axis=1).sum()
    if 2 * given < len(days.slots_kept):
        return statement("few-scores-after")
    return statement("no-reference-left")
