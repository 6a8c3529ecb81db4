"""Challenge doses as planned and as eaten, and challenges that ended early."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.days import DayScores
from challenge.analysis.result import Dose, EarlyStop
from challenge.diary.model import Diary
from challenge.errors import ChallengeError
from challenge.protocol.plan import Plan
from challenge.protocol.progress import EATEN_SHARE
from challenge.terms import FodmapGroup
from challenge.wording import statement


def planned_doses(diary: Diary, plan: Plan) -> dict[FodmapGroup, tuple[Dose, ...]]:
    """Return each group's planned doses with what was eaten of them on that date."""
    foods = diary.foods
    times = foods["time"].to_numpy().astype("datetime64[m]").astype(object)
    groups = foods["fodmap_group"].to_numpy(dtype=object)
    grams = foods["fodmap_g"].to_numpy(dtype=float)
    portions = foods["portion_g"].to_numpy(dtype=float)
    names = foods["food"].to_numpy(dtype=object)
    eaten: dict[tuple[dt.date, str], list[int]] = {}
    for row in np.flatnonzero((groups != "") & (grams > 0)):
        eaten.setdefault((times[row].date(), groups[row]), []).append(int(row))
    doses: dict[FodmapGroup, list[Dose]] = {}
    for day in plan:
        if day.phase != "challenge" or day.fodmap_group is None:
            continue
        rows = eaten.get((day.date, day.fodmap_group), [])
        total = float(grams[rows].sum()) if rows else None
        if total is not None and total < EATEN_SHARE * (day.fodmap_g or 0.0):
            rows, total = [], None  # a sip is no dose; the model sees it all the same
        portion = float(portions[rows].sum()) if rows else None
        doses.setdefault(day.fodmap_group, []).append(
            Dose(
                date=day.date,
                cycle=day.cycle or 1,
                step=day.step or 1,
                food=str(names[rows[0]]) if rows else day.food,
                planned_g=day.fodmap_g,
                eaten_g=total,
                portion_g=portion if portion is not None and np.isfinite(portion) else None,
                time=times[rows[0]] if rows else None,
            )
        )
    return {group: tuple(items) for group, items in doses.items()}


@dataclass(frozen=True, kw_only=True)
class CycleEnd:
    """How one challenge of a group ended.

    Attributes
    ----------
    cycle, date, step
        Which one, and the last day on which a dose was eaten.
    before
        Highest step left behind before that with symptoms not up on its day; 0 if none. Half of it
        at least was eaten, and the day has scores that count.
    planned
        Last step planned.
    known
        At least half of that dose was eaten, and its day has scores that count.
    rise
        Symptom that stood furthest beyond its limit on that day or the day after, with its rise
        [points]; None if none did.
    """

    cycle: int
    date: dt.date
    step: int
    before: int
    planned: int
    known: bool
    rise: tuple[str, float] | None

    @property
    def well(self) -> int:
        """Highest step that gave no reason to stop; 0 if none."""
        return self.step if self.known and self.rise is None else self.before


def cycle_ends(
    doses: tuple[Dose, ...],
    days: DayScores,
    values: NDArray[np.float64],
    usual: NDArray[np.float64],
    primary: int,
    margin: float,
) -> tuple[CycleEnd, ...]:
    """Return how each challenge of one group ended.

    Symptoms count as up when, on the last day eaten or on the day after, the primary symptom stood
    at least the margin above its usual level or any other symptom at least twice the margin: among
    several symptoms one is always up a little.

    Parameters
    ----------
    values
        (days, symptoms) day values.
    usual
        (symptoms,) usual levels on reference days [points].
    primary
        Index of the primary symptom.
    """
    limits = np.full(len(usual), 2.0 * margin)
    limits[primary] = margin
    ends = []
    for cycle in sorted({dose.cycle for dose in doses}):
        mine = [dose for dose in doses if dose.cycle == cycle]
        taken = [dose for dose in mine if dose.eaten_g is not None]
        if not taken:
            continue
        last = taken[-1]
        day = days.number(last.date)
        worst = _worst(values[max(day, 0) : day + 2] - usual, limits)
        left_behind = [
            d for d in taken if d.step < last.step and _well(d, days, values, usual, limits)
        ]
        ends.append(
            CycleEnd(
                cycle=cycle,
                date=last.date,
                step=last.step,
                before=max((d.step for d in left_behind), default=0),
                planned=max(dose.step for dose in mine),
                known=_enough(last) and _seen(last, days, values),
                rise=None if worst is None else (days.symptoms[worst[0]], worst[1]),
            )
        )
    return tuple(ends)


def _worst(rises: NDArray[np.float64], limits: NDArray[np.float64]) -> tuple[int, float] | None:
    """Symptom furthest beyond its limit on any of these (days, symptoms), with its rise."""
    rise = np.where(np.isfinite(rises), rises, -np.inf).max(axis=0, initial=-np.inf)
    worst = int(np.argmax(rise - limits))
    return (worst, float(rise[worst])) if rise[worst] >= limits[worst] else None


def _well(
    dose: Dose,
    days: DayScores,
    values: NDArray[np.float64],
    usual: NDArray[np.float64],
    limits: NDArray[np.float64],
) -> bool:
    if not _enough(dose) or not _seen(dose, days, values):
        return False
    day = days.number(dose.date)
    return _worst(values[day : day + 1] - usual, limits) is None


def _seen(dose: Dose, days: DayScores, values: NDArray[np.float64]) -> bool:
    day = days.number(dose.date)
    return 0 <= day < len(values) and bool(np.isfinite(values[day]).any())


def _enough(dose: Dose) -> bool:
    return dose.eaten_g is not None and dose.eaten_g >= EATEN_SHARE * (dose.planned_g or 0.0)


def early_stops(ends: Sequence[CycleEnd], whole: Mapping[int, int]) -> tuple[EarlyStop, ...]:
    """Return the challenges of one group that ended before their last step, with symptoms up.

    A later step that was not eaten counts as a stop for symptoms.

    Parameters
    ----------
    whole
        Cycle -> last step of the whole challenge. A plan laid again after a stop no longer holds
        the steps that were left, so a challenge with fewer steps has ended early as well.
    """
    return tuple(
        EarlyStop(
            cycle=end.cycle,
            date=end.date,
            step=end.step,
            words=statement(
                "ended-early",
                step=end.step,
                day=end.date,
                symptom=end.rise[0],
                rise=end.rise[1],
            ),
        )
        for end in ends
        if end.rise is not None and end.step < max(whole[end.cycle], end.planned)
    )


def stopped_at(ends: Sequence[CycleEnd], stops: Sequence[EarlyStop]) -> int | None:
    """Lowest step at which symptoms ended a challenge; None if another went as far without."""
    stopped = {stop.cycle for stop in stops}
    well = max((end.well for end in ends if end.cycle not in stopped), default=0)
    return min((stop.step for stop in stops if stop.step > well), default=None)


def steps_grams(plan: Plan) -> dict[FodmapGroup, dict[int, float]]:
    """Return the grams of every step of every group challenged, from step 1 on.

    A plan laid by hand may leave a step out; it lies between its neighbours, so that it can be told
    how likely it is. It was never eaten and is never suggested.
    """
    return {group: _without_gaps(plan.steps(group)) for group in plan.groups()}


def _without_gaps(grams: Mapping[int, float]) -> dict[int, float]:
    known = {0: 0.0} | {step: g for step, g in grams.items() if g > 0}
    steps = range(1, max(grams) + 1)
    if len(known) == 1:
        raise ChallengeError(
            "plan.csv gives no grams (fodmap_g) for any step of a group, so nothing can be said "
            "of its doses. Write them in, or lay the plan with `challenge plan`."
        )
    between = np.interp(list(steps), list(known), list(known.values()))
    return {step: known.get(step, float(g)) for step, g in zip(steps, between, strict=True)}
