"""Scores by day, slot and symptom, and what each day was in the plan."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from challenge.model.sessions import SLOTS, Sessions
from challenge.protocol.plan import Plan, PlanDay, within_challenge

Floats = NDArray[np.float64]

_USUAL_SLOT_H = (8.0, 13.0, 20.0)


@dataclass(frozen=True, kw_only=True)
class DayScores:
    """The diary as a block of days.

    Attributes
    ----------
    first
        Date of day 0.
    scores
        (days, slots, symptoms) mean score [points], NaN where none was given.
    slot_hours
        (slots,) usual clock time of each slot [h].
    slots_kept
        Slots that this client ever scores in.
    symptoms
        Names, in the order of the last axis.
    plan
        (days) what the plan says of each day, None outside it.
    """

    first: dt.date
    scores: Floats
    slot_hours: Floats
    slots_kept: tuple[int, ...]
    symptoms: tuple[str, ...]
    plan: tuple[PlanDay | None, ...]

    @property
    def n_days(self) -> int:
        """Number of days."""
        return len(self.plan)

    def date(self, day: int) -> dt.date:
        """Return the date of a day number."""
        return self.first + dt.timedelta(days=int(day))

    def number(self, date: dt.date) -> int:
        """Return the day number of a date; it may lie outside the block."""
        return (date - self.first).days

    def phase(self, day: int) -> str:
        """Return what the plan has a day number for; empty outside it."""
        planned = self.plan[day]
        return planned.phase if planned is not None else ""

    def window(self, day: int, dose_hour: float) -> Floats:
        """(slots, symptoms) scores of the 24 h after a clock time on a day.

        Slots that come after that time are taken from the day itself, earlier ones from the next.
        """
        rows = np.full((len(SLOTS), len(self.symptoms)), np.nan)
        for slot in self.slots_kept:
            source = day if self.slot_hours[slot] > dose_hour else day + 1
            if 0 <= source < self.n_days:
                rows[slot] = self.scores[source, slot]
        return rows


def build_day_scores(sessions: Sessions, plan: Plan) -> DayScores:
    """Arrange sessions by day and slot."""
    n_slots, k = len(SLOTS), len(sessions.symptoms)
    cell = sessions.day * n_slots + sessions.slot
    seen = np.isfinite(sessions.scores)
    filled = np.where(seen, sessions.scores, 0.0)
    total = np.zeros((sessions.n_days * n_slots, k))
    count = np.zeros_like(total)
    np.add.at(total, cell, filled)
    np.add.at(count, cell, seen)
    with np.errstate(invalid="ignore"):
        mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    hours = np.array(_USUAL_SLOT_H)
    kept = []
    clock = sessions.hours - 24.0 * sessions.day
    for slot in range(n_slots):
        mine = sessions.slot == slot
        if mine.any():
            hours[slot] = float(np.median(clock[mine]))
            # a slot scored now and then is no slot of this client's day
            if mine.sum() >= 0.2 * len(np.unique(sessions.day)):
                kept.append(slot)
    by_date = {day.date: day for day in plan}
    first = sessions.origin.date()
    return DayScores(
        first=first,
        scores=mean.reshape(sessions.n_days, n_slots, k),
        slot_hours=hours,
        slots_kept=tuple(kept),
        symptoms=sessions.symptoms,
        plan=tuple(by_date.get(first + dt.timedelta(days=i)) for i in range(sessions.n_days)),
    )


def slot_levels(days: DayScores, reference: list[int]) -> Floats:
    """(slots, symptoms) mean score on the reference days, falling back on all days."""
    levels = np.full(days.scores.shape[1:], np.nan)
    for rows in (np.arange(days.n_days), np.array(reference, dtype=int)):
        block = days.scores[rows]
        count = np.isfinite(block).sum(axis=0)
        mean = np.where(count > 0, np.nansum(block, axis=0) / np.maximum(count, 1), levels)
        levels = np.where(count >= (2 if len(rows) < days.n_days else 1), mean, levels)
    return levels


def day_values(days: DayScores, levels: Floats) -> Floats:
    """(days, symptoms) slot-matched day values [points]; NaN with fewer than half of the slots.

    Each score is compared with the usual level of its own slot, so that a day with only evening
    scores is not a worse day for that.
    """
    slots = list(days.slots_kept)
    if not slots:
        return np.full((days.n_days, len(days.symptoms)), np.nan)
    deviation = days.scores[:, slots] - levels[slots]
    given = np.isfinite(deviation).sum(axis=1)
    total = np.nansum(deviation, axis=1)
    grand = np.nanmean(levels[slots], axis=0)
    enough = 2 * given >= len(slots)
    values: Floats = np.where(enough, total / np.maximum(given, 1) + grand, np.nan)
    return values


def window_values(days: DayScores, levels: Floats, dose_hour: float) -> Floats:
    """(days, symptoms) slot-matched values of the 24 h after a clock time, for every day [points].

    Unlike pairs, which need the same slots on both days, each score is compared with the usual
    level of its slot; this allows many reference days at once.
    """
    shifted = np.array(days.scores)
    early = [slot for slot in range(len(SLOTS)) if days.slot_hours[slot] <= dose_hour]
    shifted[:-1, early] = days.scores[1:, early]
    shifted[-1, early] = np.nan
    return day_values(replace(days, scores=shifted), levels)


def completeness(days: DayScores, expected_per_day: int) -> Mapping[str, float]:
    """Share of expected slot scores given, 0 to 1, per phase and as ``all``.

    Rest days lie outside the protocol, and nothing is expected of them, except between the steps
    of one challenge.
    """
    given = np.isfinite(days.scores).any(axis=2).sum(axis=1)
    expected = min(expected_per_day, max(len(days.slots_kept), 1))
    shares: dict[str, list[float]] = {"all": []}
    for day, n in enumerate(given):
        planned = days.plan[day]
        if planned is None or (planned.phase == "rest" and not within_challenge(days.plan, day)):
            continue
        share = min(float(n) / expected, 1.0)
        shares["all"].append(share)
        shares.setdefault(planned.phase, []).append(share)
    return {name: float(np.mean(values)) for name, values in shares.items() if values}
