"""Challenge doses as planned and as eaten, and challenges that ended early."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from challenge.analysis.days import DayScores
from challenge.analysis.result import Dose, EarlyStop
from challenge.diary.model import Diary
from challenge.protocol.plan import Plan
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


def early_stops(
    doses: tuple[Dose, ...],
    days: DayScores,
    values: NDArray[np.float64],
    usual: NDArray[np.float64],
    primary: int,
    margin: float,
    whole: Mapping[int, int],
) -> tuple[EarlyStop, ...]:
    """Return the challenges of one group that ended before their last step, with symptoms up.

    A later step that was not eaten counts as a stop for symptoms when, on the last day eaten or on
    the day after, the primary symptom stood at least the margin above its usual level or any other
    symptom at least twice the margin: among several symptoms one is always up a little.

    Parameters
    ----------
    values
        (days, symptoms) day values.
    usual
        (symptoms,) usual levels on reference days [points].
    primary
        Index of the primary symptom.
    whole
        Cycle -> last step of the whole challenge. A plan laid again after a stop no longer holds
        the steps that were left, so a challenge with fewer steps has ended early as well.
    """
    limits = np.full(len(usual), 2.0 * margin)
    limits[primary] = margin
    stops = []
    for cycle in sorted({dose.cycle for dose in doses}):
        mine = [dose for dose in doses if dose.cycle == cycle]
        taken = [dose for dose in mine if dose.eaten_g is not None]
        if not taken or taken[-1].step >= max(whole[cycle], *(dose.step for dose in mine)):
            continue
        last = taken[-1]
        day = days.number(last.date)
        after = values[max(day, 0) : day + 2] - usual
        rise = np.where(np.isfinite(after), after, -np.inf).max(axis=0, initial=-np.inf)
        if (rise >= limits).any():
            worst = int(np.argmax(rise - limits))
            words = statement(
                "ended-early",
                step=last.step,
                day=last.date,
                symptom=days.symptoms[worst],
                rise=float(rise[worst]),
            )
            stops.append(EarlyStop(cycle=cycle, date=last.date, step=last.step, words=words))
    return tuple(stops)


def steps_grams(plan: Plan) -> Mapping[FodmapGroup, Mapping[int, float]]:
    """Return the planned grams of every step of every group challenged."""
    return {group: plan.steps(group) for group in plan.groups()}
